"""Panels, chargers, cabin, appliances and battery: numbers and arrays, never a job."""
