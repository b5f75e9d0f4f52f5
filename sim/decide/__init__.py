"""Decisions: what to build, what to change, and whether a design is within its limits."""
