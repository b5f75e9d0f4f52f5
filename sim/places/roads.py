"""How long the drive between two places takes, by their names alone.

No road map comes with the program. A road is longer than the straight line, the more so over
hills and round bays; the speed grows with the length of the drive, since more of it is on the
highway, and is lower where there are few motorways. Fitted on 76 published drives all over the
world (``tests/outside/test_drives.py``), by car: with continents left out of the fit the length
is 11 % off (rms) and the time 16 %; nine of ten times are within 30 %.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from sim.arrays import Floats
from sim.places import gazetteer
from sim.places.altitude import altitude_m
from sim.places.lookup import Place, along, distance_km
from sim.places.sea import at_sea, joined_by_land

# Two points nearer than this are one place: no drive.
SAME_PLACE_KM = 2.0
# Road over straight line: flat land, each metre of climb or fall in a kilometre of the straight
# way as the coarse map has it, and a way all over the sea, which a road goes round.
FLAT, PER_RELIEF, PER_SEA = 1.08, 0.0165, 0.39
MOST_RELIEF_M_KM = 20.0
# Mean speed of 100 km in a straight line, how it grows, and up to where.
FAST_KM_H, SLOW_KM_H = 78.0, 64.0
GROWTH, GROWS_TO_KM = 0.2, 300.0
# Sampled about as finely as the map is.
_SAMPLE_KM = 9.0
# A way with more sea than this may have no road at all.
_SEA_ASKED_KM = 9.0

# No road is as long.
_FARTHEST_KM = 10_000.0

# Countries with a network of motorways or of long empty highways: those that were tried, and
# others by likeness (common practice, no source).
_TRIED = "US CA DE FR ES PT AT CH IT SE GB IE GR ZA NA AU AR CL"
_ALIKE = (
    "AD AE BE BH BY CZ DK EE FI HR HU IL JP KR KW LI LT LU LV MC MX NL OM PL QA RS SA SI SK SM TR "
    "TW UY VA"
)
FAST_COUNTRIES = frozenset(f"{_TRIED} {_ALIKE}".split())


@dataclass(frozen=True)
class Drive:
    """An estimated drive.

    Attributes
    ----------
    line_km, road_km : float
        In a straight line, and by road as estimated. [km]
    hours : float
        Without pauses, to a quarter of an hour.
    """

    line_km: float
    road_km: float
    hours: float


@lru_cache(maxsize=4096)
def estimated_drive(start: Place, end: Place) -> Drive | None:
    """The drive from one place to another, None where no land joins them."""
    line_km = distance_km(start, end)
    if line_km < SAME_PLACE_KM:
        return Drive(line_km, line_km, 0.0)
    if line_km > _FARTHEST_KM:
        return None
    samples = max(round(line_km / _SAMPLE_KM) + 1, 2)
    latitude, longitude = along(start, end, np.linspace(0.0, 1.0, samples))
    sea_share = float(at_sea(latitude, longitude).mean())
    if sea_share * line_km > _SEA_ASKED_KM and not joined_by_land(latitude, longitude):
        return None
    climbs_m_km = relief_m_km(altitude_m(latitude, longitude), line_km)
    length = road_km(line_km, climbs_m_km, sea_share)
    fast = all(_country(place) in FAST_COUNTRIES for place in (start, end))
    hours = length / speed_km_h(line_km, fast=fast)
    return Drive(line_km, length, max(round(4.0 * hours) / 4.0, 0.25))


def _country(place: Place) -> str:
    """Code of a place's country; of coordinates that of the nearest town."""
    if place.country:
        return place.country
    table = gazetteer.table()
    row, _ = table.nearest_town(place.latitude, place.longitude)
    return table.country_of(row)


def relief_m_km(height_m: Floats, line_km: float) -> float:
    """Climbs and falls along a way, over its length. [m/km]

    Parameters
    ----------
    height_m : ndarray, shape (N,)
        Of the ground, evenly spaced along the way. [m]
    line_km : float
    """
    return float(np.abs(np.diff(height_m)).sum() / line_km)


def road_km(line_km: float, relief_m_km: float, sea_share: float) -> float:
    """Length of the road between two points. [km]

    Parameters
    ----------
    line_km : float
        In a straight line.
    relief_m_km : float
        See `relief_m_km`.
    sea_share : float
        Share of the straight line that lies in the sea, 0 to 1.
    """
    factor = FLAT + PER_RELIEF * min(relief_m_km, MOST_RELIEF_M_KM) + PER_SEA * sea_share
    return line_km * factor


def speed_km_h(line_km: float, *, fast: bool) -> float:
    """Mean speed of a drive without pauses. [km/h]

    Parameters
    ----------
    line_km : float
        In a straight line.
    fast : bool
        Whether it lies in one of `FAST_COUNTRIES`.
    """
    at_100_km = FAST_KM_H if fast else SLOW_KM_H
    return float(at_100_km * (min(line_km, GROWS_TO_KM) / 100.0) ** GROWTH)
