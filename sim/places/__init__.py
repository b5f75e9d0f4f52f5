"""Places: names, coordinates, altitudes and time zones, offline."""
