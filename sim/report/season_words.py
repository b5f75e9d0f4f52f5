"""What the season changes, in a sentence for each appliance: for the page and the terminal."""

from __future__ import annotations

from sim.ledger.audit import Change
from sim.units import LITRES_PER_GALLON, celsius_to_fahrenheit

_CAUSES = {
    "night": "{:.1f} instead of {:.1f} hours a day without sun",
    "aboard": "people aboard {:.1f} instead of {:.1f} hours a day",
    "plug": "{:.1f} instead of {:.1f} hours a day on the plug",
    "road": "{:.1f} instead of {:.1f} hours a day on the road",
    "water": "{:.0f} instead of {:.0f} litres of water a day",
    "meals": "{:.1f} instead of {:.1f} meals a day",
    "ac": "AC appliances take {:,.0f} instead of {:,.0f} Wh",
}


def change_words(change: Change, units: str) -> str:
    """``Roof fan: 382 Wh a day more; inside 24 °C instead of 17 °C on average.``"""
    moved = change.warm_wh - change.cold_wh
    told = f"{change.name}: {abs(moved):,.0f} Wh {'more' if moved > 0.0 else 'less'}"
    cold, warm = change.cold_value, change.warm_value
    if change.cause is None or cold is None or warm is None:
        return told
    if change.cause in ("outside", "inside"):
        return f"{told} ({_warmth(warm, units)} instead of {_warmth(cold, units)} {change.cause})"
    if change.cause == "water" and units == "us":
        cold, warm = cold / LITRES_PER_GALLON, warm / LITRES_PER_GALLON
        return f"{told} ({warm:.1f} instead of {cold:.1f} gallons of water a day)"
    return f"{told} ({_CAUSES[change.cause].format(warm, cold)})"


def _warmth(celsius: float, units: str) -> str:
    return f"{celsius_to_fahrenheit(celsius):.0f} °F" if units == "us" else f"{celsius:.0f} °C"
