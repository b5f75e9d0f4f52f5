"""Weather files: read, mended, laid under a trip."""
