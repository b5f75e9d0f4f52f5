"""Try it yourself: the what-if grid in a page, with the words its script needs.

The page holds every corner of the grid and what is said of it; its script only looks up and
shows. The words come from where the first screen's come from, so that the job's own corner says
here what it says there.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np

from sim.decide.panels.roof import counted_group, roof_fit
from sim.decide.what_if import Grid, Says, packed
from sim.job.model.job import Job, Trip
from sim.ledger.answer import Answer, answer_of
from sim.ledger.outcome import TripOutcome
from sim.ledger.results import Result, TripResult
from sim.report.charts.charge_chart import floor_labels, floor_lines
from sim.report.charts.chart_data import local_clock
from sim.report.charts.palette import AXIS, LIGHT, frame
from sim.report.charts.tracks import line, stamp
from sim.report.page.trip_text import facts
from sim.report.words.numbers import Manner, kilowatt_hours, shortened, watts
from sim.report.words.promise_words import medical, why

HEIGHT = 320


@dataclass(frozen=True)
class Choice:
    """Something a reader may set.

    Attributes
    ----------
    key : str
        An axis of the grid, or ``trip``.
    label : str
    options : tuple of str
        In the order of the axis.
    base : int
        Where the job is on it.
    """

    key: str
    label: str
    options: tuple[str, ...]
    base: int


def choices(job: Job, found: Grid) -> tuple[Choice, ...]:
    """The reader's choices; an axis with one place on it is none."""
    made = (
        Choice("trip", "Trip", tuple(trip.name for trip in found.trips), 0),
        Choice("panels", "Panels", _panels(job, found), found.base[0]),
        Choice("batteries", "Batteries", _batteries(job, found), found.base[1]),
        Choice(
            "driving_hours", "Driving", tuple(map(_driving, found.driving_hours)), found.base[2]
        ),
        *(
            Choice(f"comfort_{bit}", shortened(name), ("as planned", "left off"), 0)
            for bit, name in enumerate(found.comforts)
        ),
    )
    return tuple(choice for choice in made if len(choice.options) > 1)


def _panels(job: Job, found: Grid) -> tuple[str, ...]:
    """Each number of panels: together with the other groups how many watts, and whether it fits."""
    group = job.panels[counted_group(job)]
    fixed = sum(item.array_watts for item in job.panels) - group.array_watts
    most = roof_fit(job).most

    def label(count: int) -> str:
        text = f"{count}, together {watts(fixed + count * group.watts)}"
        if most is not None and count > most:
            return f"{text} (more than fit)"
        return f"{text} (this report)" if count == group.count else text

    return tuple(label(count) for count in found.panels)


def _batteries(job: Job, found: Grid) -> tuple[str, ...]:
    bank = job.battery
    unit_wh = bank.capacity_wh / bank.count

    def label(count: int) -> str:
        text = f"{count}, together {kilowatt_hours(count * unit_wh)}"
        return f"{text} (this report)" if count == bank.count else text

    return tuple(label(count) for count in found.batteries)


def _driving(hours: float) -> str:
    if hours == 0.0:
        return "as planned"
    if hours == 0.5:
        return "half an hour more each day"
    return f"{hours:g} hour{'s' if hours != 1.0 else ''} more each day"


def fact_names(result: Result, manner: Manner) -> tuple[str, ...]:
    """Names of the facts that the script fills in."""
    trip = result.trips[0]
    found = facts(answer_of(trip), trip, [""] * len(trip.timeline.stays), manner)
    return tuple(name for name, _, _ in found)


def says(manner: Manner) -> Says:
    """What is said of each cell of a grid: the first screen's sentences, those on medical devices
    apart, then the value and the note of each fact."""
    return partial(_said, manner)


def _said(manner: Manner, planned: Trip, trip: TripOutcome, answer: Answer) -> tuple[str, ...]:
    names = [stop.place.name for stop in planned.stops]
    found = facts(answer, trip, names, manner)
    first = medical(trip), why(trip, answer, manner)
    return (*first, *(text for fact in found for text in fact[1:]))


def try_data(result: Result, found: Grid, manner: Manner) -> dict[str, Any]:
    """What the page's script needs: the grid, an empty chart, and what is said of each cell.

    Returns
    -------
    dict
        ``grid`` as `packed` makes it; ``texts``, each once; ``said``, for each trip and cell the
        places in them of the sentences and of each fact's value and note; the ``ends`` of each
        trip; ``figure``.
    """
    texts: dict[str, int] = {}

    def place(text: str) -> int:
        return texts.setdefault(text, len(texts))

    said = [[[place(text) for text in cell] for cell in trip.said] for trip in found.trips]
    return {
        "grid": packed(found),
        "texts": list(texts),
        "said": said,
        "ends": [
            [manner.day(time.date()) for time in (trip.local_times()[0], trip.local_times()[-1])]
            for trip in result.trips
        ],
        "figure": _empty_chart(result.trips[0]),
    }


def _empty_chart(trip: TripResult) -> dict[str, Any]:
    """The charge without its lines: 90 %, 10 % and median lines for the script to fill."""
    clock = local_clock(trip)
    ends = [stamp(time) for time in (clock[0], clock[-1])]
    lines = [
        line(ends, np.zeros(2), color, width, fill=fill)
        for color, width, fill in (
            (LIGHT.clear, 0, None),
            (LIGHT.clear, 0, LIGHT.band),
            (LIGHT.charge, 2.4, None),
        )
    ]
    bare = {key: value for key, value in AXIS.items() if not key.startswith("title")}
    levels = [0, 25, 50, 75, 100]
    time = {"range": ends, "type": "date", "showticklabels": False}
    charge = {
        "range": [0, 100],
        "tickvals": levels,
        "ticktext": [f"{x} %" for x in levels],
        "showgrid": True,
        "gridcolor": LIGHT.rule,
    }
    layout = {
        "shapes": floor_lines(trip),
        "annotations": floor_labels(trip),
        "xaxis": {**bare, **time, "showline": True, "linecolor": LIGHT.ink},
        "yaxis": bare | charge,
    }
    # Plotly's own page script knows no templates by name.
    own = {key: value for key, value in frame(HEIGHT).items() if key != "template"}
    return {"data": lines, "layout": own | layout}
