"""What an appliance takes on a plain day, for the shelf: the code of a trip, an even temperature.

The day: two people aboard a medium van, 20 deg C outside unless said, no sun on the skin, an
hour's driving in the morning, the plug for the rest of it, equal day and night. A cold box goes
by the air around it, since a van that people live in is not as cold as the night outside.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np

from sim.job import shelf
from sim.job.model.appliances import appliance_of
from sim.job.model.changes import with_values
from sim.job.model.job import Job
from sim.places.lookup import Place
from sim.sky import sun as sky
from sim.sky.track import Track, Weather
from sim.trip.demand import demand
from sim.trip.kinds.table import kind_of
from sim.trip.timeline import build_timeline

AMBIENTS_C = (-10.0, 0.0, 10.0, 20.0, 30.0, 40.0)
TYPICAL_C = 20.0
# On the equator's meridian at an equinox the clock is the sun's, and the day twelve hours.
_PLACE = Place("a plain place", "", "", 0.0, 0.0, "UTC")
_DATE = dt.date(2027, 3, 20)
_HOURS_FROM_MIDNIGHT = slice(24, 48)


@dataclass(frozen=True)
class DayUse:
    """What one unit takes in a day.

    Attributes
    ----------
    electric_wh : float
        At the appliance. [Wh]
    fuel_wh : float
        Heat of the fuel it burns. [Wh]
    """

    electric_wh: float
    fuel_wh: float


def day_use(values: dict[str, Any], outside_c: float = TYPICAL_C) -> DayUse:
    """What one appliance takes on the plain day.

    Parameters
    ----------
    values : dict
        Its keys, as on the shelf.
    outside_c : float
        Around a cold box, outside the van for anything else. [deg C]
    """
    item = appliance_of(values)
    at_cabin_c = kind_of(item).at_cabin_c
    if at_cabin_c is not None:
        return DayUse(24.0 * float(at_cabin_c(item, np.array([outside_c]))[0]), 0.0)
    job = with_values(_frame(), {"appliances": (item,)})
    timeline = build_timeline(job, job.trips[0])
    shape = (len(timeline), 1)
    track = Track(
        timeline.start_utc,
        timeline.step_minutes,
        timeline.latitude,
        timeline.longitude,
        np.zeros(len(timeline)),
    )
    dark = np.zeros(shape)
    weather = Weather(dark, dark, dark, np.full(shape, outside_c))
    wants = demand(job, timeline, weather, sky.position(track))
    day = _HOURS_FROM_MIDNIGHT
    electric = wants.lines[0].watts[day].sum() * timeline.step_hours
    fuel = sum(burn.watts[day].sum() * timeline.step_hours for burn in wants.burns)
    return DayUse(float(electric), float(fuel))


def over_ambient(values: dict[str, Any]) -> tuple[DayUse, ...]:
    """The same at each of `AMBIENTS_C` outside."""
    return tuple(day_use(values, outside_c) for outside_c in AMBIENTS_C)


@cache
def _frame() -> Job:
    """The plain day without its appliance: all that any of them may need."""
    raw = {
        "title": "A plain day",
        "van": shelf.profile("vans", "medium-roof").values,
        "living": {"people": 2},
        "battery": shelf.profile("batteries", "lifepo4-200").values,
        "alternator": {"dcdc_amps": 30.0},
        "shore": {"charger_amps": 30.0, "inlet_volts": 120.0, "inlet_amps": 30.0},
        "inverter": {"watts": 3000.0, "idle_watts": 10.0},
        "water": {"fresh_l": 100.0, "open_drains": ("kitchen", "basin", "shower")},
        "propane": {"tank_l": 20.0},
        "trips": (
            {
                "name": "Day",
                "depart": _DATE,
                "leave_at": "00:00",
                "stops": (
                    {
                        "place": _PLACE,
                        "nights": 3,
                        "plug_in": "always",
                        "local_drive_hours": 1.0,
                        "leave_at": "09:00",
                    },
                ),
            },
        ),
    }
    return Job.model_validate(raw)
