"""What each appliance wanted and got, from what was served to the group it belongs to."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from sim.arrays import Floats, Ints
from sim.ledger.lines import LoadLine
from sim.trip.demand import Demand
from sim.trip.lines import OWN_DRAW, Line

# The share of a group's loads that was served where nothing was missed.
ALL_SERVED: Floats = np.ones((1, 1))


def served_share(wanted_w: Floats, unserved_w: Floats) -> Floats:
    """Share of a group's loads that was served, 1 where none was wanted. shape (H, D) or (1, 1)"""
    if not unserved_w.any():
        return ALL_SERVED
    refused = np.divide(unserved_w, wanted_w, out=np.zeros_like(wanted_w), where=wanted_w > 0.0)
    return np.asarray(np.maximum(1.0 - refused, 0.0))


@dataclass(frozen=True)
class _Sums:
    """Of one line what no design changes: wanted by day and in all, and served where nothing of
    its group is missed. [Wh/h]"""

    per_day: Floats
    wanted: Floats
    all_served: Floats


class LoadSums:
    """Energies of a trip's loads, for any number of designs: what they share is added up once.

    Parameters
    ----------
    day : ndarray of int, shape (H,)
        Number of the local day of each step.
    step_hours : float
    """

    def __init__(self, day: Ints, step_hours: float) -> None:
        self._starts = np.flatnonzero(np.diff(day, prepend=-1))
        self._step_hours = step_hours
        # By the line itself, which is kept as long as its number stands for it.
        self._known: dict[int, tuple[Line, _Sums]] = {}

    def lines(self, wants: Demand, given: Sequence[Floats]) -> tuple[LoadLine, ...]:
        """Each appliance's energies: what its group was refused, it was refused in proportion.

        Parameters
        ----------
        wants : Demand
            D draws.
        given : sequence of ndarray
            Of each group from `served_share`.
        """
        shape = wants.cabin_c.shape
        draws, days = shape[1:], (len(self._starts), shape[1])
        lines: list[LoadLine] = []
        for line in wants.lines:
            sums, share = self._sums(line, shape), given[line.group]
            served = sums.all_served
            if share is not ALL_SERVED:
                served = (line.watts * line.served_share(share)).sum(axis=0)
            waited = line.asked_w * (1.0 - share) if line.held else np.zeros((1, 1))
            made = LoadLine(
                name=line.name,
                priority=line.priority,
                supply=line.supply,
                wanted_wh_day=np.broadcast_to(sums.per_day, days),
                wanted_wh=np.broadcast_to(sums.wanted, draws),
                served_wh=np.broadcast_to(served, draws) * self._step_hours,
                waited_wh=np.broadcast_to(waited.sum(axis=0), draws) * self._step_hours,
                appliance=line.appliance,
            )
            if line.supply in OWN_DRAW and lines and lines[-1].supply == line.supply:
                made = _together(lines.pop(), made)
            lines.append(made)
        return tuple(lines)

    def _sums(self, line: Line, shape: tuple[int, ...]) -> _Sums:
        known = self._known.get(id(line))
        if known is None:
            per_day = np.add.reduceat(line.watts, self._starts, axis=0) * self._step_hours
            # Over all draws, as where something is missed: sums of one column round otherwise.
            share = line.served_share(np.broadcast_to(ALL_SERVED, shape))
            all_served = (line.watts * share).sum(axis=0)
            known = line, _Sums(per_day, per_day.sum(axis=0), all_served)
            self._known[id(line)] = known
        return known[1]


def _together(first: LoadLine, second: LoadLine) -> LoadLine:
    """Two parts of one line, under the priority of the first."""
    return replace(
        first,
        wanted_wh_day=first.wanted_wh_day + second.wanted_wh_day,
        wanted_wh=first.wanted_wh + second.wanted_wh,
        served_wh=first.served_wh + second.served_wh,
        waited_wh=first.waited_wh + second.waited_wh,
    )
