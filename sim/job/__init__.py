"""The customer's job: file, profiles, places, and the timeline of a trip."""
