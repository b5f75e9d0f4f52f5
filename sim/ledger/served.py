"""What each appliance wanted and got, from what was served to the group it belongs to."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

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
        self._known: dict[int, tuple[Line, LoadLine]] = {}
        self._served_whole: dict[int, tuple[Line, LoadLine]] = {}

    def lines(self, wants: Demand, given: Sequence[Floats] | None = None) -> tuple[LoadLine, ...]:
        """Each appliance's energies: what its group was refused, it was refused in proportion.

        Parameters
        ----------
        wants : Demand
            D draws.
        given : sequence of ndarray, optional
            Of each group from `served_share`; what was served is left out, 0, if absent.
        """
        shape = wants.cabin_c.shape
        lines: list[LoadLine] = []
        for line in wants.lines:
            made = self._wanted(line, shape)
            if given is not None and (share := given[line.group]) is not ALL_SERVED:
                made = self._served(line, made, share)
            elif given is not None:
                made = self._all_served(line, made, shape)
            if line.supply in OWN_DRAW and lines and lines[-1].supply == line.supply:
                made = _together(lines.pop(), made)
            lines.append(made)
        return tuple(lines)

    def _wanted(self, line: Line, shape: tuple[int, ...]) -> LoadLine:
        """What no design changes of a line."""
        known = self._known.get(id(line))
        if known is None:
            per_day = np.add.reduceat(line.watts, self._starts, axis=0) * self._step_hours
            draws = shape[1:]
            made = LoadLine(
                name=line.name,
                priority=line.priority,
                supply=line.supply,
                wanted_wh_day=np.broadcast_to(per_day, (len(self._starts), *draws)),
                wanted_wh=np.broadcast_to(per_day.sum(axis=0), draws),
                served_wh=np.zeros(draws),
                waited_wh=np.zeros(draws),
                appliance=line.appliance,
            )
            known = self._known[id(line)] = line, made
        return known[1]

    def _all_served(self, line: Line, made: LoadLine, shape: tuple[int, ...]) -> LoadLine:
        """A line where nothing of its group is missed."""
        known = self._served_whole.get(id(line))
        if known is None:
            # Over all draws, as where something is missed: sums of one column round otherwise.
            share = np.broadcast_to(ALL_SERVED, shape)
            known = self._served_whole[id(line)] = line, self._served(line, made, share)
        return known[1]

    def _served(self, line: Line, made: LoadLine, share: Floats) -> LoadLine:
        """A line of which the bank gave such a share in each step and draw."""
        served = (line.watts * line.served_share(share)).sum(axis=0) * self._step_hours
        waited = made.waited_wh
        if line.held:
            waited = (line.asked_w * (1.0 - share)).sum(axis=0) * self._step_hours
        return replace(made, served_wh=served, waited_wh=waited)


def _together(first: LoadLine, second: LoadLine) -> LoadLine:
    """Two parts of one line, under the priority of the first."""
    return replace(
        first,
        wanted_wh_day=first.wanted_wh_day + second.wanted_wh_day,
        wanted_wh=first.wanted_wh + second.wanted_wh,
        served_wh=first.served_wh + second.served_wh,
        waited_wh=first.waited_wh + second.waited_wh,
    )
