"""A job simulated, and its results."""
