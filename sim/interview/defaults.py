"""Examples that the interview offers: places near the customer, and dates ahead of today.

They are there to be changed (common practice, no source).
"""

from __future__ import annotations

import datetime as dt
from functools import lru_cache

from sim.places.lookup import Place, distance_km, find_place
from sim.places.roads import estimated_drive

HOMES = {"us": "Flagstaff, Arizona", "metric": "Innsbruck, Austria"}
# Places that people drive to, all over the world.
_DESTINATIONS = (
    "Moab, Utah", "Taos, New Mexico", "Bishop, California", "Bend, Oregon",
    "Asheville, North Carolina", "Duluth, Minnesota",
    "Burlington, Vermont", "Fredericksburg, Texas", "Jasper, Alberta", "Gaspé, Quebec",
    "San Cristóbal de las Casas, Mexico", "San Carlos de Bariloche, Argentina", "Pucón, Chile",
    "Bled, Slovenia", "Chamonix-Mont-Blanc, France", "Lillehammer, Norway", "Kiruna, Sweden",
    "Fort William, Scotland", "Killarney, Ireland", "Granada, Spain", "Évora, Portugal",
    "Zakopane, Poland", "Akureyri, Iceland", "Ouarzazate, Morocco", "Göreme, Turkey",
    "Clarens, South Africa", "Swakopmund, Namibia", "Nagano, Japan", "Queenstown, New Zealand",
    "Taupo, New Zealand", "Jindabyne, New South Wales", "Alice Springs, Northern Territory",
    "Margaret River, Western Australia",
)  # fmt: skip
# An example is far enough to be a trip and near enough to be driven to.
_NEAREST_KM, _FARTHEST_KM, _MOST_HOURS = 60.0, 800.0, 12.0
_CURRENCIES = {
    "AU": "AUD", "CA": "CAD", "CH": "CHF", "CZ": "CZK", "DK": "DKK", "GB": "GBP", "IS": "ISK",
    "JP": "JPY", "MX": "MXN", "NO": "NOK", "NZ": "NZD", "PL": "PLN", "SE": "SEK", "US": "USD",
    "ZA": "ZAR",
}  # fmt: skip
_WEEKEND_DAY = 5  # Saturday
# A trip is planned some weeks ahead.
_AHEAD_DAYS = 14


def units_of(country: str) -> str:
    """The units that a country thinks in."""
    return "us" if country == "US" else "metric"


def currency_of(home: Place, units: str) -> str:
    """The currency of a customer's home; of coordinates by the units."""
    if not home.country:
        return "USD" if units == "us" else "EUR"
    return _CURRENCIES.get(home.country, "EUR")


def departure(home: Place, number: int, today: dt.date) -> dt.date:
    """When the trip of that number might leave: the first in winter, the second in summer."""
    north = home.latitude >= 0.0
    month = 1 if (number % 2 == 1) == north else 7
    for year in (today.year, today.year + 1):
        first = dt.date(year, month, 8)
        day = first + dt.timedelta(days=(_WEEKEND_DAY - first.weekday()) % 7)
        if day >= today + dt.timedelta(days=_AHEAD_DAYS):
            return day
    raise AssertionError("next year's date is ahead of today")


@lru_cache(maxsize=64)
def destination(home: Place, number: int) -> Place:
    """An example for the trip of that number: the nearest that can be driven to, then the next."""
    near = [(distance_km(home, place), place) for place in _destinations()]
    within = sorted(
        (x for x in near if _NEAREST_KM <= x[0] <= _FARTHEST_KM), key=lambda found: found[0]
    )
    found = []
    for _, place in within:
        drive = estimated_drive(home, place)
        if drive is not None and drive.hours <= _MOST_HOURS:
            found.append(place)
        if len(found) == number:
            break
    return found[-1] if found else home


@lru_cache(maxsize=1)
def _destinations() -> tuple[Place, ...]:
    return tuple(find_place(text) for text in _DESTINATIONS)
