"""What each appliance wanted and got, from what was served to the group it belongs to."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from sim.arrays import Floats, Ints, over_steps
from sim.ledger.lines import LoadLine
from sim.trip.demand import Demand
from sim.trip.lines import OWN_DRAW, Line
from sim.van.bank.lanes import some_of

# The share of a group's loads that was served where nothing was missed.
_ALL_SERVED: Floats = np.ones((1, 1))


@dataclass(frozen=True)
class Given:
    """What was served of a group's loads in D draws: in most draws of most groups all of it.

    Attributes
    ----------
    some : ndarray of int, shape (N,), or None
        Draws in which something was refused; None: all of them.
    share : ndarray, shape (H, N) or (H, D)
        Share that was served in these, 1 where none was wanted.
    draws : int
        D.
    """

    some: Ints | None
    share: Floats
    draws: int

    @classmethod
    def of(cls, wanted_w: Floats, refused_w: Floats) -> Given:
        """Of what was wanted and what was refused. [W], shape (H, D)"""
        draws = refused_w.shape[1]
        some = np.flatnonzero(refused_w.any(axis=0))
        if len(some) == draws:
            return cls(None, _served(wanted_w, refused_w), draws)
        return cls(some, _served(some_of(wanted_w, some), refused_w.take(some, axis=1)), draws)

    @property
    def is_all(self) -> bool:
        """Whether nothing was refused in any draw."""
        return self.some is not None and not len(self.some)

    def whole(self) -> Floats:
        """The share in all draws. shape (H, D) or (1, 1)"""
        if self.some is None or self.is_all:
            return self.share if self.some is None else _ALL_SERVED
        share = np.ones((len(self.share), self.draws))
        share[:, self.some] = self.share
        return share


def _served(wanted_w: Floats, refused_w: Floats) -> Floats:
    refused = np.divide(refused_w, wanted_w, out=np.zeros_like(refused_w), where=wanted_w > 0.0)
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

    def lines(
        self,
        wants: Demand,
        given: Callable[[int], Given] | None = None,
        *,
        essential: bool | None = None,
    ) -> tuple[LoadLine, ...]:
        """Each appliance's energies: what its group was refused, it was refused in proportion.

        Parameters
        ----------
        wants : Demand
            D draws.
        given : callable, optional
            From the row of a group to what of it was served; what was served is left out, 0, if
            absent.
        essential : bool, optional
            Only the lines that are essential, or only the others.
        """
        shape = wants.cabin_c.shape
        found = []
        for parts in _by_line(wants.lines):
            if essential is None or (parts[0].priority == "essential") == essential:
                first, *others = (self._line(part, given, shape) for part in parts)
                for other in others:
                    first = _together(first, other)
                found.append(first)
        return tuple(found)

    def _line(
        self, line: Line, given: Callable[[int], Given] | None, shape: tuple[int, ...]
    ) -> LoadLine:
        wanted = self._wanted(line, shape)
        if given is None:
            return wanted
        group = given(line.group)
        if group.some is None:
            return self._with_served(line, wanted, group.share)
        made = self._all_served(line, wanted, shape)
        if group.is_all:
            return made
        # In draws in which nothing of the group was refused it got all.
        some = group.some
        own = replace(
            line,
            watts=some_of(line.watts, some),
            on_plug=some_of(line.on_plug, some),
            live=some_of(line.live, some),
        )
        part = self._with_served(own, wanted, group.share)
        served, waited = made.served_wh.copy(), made.waited_wh.copy()
        served[some] = part.served_wh
        if line.held:
            waited[some] = part.waited_wh
        return replace(made, served_wh=served, waited_wh=waited)

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
        """A line of whose group nothing is refused."""
        known = self._served_whole.get(id(line))
        if known is None:
            # Over all draws, as where something is missed: sums of one column round otherwise.
            share = np.broadcast_to(_ALL_SERVED, shape)
            known = self._served_whole[id(line)] = line, self._with_served(line, made, share)
        return known[1]

    def _with_served(self, line: Line, made: LoadLine, share: Floats) -> LoadLine:
        """A line of which the bank gave such a share in each step and draw."""
        # A single draw of many is added up as it is among them.
        add = over_steps if len(made.wanted_wh) > 1 else np.add.reduce
        served = add(line.watts * line.served_share(share)) * self._step_hours
        waited = made.waited_wh
        if line.held:
            waited = add(line.asked_w * (1.0 - share)) * self._step_hours
        return replace(made, served_wh=served, waited_wh=waited)


def _by_line(lines: Sequence[Line]) -> Iterator[list[Line]]:
    """Those that are one line in the ledger together: the parts of the converter's or of the
    inverter's own draw, that of the first priority first."""
    parts: list[Line] = []
    for line in lines:
        if parts and not (line.supply in OWN_DRAW and parts[-1].supply == line.supply):
            yield parts
            parts = []
        parts.append(line)
    if parts:
        yield parts


def _together(first: LoadLine, second: LoadLine) -> LoadLine:
    """Two parts of one line, under the priority of the first."""
    return replace(
        first,
        wanted_wh_day=first.wanted_wh_day + second.wanted_wh_day,
        wanted_wh=first.wanted_wh + second.wanted_wh,
        served_wh=first.served_wh + second.served_wh,
        waited_wh=first.waited_wh + second.waited_wh,
    )
