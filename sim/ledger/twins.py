"""Ways of a trip as lanes of one run of the battery; draws in which two of them go alike, once.

A fan that is left off changes nothing in winter, a heater nothing in summer: in such a draw the
battery does with a design what it did before.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sim.arrays import Bools, Floats, Ints
from sim.trip.designs import Design, Suns
from sim.trip.prepare import PreparedTrip
from sim.van.bank.beside import lanes_beside
from sim.van.bank.offers import Offers


@dataclass(frozen=True)
class WayLanes:
    """Some ways with some designs, in all draws, as lanes.

    Attributes
    ----------
    design : ndarray of int, shape (L,)
        Number of each lane's design.
    offers : Offers
    own : list of slice or ndarray of int, shape (D,)
        The lanes of each design, way after way: of two that go alike the same.
    """

    design: Ints
    offers: Offers
    own: list[slice | Ints]

    @classmethod
    def of(cls, ways: Sequence[PreparedTrip], designs: Sequence[Design], suns: Suns) -> WayLanes:
        """Of ways whose lanes may lie side by side (see `Offers.kind`), and have the same bank."""
        draws, first = ways[0].draws, 0
        design, draw = np.divmod(np.arange(len(designs) * draws), draws)
        lanes: list[Ints] = []
        numbers, offers, own = [], [], []
        for way, found in enumerate(_first_alike(ways, suns)):
            is_new = found == way
            new = is_new[draw]
            # The others have lanes already.
            place = first - 1 + new.cumsum()
            for one in np.unique(found[~is_new]):
                place = np.where((found == one)[draw], lanes[one], place)
            lanes.append(place)
            if is_new.any():
                numbers.append(design[new])
                offers.append(suns.on_lanes(ways[way], designs, design[new], draw[new]))
                first += len(numbers[-1])
            starts = range(0, len(place), draws)
            own += [_lanes(place[start : start + draws], whole=is_new.all()) for start in starts]
        return cls(np.concatenate(numbers), lanes_beside(offers, draws), own)


def _lanes(places: Ints, *, whole: bool) -> slice | Ints:
    """Lanes that lie side by side are looked at as they are, and not picked out."""
    return slice(int(places[0]), int(places[0]) + len(places)) if whole else places


def _first_alike(ways: Sequence[PreparedTrip], suns: Suns) -> list[Ints]:
    """Of each way the first that goes alike in a draw: itself, or one before it. shape (D,)"""
    found: list[Ints] = []
    for number, way in enumerate(ways):
        first = np.full(way.draws, number)
        # The first of those that do.
        for earlier in range(number - 1, -1, -1):
            if suns.of(ways[earlier]) is suns.of(way):
                alike = _go_alike(ways[earlier], way)
                first[alike] = found[earlier][alike]
        found.append(first)
    return found


def _go_alike(one: PreparedTrip, other: PreparedTrip) -> Bools:
    """In which draws all that acts on the battery is the same, but for the sun. shape (D,)"""
    alike = np.ones(one.draws, dtype=bool)
    for mine, theirs in zip(_acting(one), _acting(other), strict=True):
        if mine is not theirs:
            alike &= _same(mine, theirs)
    return alike


def _acting(way: PreparedTrip) -> list[Floats | None]:
    bank, wants = way.bank, way.wants
    warmth = bank.charge_allowed, bank.usable, bank.pace, bank.heating_w
    return [wants.wanted_w, wants.beyond_w, *warmth, *(source.offered_w for source in way.others)]


def _same(mine: Floats | None, theirs: Floats | None) -> Bools:
    """Whether the columns of two arrays are the same, whose last axis is the draw. shape (D,)"""
    if mine is None or theirs is None:
        return np.zeros(1, dtype=bool)
    return np.asarray((mine == theirs).all(axis=tuple(range(mine.ndim - 1))))
