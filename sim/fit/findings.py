"""What a log says of one promise: kept or broken, by how much, since when."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from sim.fit.estimate import Estimate

What = Literal[
    "sun",
    "sun_by_hour",
    "standing_load",
    "loads",
    "loads_by_temperature",
    "engine",
    "plug",
    "capacity",
    "losses",
    "clock",
    "counter",
]
Part = Literal["morning", "midday", "afternoon"]


@dataclass(frozen=True)
class Finding:
    """One promise held against the log.

    Attributes
    ----------
    what : str
    broken : bool or None
        None where the log does not tell.
    estimate : Estimate or None
        A factor over what was promised; for `standing_load` the watts beyond it, for
        `loads_by_temperature` the watts per kelvin beyond it, for `counter` the share of the
        charge by which it runs away in a day, for `clock` hours.
    since : date or None
        The day from which it is so, where that is not the whole log.
    part : str or None
        For `sun_by_hour`: which part of the day.
    promised_w : float
        For `standing_load`: what was promised for the same hours; for `loads_by_temperature` its
        rise with the outside temperature. [W, W/K]
    months : tuple of (int, Estimate)
        For `sun`: the factor month by month.
    in_utc : bool
        For `clock`: the log runs in UTC.
    because : str
        Why the log does not tell, as a key of the words.
    """

    what: What
    broken: bool | None
    estimate: Estimate | None = None
    since: dt.date | None = None
    part: Part | None = None
    promised_w: float = 0.0
    months: tuple[tuple[int, Estimate], ...] = ()
    in_utc: bool = False
    because: str = ""


def silent(what: What, because: str) -> Finding:
    """Nothing can be said of a promise."""
    return Finding(what, None, because=because)


def date_of(day: int) -> dt.date:
    """A day from its number since 1970."""
    return dt.date(1970, 1, 1) + dt.timedelta(days=int(day))


def broken_first(findings: Sequence[Finding]) -> tuple[Finding, ...]:
    """The broken ones first, by how clear they are, then the kept, then what is not known."""

    def rank(finding: Finding) -> tuple[int, float]:
        clear = abs(finding.estimate.z) if finding.estimate is not None else 0.0
        return {True: 0, False: 1, None: 2}[finding.broken], -clear if finding.broken else 0.0

    return tuple(sorted(findings, key=rank))
