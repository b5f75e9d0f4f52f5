"""Who lives in the van, and how: parts of the job.

What people use is a habit (common practice, no source): a way of living of the shelf sets it,
and the job overrides any of it.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from sim.job.model.fields import Clock, JobSection, Percent, Window

Priority = Literal["essential", "comfort", "extra"]
PRIORITIES: tuple[Priority, ...] = ("essential", "comfort", "extra")
Windows = Annotated[tuple[Window, ...], Field(max_length=48)]
Litres = Annotated[float, Field(ge=0, le=200)]


class Living(JobSection):
    """Who is aboard, when, and what they use."""

    # A profile of the shelf; keys beside it override what it says.
    use: str | None = None
    # How many are aboard.
    people: Annotated[int, Field(ge=1, le=12)]
    # When they get up, local time.
    wake_at: Clock = "07:00"  # type: ignore[assignment]
    # When they go to sleep, local time.
    sleep_at: Clock = "22:30"  # type: ignore[assignment]
    # Parts of the day in which nobody is in the parked van.
    out: Windows = ()
    # Parts of the day in which meals are cooked; each is one meal.
    meals_at: Windows = ("07:30-08:00", "18:30-19:15")  # type: ignore[assignment]
    # Water from the kitchen's tap for each person aboard: drinking, cooking, dishes.
    kitchen_l_person_day: Litres = 6.0
    # How much of it is drunk or cooked away and goes down no drain. Sphere Handbook 2018, table of
    # basic survival water needs: 2.5 to 3 litres a day for drinking and food (from memory, sure).
    drunk_l_person_day: Litres = 2.5
    # Water from the basin's tap for each person aboard: washing.
    basin_l_person_day: Litres = 3.0
    # Part of the water from both taps that is drawn hot.
    hot_pct: Percent = 40.0
    # Showers of each person; those outside run onto the ground.
    showers_person_week: Annotated[float, Field(ge=0, le=21)] = 3.0
    # Water of one shower.
    shower_l: Annotated[float, Field(ge=0, le=150)] = 12.0
    # How warm a shower is.
    shower_c: Annotated[float, Field(ge=25, le=48)] = 40.0
    # Parts of the day in which people shower.
    shower_at: Annotated[tuple[Window, ...], Field(min_length=1, max_length=12)] = (
        "17:30-18:30",  # type: ignore[assignment]
    )
    # Showers inside run down the shower's drain.
    shower_place: Literal["inside", "outside"] = "inside"
    # Snow on the panels is swept off when people get up, or lies until it melts.
    clear_snow: Literal["never", "each morning"] = "never"
    # What each person's small devices take from the chargers that name no energy of their own.
    devices_wh_person_day: Annotated[float, Field(ge=0, le=3000)] = 60.0
