"""The first talk with a customer, from questions to a job file."""
