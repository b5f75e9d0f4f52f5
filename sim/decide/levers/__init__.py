"""Levers: one change at a time, and what each does to every trip."""
