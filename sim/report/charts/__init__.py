"""Charts: the data they draw, and the figures."""
