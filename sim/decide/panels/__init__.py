"""Panels: how many, and how many the roof holds."""
