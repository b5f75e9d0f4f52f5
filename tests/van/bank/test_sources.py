"""What sources share when they lie side by side in one run of the battery."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from sim.van.bank.running import ByCharge, Fuel
from sim.van.bank.sources import SUN, Source

OFFERED_W = np.full((4, 3), 100.0)
FUEL = Fuel("petrol", 0.3, 0.0004, 10.0, 8.0, np.array([True, False, False, False]))
ONE = Source("Engine", "drive", OFFERED_W, share=np.array([0.0, 1.0, 0.5, 0.0]))


def test_sources_that_offer_more_may_lie_side_by_side() -> None:
    more = replace(ONE, offered_w=2.0 * OFFERED_W)
    assert more.runs_as == ONE.runs_as
    # When it runs is in what it offers: the parts of its steps are each lane's own.
    assert replace(ONE, share=np.array([0.0, 1.0, 1.0, 0.0])).runs_as == ONE.runs_as
    burning = replace(ONE, fuel=FUEL)
    assert burning.runs_as == replace(ONE, fuel=replace(FUEL)).runs_as


def test_sources_that_run_otherwise_may_not() -> None:
    others = [
        ONE,
        replace(ONE, kind=SUN),
        replace(ONE, starts=ByCharge(0.2, 0.8)),
        replace(ONE, starts=ByCharge(0.2, 0.8), share=None),
        replace(ONE, starts=ByCharge(0.2, 0.8), share=np.array([0.0, 1.0, 1.0, 0.0])),
        replace(ONE, starts=ByCharge(0.2, 0.9)),
        replace(ONE, fuel=FUEL),
        replace(ONE, fuel=replace(FUEL, tank_l=5.0)),
        replace(ONE, fuel=replace(FUEL, filled=np.zeros(4, dtype=bool))),
    ]
    assert len({one.runs_as for one in others}) == len(others)
