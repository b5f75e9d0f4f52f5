"""The built-in climate: tables, and weather drawn from them by day and hour."""
