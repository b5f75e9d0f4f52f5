"""One trip of a job as arrays: timeline, weather, loads, sources, stores."""
