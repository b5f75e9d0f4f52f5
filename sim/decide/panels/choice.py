"""Which number of panels: the choice among those looked at, and how sure it is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from sim.arrays import Bools
from sim.ledger.answer import Answer, lowest_verdict, worst
from sim.ledger.sampling import paired_error
from sim.ledger.verdict import Verdict

# A gain of fewer points of draws is called small.
SMALL_GAIN = 0.06


@dataclass(frozen=True)
class PanelOption:
    """One number of panels.

    Attributes
    ----------
    count : int
    fits : bool or None
        On the roof; None when that is not known.
    controller_amps : float
        The job's controller, or one that is large enough for more panels. [A]
    weight_kg : float or None
        Of all panels on the roof; None when not known.
    price : float or None
        Of the counted panels; None when not known.
    trips : tuple of Answer
        In the order of the job.
    """

    count: int
    fits: bool | None
    controller_amps: float
    weight_kg: float | None
    price: float | None
    trips: tuple[Answer, ...]

    @property
    def verdict(self) -> Verdict:
        """Of the worst trip."""
        return lowest_verdict(answer.verdict for answer in self.trips)

    @property
    def electric(self) -> Verdict:
        """The same of what the battery serves: the part that panels can mend."""
        return lowest_verdict(answer.electric for answer in self.trips)

    @property
    def worst(self) -> Answer:
        """The trip that holds in the fewest draws."""
        return worst(self.trips)


@dataclass(frozen=True)
class NextPanels:
    """What one panel more, or one string more, does for the trip that needs it most.

    Attributes
    ----------
    count : int
        Panels in all.
    fits : bool or None
    before, after : Answer
        Of that trip without them and with them.
    gain : {"clear", "small", "unsure"}
        Of the share of draws; unsure where the draws cannot tell it from none.
    """

    count: int
    fits: bool | None
    before: Answer
    after: Answer
    gain: Literal["clear", "small", "unsure"]


@dataclass(frozen=True)
class Choice:
    """The number of panels that is right.

    Attributes
    ----------
    recommended : int or None
        The smallest count that fits and is ample on every trip; None when none is.
    best : int
        The recommended count; without one the smallest that no larger one betters.
    runner_up : int or None
        The next best count.
    step : int
        Panels that come together: those of a string.
    following : NextPanels or None
        None where nothing more was looked at, or where it brings nothing.
    unsure : tuple of (int, Answer)
        Counts, each with its worst trip, whose share lies too near the bound for the draws to
        tell on which side.
    """

    recommended: int | None
    best: int
    runner_up: int | None
    step: int
    following: NextPanels | None
    unsure: tuple[tuple[int, Answer], ...]


def choose(
    options: Sequence[PanelOption], passed: Sequence[Bools], *, step: int, bound: float
) -> Choice:
    """Choose among the options.

    Parameters
    ----------
    options : sequence of PanelOption
        K of them, by count from none upwards.
    passed : sequence of ndarray of bool, shape (K, D)
        For each trip whether an option had no dark hour in a draw.
    step : int
        Panels in series come by the string.
    bound : float
        Share of draws from which a trip is ample.
    """
    possible = [x for x in options if x.fits is not False and x.count % step == 0]
    ample = [option.count for option in possible if option.electric == "ample"]
    recommended = ample[0] if ample else None
    best = max(
        possible,
        key=lambda x: (x.worst.ample_share, x.worst.lowest_soc.p10, -x.count),
    ).count
    chosen = best if recommended is None else recommended
    following = None
    if chosen + step < len(options):
        following = _following(options[chosen], options[chosen + step], passed)
        gained = following.after.ample_share > following.before.ample_share
        if recommended is None and not gained:
            following = None
    return Choice(
        recommended=recommended,
        best=chosen,
        runner_up=_runner_up(possible, recommended, step),
        step=step,
        following=following,
        unsure=tuple(_unsure(options, recommended, chosen, step, bound)),
    )


def _runner_up(possible: Sequence[PanelOption], recommended: int | None, step: int) -> int | None:
    if recommended is None:
        return None
    verdicts = {option.count: option.electric for option in possible}
    fewer, more = recommended - step, recommended + step
    if verdicts.get(fewer) == "tight":
        return fewer
    return more if more in verdicts else fewer if fewer in verdicts else None


def _following(now: PanelOption, more: PanelOption, passed: Sequence[Bools]) -> NextPanels:
    trip = now.trips.index(now.worst)
    before, after = now.trips[trip], more.trips[trip]
    gain = after.ample_share - before.ample_share
    with_more, without = passed[trip][more.count], passed[trip][now.count]
    gained, lost = int((with_more & ~without).sum()), int((without & ~with_more).sum())
    is_unsure = gain <= paired_error(gained, lost, before.draws)
    return NextPanels(
        count=more.count,
        fits=more.fits,
        before=before,
        after=after,
        gain="unsure" if is_unsure else "small" if gain < SMALL_GAIN else "clear",
    )


def _unsure(
    options: Sequence[PanelOption], recommended: int | None, chosen: int, step: int, bound: float
) -> list[tuple[int, Answer]]:
    found = []
    answer = options[chosen].worst
    if recommended is None:
        return [(chosen, answer)] if answer.interval.holds(bound) else []
    if answer.interval.low < bound:
        found.append((chosen, answer))
    if chosen > 0:
        fewer = options[chosen - step].worst
        if fewer.electric != "ample" and fewer.interval.holds(bound):
            found.append((chosen - step, fewer))
    return found
