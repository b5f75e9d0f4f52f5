"""The cell of a what-if grid that is the job itself: what the report says of it holds there too."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from sim.decide.what_if import Grid, Says, TripGrid, levels_of
from sim.ledger.answer import answer_of
from sim.ledger.results import Result, TripResult


def as_answered(found: Grid, result: Result, says: Says) -> Grid:
    """The grid with the job's own cell as its trips were answered, in however many draws.

    Parameters
    ----------
    found : Grid
    result : Result
        Of the same job.
    says : callable
        As of `grid`.
    """
    own = int(np.ravel_multi_index((*found.base, 0), found.trips[0].soc.shape[:4]))
    return replace(
        found,
        trips=tuple(
            _with_cell(grid, own, trip, says(planned, trip, answer_of(trip)))
            for planned, trip, grid in zip(result.job.trips, result.trips, found.trips, strict=True)
        ),
    )


def _with_cell(found: TripGrid, own: int, trip: TripResult, said: tuple[str, ...]) -> TripGrid:
    if trip.draws <= found.answers[own].draws:
        return found
    times = tuple(f"{time:%Y-%m-%d %H:%M}" for time in trip.timeline.local_times)
    step = next(n for n in range(1, len(times)) if times[::n] == found.times)
    soc = found.soc.reshape(-1, *found.soc.shape[4:]).copy()
    soc[own] = levels_of(trip.course.soc[:, ::step])
    answers, texts = list(found.answers), list(found.said)
    answers[own], texts[own] = answer_of(trip), said
    return replace(
        found, answers=tuple(answers), said=tuple(texts), soc=soc.reshape(found.soc.shape)
    )
