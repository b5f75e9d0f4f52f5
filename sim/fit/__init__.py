"""A log against the promise: what the build brings, and what it was said to bring."""
