"""Sources that start by the charge or burn from a tank of their own, through the hour loop."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sim.arrays import Bools, Floats, Ints
from sim.van.tanks import Levels


@dataclass(frozen=True)
class ByCharge:
    """A source that starts when the charge falls below a level and stops above another. 0 to 1

    It is asked at the start of each step, and runs for the whole of it, as far as it may.
    """

    start_below_soc: float
    stop_above_soc: float


@dataclass(frozen=True)
class Fuel:
    """What a source burns, from a tank that is nobody else's.

    Attributes
    ----------
    name : str
        Of the fuel.
    idle_l_h : float
        Burnt in an hour of running, whatever is taken. [L/h]
    l_wh : float
        Burnt on top for each Wh at the battery's terminals. [L/Wh]
    tank_l, start_l : float
        What the tank holds, and what is in it at departure. [L]
    filled : ndarray of bool, shape (H,)
        Steps at whose start it is filled up.
    """

    name: str
    idle_l_h: float
    l_wh: float
    tank_l: float
    start_l: float
    filled: Bools


@dataclass(frozen=True)
class Run:
    """How a source ran that starts by the charge or burns fuel.

    Attributes
    ----------
    offered_w : ndarray, shape (H, L)
        Mean of each step; 0 while it is off. [W]
    share : ndarray, shape (H, L)
        Part of each step in which it ran.
    tank : Levels or None
        Its fuel. [L]
    """

    offered_w: Floats
    share: Floats
    tank: Levels | None

    def of_lanes(self, own: slice | Ints) -> Run:
        """The same of some lanes."""
        tank = self.tank
        if tank is not None:
            rows = (tank.level, tank.moved, tank.missed, tank.renewed)
            tank = Levels(*(row[:, own] for row in rows))
        return Run(self.offered_w[:, own], self.share[:, own], tank)


class Runner:
    """One such source in the hour loop; keeps every step only where it is asked to."""

    def __init__(
        self,
        share: Floats,
        starts: ByCharge | None,
        fuel: Fuel | None,
        *,
        count: int,
        step_hours: float,
    ) -> None:
        self._share, self._starts, self._fuel = share, starts, fuel
        self._hours = step_hours
        self._on = np.full(count, starts is None)
        self._left = np.full(count, fuel.start_l if fuel is not None else np.inf)
        self._runs = np.zeros(count)
        self._kept: dict[str, Floats] | None = None

    def keep(self) -> Runner:
        """Remember all steps, for `run`."""
        steps, count = len(self._share), len(self._on)
        self._kept = {
            name: np.zeros((steps, count))
            for name in ("offered", "share", "level", "moved", "missed", "renewed")
        }
        return self

    def offers(self, step: int, offered: Floats, soc: Floats) -> Floats:
        """What it offers in a step that begins with such a charge. [W], shape (L,)"""
        starts, fuel = self._starts, self._fuel
        if starts is not None:
            self._on &= soc <= starts.stop_above_soc
            self._on |= soc < starts.start_below_soc
        runs, offers = self._on * self._share[step], self._on * offered
        if fuel is not None:
            renewed = np.zeros_like(runs)
            if fuel.filled[step]:
                renewed, self._left = fuel.tank_l - self._left, np.full_like(runs, fuel.tank_l)
            # It runs for as long as the tank would last at all it offers.
            most = (fuel.idle_l_h * runs + fuel.l_wh * offers) * self._hours
            part = np.minimum(self._left / np.maximum(most, 1e-12), 1.0)
            runs, offers = runs * part, offers * part
            self._keep(step, level=self._left, missed=most * (1.0 - part), renewed=renewed)
        self._keep(step, offered=offers, share=runs)
        self._runs = runs
        return np.asarray(offers)

    def took(self, step: int, taken: Floats) -> None:
        """Burn the fuel of a step of which so much was taken. [W]"""
        fuel = self._fuel
        if fuel is None:
            return
        burnt = (fuel.idle_l_h * self._runs + fuel.l_wh * taken) * self._hours
        # Of a tank that is run dry a rounding may be left, or missing.
        burnt = np.clip(burnt, 0.0, self._left)
        self._left = self._left - burnt
        self._keep(step, moved=burnt)

    def run(self) -> Run:
        """All steps, of a runner that was asked to keep them."""
        kept = self._kept
        assert kept is not None
        tank = None
        if self._fuel is not None:
            level = np.vstack([kept["level"], self._left])
            tank = Levels(level, kept["moved"], kept["missed"], kept["renewed"])
        return Run(kept["offered"], kept["share"], tank)

    def _keep(self, step: int, **rows: Floats) -> None:
        if self._kept is not None:
            for name, row in rows.items():
                self._kept[name][step] = row
