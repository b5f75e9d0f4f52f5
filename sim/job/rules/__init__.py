"""Rules that hold between the sections of a job."""
