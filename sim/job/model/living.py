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

    use: str | None = None
    people: Annotated[int, Field(ge=1, le=12)]
    wake_at: Clock = "07:00"  # type: ignore[assignment]
    sleep_at: Clock = "22:30"  # type: ignore[assignment]
    # Parts of the day in which nobody is in the parked van.
    out: Windows = ()
    # Parts of the day in which meals are cooked; each is one meal.
    meals_at: Windows = ("07:30-08:00", "18:30-19:15")  # type: ignore[assignment]
    # Water from the taps for each person aboard, drinking and dishes at the one, washing at
    # the other, and the part of it that is drawn hot.
    kitchen_l_person_day: Litres = 6.0
    # What of it is drunk or cooked away, and runs down no drain. Sphere Handbook 2018, table of
    # basic survival water needs: 2.5 to 3 litres a day for drinking and food (from memory, sure).
    drunk_l_person_day: Litres = 2.5
    basin_l_person_day: Litres = 3.0
    hot_pct: Percent = 40.0
    # Showers of each person; those outside run onto the ground.
    showers_person_week: Annotated[float, Field(ge=0, le=21)] = 3.0
    shower_l: Annotated[float, Field(ge=0, le=150)] = 12.0
    shower_c: Annotated[float, Field(ge=25, le=48)] = 40.0
    shower_at: Annotated[tuple[Window, ...], Field(min_length=1, max_length=12)] = (
        "17:30-18:30",  # type: ignore[assignment]
    )
    shower_place: Literal["inside", "outside"] = "inside"
    # Snow on the panels is swept off when people get up, or lies until it melts.
    clear_snow: Literal["never", "each morning"] = "never"
    # What each person's small devices take from the chargers that name no energy of their own.
    devices_wh_person_day: Annotated[float, Field(ge=0, le=3000)] = 60.0
