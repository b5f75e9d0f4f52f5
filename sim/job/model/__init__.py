"""The sections of a job file: frozen, validated, SI inside."""
