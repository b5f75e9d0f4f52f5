"""Conversions and constants, each with its unit and source on the line."""

from __future__ import annotations

METRES_PER_FOOT = 0.3048  # m, definition (international foot)
METRES_PER_INCH = 0.0254  # m, definition
KG_PER_POUND = 0.45359237  # kg, definition
LITRES_PER_GALLON = 3.785411784  # L, definition (US liquid gallon)
WATTS_PER_BTU_H = 0.29307107  # W, definition (International Table Btu)
KM_PER_MILE = 1.609344  # km, definition
EARTH_RADIUS_KM = 6371.0088  # km, mean radius, IUGG


def fahrenheit_to_celsius(value: float) -> float:
    """deg F to deg C, exact by definition."""
    return (value - 32.0) / 1.8


def celsius_to_fahrenheit(value: float) -> float:
    """deg C to deg F, exact by definition."""
    return value * 1.8 + 32.0
