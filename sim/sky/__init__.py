"""Sun and weather: arrays and places in, arrays out. Knows nothing of a job."""
