"""The few numbers that answer for a trip: of its result, and alike of any design tried on it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sim.arrays import Floats
from sim.job.model.living import PRIORITIES, Priority
from sim.ledger.results import TripResult
from sim.ledger.verdict import QUANTILES, Spread, Verdict, dark_hours_of, verdict_of
from sim.van.bank.loop import UNSERVED_TOLERANCE_W

# The bad case: one draw in ten does as badly, or worse.
_BAD_SHARE = 0.9


@dataclass(frozen=True)
class History:
    """What a design did step by step on a trip of H steps in D draws.

    Attributes
    ----------
    soc : ndarray, shape (H + 1, D)
        At the start of each step and at the end of the last. 0 to 1
    unserved_w : ndarray, shape (3, H, D)
        Wanted and not given: essential, comfort, extra. [W]
    lowest : ndarray, shape (D,)
        Lowest charge, within steps that are done in parts too. 0 to 1
    cut_off_h : ndarray, shape (D,)
        Hours until the battery first cut off the essential loads; inf where it never did. [h]
    """

    soc: Floats
    unserved_w: Floats
    lowest: Floats
    cut_off_h: Floats


@dataclass(frozen=True)
class FirstDark:
    """What goes dark first in one draw.

    Attributes
    ----------
    draw, step : int
        In which draw, and at which step of the trip.
    priority : str
        Of the loads that are off then; of several groups the one that is shed first.
    is_bad_case : bool
        Whether the draw is the bad case; else it is the worst of all, because the bad case
        has no dark hour.
    """

    draw: int
    step: int
    priority: Priority
    is_bad_case: bool


@dataclass(frozen=True)
class Answer:
    """What a design does on a trip of D draws.

    Attributes
    ----------
    verdict : str
        ample, tight or short.
    dark_hours : ndarray, shape (D,)
        [h]
    lowest_soc : Spread
        Lowest charge of the trip, over draws. 0 to 1
    ran_out_share : float
        Share of draws in which the battery cut off the essential loads.
    usual_first : str or None
        Priority of what goes dark first in most of the draws that have a dark hour.
    first_dark : FirstDark or None
        The bad case followed to its first dark hour; None where nothing ever goes dark.
    """

    verdict: Verdict
    dark_hours: Floats
    lowest_soc: Spread
    ran_out_share: float
    usual_first: Priority | None
    first_dark: FirstDark | None

    @property
    def draws(self) -> int:
        """Number of draws, D."""
        return len(self.dark_hours)

    @property
    def held(self) -> int:
        """Draws without a dark hour."""
        return int((self.dark_hours == 0).sum())

    @property
    def ample_share(self) -> float:
        """Share of draws without a dark hour."""
        return self.held / self.draws


def answer_of(trip: TripResult) -> Answer:
    """The answer of a trip's result."""
    return answer_from(
        History(trip.soc, trip.unserved_w, trip.lowest, trip.cut_off_h),
        step_minutes=trip.timeline.step_minutes,
        bounds=(trip.ample_share, trip.tight_share),
    )


def answer_from(
    history: History,
    *,
    step_minutes: int,
    bounds: tuple[float, float],
) -> Answer:
    """The answer that a history of the charge gives.

    Parameters
    ----------
    history : History
        H steps, D draws.
    step_minutes : int
    bounds : (float, float)
        Shares of draws from which a trip is ample, and tight.
    """
    unserved_w, lowest = history.unserved_w, history.lowest
    dark = dark_hours_of(unserved_w.sum(axis=0), step_minutes).sum(axis=0).astype(np.float64)
    ample, tight = bounds
    missed = np.flatnonzero(dark)
    firsts = [_first(unserved_w[:, :, draw]) for draw in missed.tolist()]
    found = dict(zip(missed.tolist(), firsts, strict=True))
    return Answer(
        verdict=verdict_of(1.0 - len(missed) / len(dark), ample, tight),
        dark_hours=dark,
        lowest_soc=Spread(*(float(q) for q in np.quantile(lowest, QUANTILES))),
        ran_out_share=float(np.isfinite(history.cut_off_h).mean()),
        usual_first=_usual([group for _, group in firsts]),
        first_dark=_bad_case(dark, lowest, found),
    )


def _first(unserved_w: Floats) -> tuple[int, Priority]:
    """First step of a draw in which something is off, and what is. `unserved_w` (3, H)"""
    step = int(np.argmax(unserved_w.sum(axis=0) > UNSERVED_TOLERANCE_W))
    # One of them must lack so much for the sum to lack more than the tolerance.
    off = unserved_w[:, step] > UNSERVED_TOLERANCE_W / len(PRIORITIES)
    return step, PRIORITIES[int(np.flatnonzero(off)[-1])]


def _usual(groups: list[Priority]) -> Priority | None:
    """The most frequent group; of equals the one that is shed first."""
    if not groups:
        return None
    return max(reversed(PRIORITIES), key=groups.count)


def _bad_case(
    dark: Floats, lowest: Floats, found: dict[int, tuple[int, Priority]]
) -> FirstDark | None:
    if not found:
        return None
    order = np.lexsort((-lowest, dark))
    bad = int(order[round(_BAD_SHARE * (len(order) - 1))])
    draw = bad if bad in found else int(order[-1])
    step, priority = found[draw]
    return FirstDark(draw, step, priority, is_bad_case=draw == bad)
