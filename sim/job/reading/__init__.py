"""From a job file's text to a job, or to every fault with its line."""
