"""What a lever does: facts of one change, or of two together, on every trip."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf

from sim.decide.levers.lever import WhyNot
from sim.ledger.answer import Answer, worst


@dataclass(frozen=True)
class TripEffect:
    """What a lever does to one trip.

    Attributes
    ----------
    answer : Answer
        With the lever.
    share_gain : float
        Of draws without a dark hour. -1 to 1
    gain_error : float
        Half-width of its 95 % interval: the same draws with and without.
    lowest_gain : float
        Of the lowest charge in the bad case. -1 to 1
    dark_gain : float
        Dark hours fewer, mean over draws. [h]
    before : Answer or None
        Without the lever.
    is_left : bool
        The lever does harm here, and is left undone.
    """

    answer: Answer
    share_gain: float
    gain_error: float
    lowest_gain: float
    dark_gain: float
    before: Answer | None = None
    is_left: bool = False

    @property
    def is_worse(self) -> bool:
        """Whether the trip is worse off: by its verdict, or in more draws than chance makes."""
        if self.before is None or self.is_left:
            return False
        (verdict, held), (old_verdict, old_held) = self.answer.rank, self.before.rank
        lost = (old_held - held) / self.answer.draws
        return verdict < old_verdict or lost > max(self.gain_error, 0.0)


@dataclass(frozen=True)
class LeverEffect:
    """A lever, or a pair of them, and what it does.

    Attributes
    ----------
    names : tuple of str
        Of the lever, or of both.
    price, weight_kg : float or None
        None when not known.
    is_own : bool
        From the job file.
    trips : tuple of TripEffect
        In the order of the job; empty when `fault` is set.
    changes_nothing : bool
        Not one draw of one trip differs.
    share_gain, lowest_gain : float
        Of the worst trip before to the worst after: share of draws without a dark hour, lowest
        charge in the bad case.
    fault : str
        Why it cannot be pulled here; mostly empty.
    unpriced : int
        Levers of a pair whose price is not known.
    known_price : float
        Of the others.
    """

    names: tuple[str, ...]
    price: float | None
    weight_kg: float | None
    is_own: bool
    trips: tuple[TripEffect, ...]
    changes_nothing: bool
    share_gain: float = 0.0
    lowest_gain: float = 0.0
    fault: str = ""
    unpriced: int = 0
    known_price: float = 0.0

    @property
    def name(self) -> str:
        """Of the lever, or of both in one."""
        return ", and ".join(self.names)

    @property
    def cost(self) -> tuple[int, float]:
        """Its price to compare by: how many of its prices are not known, and the sum of those
        that are."""
        return (self.unpriced or int(self.price is None)), self.known_price or self.price or 0.0

    @property
    def is_enough(self) -> bool:
        """Whether every trip is ample then."""
        return bool(self.trips) and all(x.answer.verdict == "ample" for x in self.trips)

    @property
    def medical_dark(self) -> int:
        """Draws in which a medical device may go without, of the trip where it does most often."""
        return max((trip.answer.medical_dark for trip in self.trips), default=0)

    @property
    def order(self) -> tuple[tuple[int, int], float, float, float]:
        """The larger the better: what holds on the worst trip; where that is the same, what is
        still missing on all of them, cold hours, and the lowest charge."""
        if not self.trips:
            return (-1, 0), -inf, -inf, 0.0
        answers = [trip.answer for trip in self.trips]
        return (
            min(answer.rank for answer in answers),
            -sum(answer.missing_wh for answer in answers),
            -sum(answer.cold_hours for answer in answers),
            worst(answers).lowest_soc.p10,
        )

    @property
    def gain(self) -> float:
        """What holds more often on the worst trip, as a share of draws. Where that does not move,
        the part of all that was missing that is there now, and where nothing was missing the
        lowest charge, both at a hundredth of the worth."""
        return self.held_gain or 0.01 * (self.missing_gain or self.lowest_gain)

    @property
    def missing_gain(self) -> float:
        """The part of all electricity and hot water missing before that is there now. Up to 1"""
        before = sum(x.before.missing_wh for x in self.trips if x.before is not None)
        now = sum(x.answer.missing_wh for x in self.trips if x.before is not None)
        return (before - now) / before if before > 0.0 else 0.0

    @property
    def held_gain(self) -> float:
        """Of the worst trip before to the worst after: draws more in which essentials,
        electricity and everything hold, as a share. -1 to 1"""
        before = [x.before.rank[1] for x in self.trips if x.before is not None]
        if not before:
            return 0.0
        return (min(x.answer.rank[1] for x in self.trips) - min(before)) / (
            3.0 * self.trips[0].answer.draws
        )

    @property
    def gain_per_price(self) -> float | None:
        """Gain per 100 of money; None without a price, infinite when it is free."""
        if self.price is None or self.changes_nothing or not self.trips:
            return None
        if self.price == 0.0:
            return inf if self.gain > 0.0 else None
        return 100.0 * self.gain / self.price


@dataclass(frozen=True)
class LeverDecision:
    """All levers of a job.

    Attributes
    ----------
    title, currency : str
    base : tuple of Answer
        The job as it is.
    effects : tuple of LeverEffect
        By effect, the best first; those that change nothing last.
    by_price : tuple of LeverEffect
        Those with a known price, by effect per money.
    best_pair : LeverEffect or None
        Two together that do clearly more than the best one; None where one is enough.
    pairs : tuple of LeverEffect
        All pairs that were tried.
    not_tried : tuple of (name, why)
        Levers that have no place in this job.
    """

    title: str
    currency: str
    base: tuple[Answer, ...]
    effects: tuple[LeverEffect, ...]
    by_price: tuple[LeverEffect, ...]
    best_pair: LeverEffect | None
    not_tried: tuple[tuple[str, WhyNot], ...]
    pairs: tuple[LeverEffect, ...] = ()

    @property
    def is_ample(self) -> bool:
        """Whether every trip is ample as it is."""
        return all(answer.verdict == "ample" for answer in self.base)

    @property
    def enough(self) -> tuple[LeverEffect, ...]:
        """Changes that make every trip ample by themselves, those that keep medical devices on
        first, and of these the cheapest. Where every trip is ample as it is, those alone that keep
        on what went without; none where nothing did."""
        found = [effect for effect in self.effects if effect.is_enough]
        if self.is_ample:
            ill = any(answer.medical_dark for answer in self.base)
            found = [effect for effect in found if ill and not effect.medical_dark]
        return tuple(sorted(found, key=lambda effect: (effect.medical_dark > 0, effect.cost)))
