"""Results as JSON and CSV, and how files are written."""
