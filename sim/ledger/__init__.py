"""A trip simulated, and its results."""
