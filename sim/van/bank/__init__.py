"""The battery: lanes, steps, charging, cells, wear."""
