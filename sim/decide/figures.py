"""The few figures by which designs are compared on a trip."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sim.decide.sampling import Interval, wilson
from sim.job.model.job import Settings
from sim.ledger.study import Outcomes
from sim.ledger.verdict import Verdict, verdict_of


@dataclass(frozen=True)
class TripFigures:
    """What one design does on one trip.

    Attributes
    ----------
    name : str
    verdict : str
        ample, tight or short.
    held, draws : int
        Draws without a dark hour, of so many.
    lowest_soc_p10 : float
        Lowest charge in the bad case: one draw in ten falls lower. 0 to 1
    dark_hours_mean : float
        Mean over draws. [h]
    unharvested_wh_per_day : float
        Sun that found no room, mean over draws. [Wh/day]
    """

    name: str
    verdict: Verdict
    held: int
    draws: int
    lowest_soc_p10: float
    dark_hours_mean: float
    unharvested_wh_per_day: float

    @property
    def ample_share(self) -> float:
        """Share of draws without a dark hour."""
        return self.held / self.draws

    @property
    def interval(self) -> Interval:
        """Where the true share lies, 95 %."""
        return wilson(self.held, self.draws)


def figures(name: str, outcomes: Outcomes, settings: Settings) -> tuple[TripFigures, ...]:
    """Figures of each design of a study, in its order."""
    held = outcomes.passed.sum(axis=1)
    lowest = np.quantile(outcomes.lowest_soc, 0.1, axis=1)
    dark = outcomes.dark_hours.mean(axis=1)
    unharvested = outcomes.unharvested_wh.mean(axis=1) / outcomes.days_long
    draws = outcomes.passed.shape[1]
    return tuple(
        TripFigures(
            name=name,
            verdict=verdict_of(held[k] / draws, settings.ample_share, settings.tight_share),
            held=int(held[k]),
            draws=draws,
            lowest_soc_p10=float(lowest[k]),
            dark_hours_mean=float(dark[k]),
            unharvested_wh_per_day=float(unharvested[k]),
        )
        for k in range(len(outcomes.designs))
    )


def worst(trips: Sequence[TripFigures]) -> TripFigures:
    """The trip that holds in the fewest draws; of equals the one that falls lowest."""
    return min(trips, key=lambda trip: (trip.ample_share, trip.lowest_soc_p10))


def percent(share: float, draws: int = 1000) -> str:
    """A share as ``83 %``, with as many digits as the draws can tell apart, one at most."""
    value = round(100.0 * share, 1 if draws > 100 else 0)
    return f"{value:g} %"


def between(interval: Interval) -> str:
    """``91 to 97 %``, rounded outwards."""
    low, high = int(np.floor(100.0 * interval.low)), int(np.ceil(100.0 * interval.high))
    return f"{low} to {high} %"


MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)
