"""A step in parts: the same as shorter steps, and as the whole where nothing changes within."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from sim.van.bank.lanes import Bank
from sim.van.bank.loop import run_bank
from sim.van.bank.offers import Offers
from sim.van.bank.substeps import Substep
from sim.van.bank.totals import total_bank

MakeBank = Callable[..., Bank]
MakeOffers = Callable[..., Offers]


def more(essential: float) -> np.ndarray:
    return np.array([[essential], [0.0], [0.0]])


# A kettle of 600 W in the second quarter of the hour, the engine in the last half, the plug in
# its first three quarters.
QUARTERS = (
    Substep(0.25, (1.0, 0.0, 4 / 3), more(-150.0)),
    Substep(0.25, (1.0, 0.0, 4 / 3), more(450.0)),
    Substep(0.25, (1.0, 2.0, 4 / 3), more(-150.0)),
    Substep(0.25, (1.0, 2.0, 0.0), more(-150.0)),
)


@pytest.mark.parametrize("start_soc", [0.06, 0.2, 0.5, 0.93])
def test_parts_are_shorter_steps(bank: MakeBank, offers: MakeOffers, start_soc: float) -> None:
    battery = bank()
    whole = offers(1, essential=200.0, comfort=40.0, drive=150.0, shore=30.0)
    quarters = offers(
        4,
        essential=[50.0, 650.0, 50.0, 50.0],
        comfort=40.0,
        drive=[0.0, 0.0, 300.0, 300.0],
        shore=[40.0, 40.0, 40.0, 0.0],
    )
    whole = replace(whole, parts={0: QUARTERS})
    ours = run_bank(battery, whole, start_soc=start_soc, step_hours=1.0)
    theirs = run_bank(battery, quarters, start_soc=start_soc, step_hours=0.25)
    assert ours.soc[-1] == pytest.approx(theirs.soc[-1], abs=1e-12)
    assert ours.lowest_soc == pytest.approx(theirs.lowest_soc, abs=1e-12)
    assert ours.lowest_soc == pytest.approx(theirs.soc.min(axis=0), abs=1e-12)
    assert np.isfinite(ours.cut_off_h) == np.isfinite(theirs.cut_off_h)
    for mine, other in zip(ours.taken_w, theirs.taken_w, strict=True):
        assert mine[0] == pytest.approx(other.mean(axis=0), abs=1e-9)
    for name in ("losses_w", "unserved_w", "refused_sun_w"):
        mean = getattr(theirs, name).mean(axis=-2 if name != "refused_sun_w" else -1)
        assert np.ravel(getattr(ours, name)) == pytest.approx(np.ravel(mean), abs=1e-9), name
    sums = total_bank(battery, whole, start_soc=start_soc, step_hours=1.0)
    assert sums.lowest_soc == pytest.approx(ours.lowest_soc)
    assert sums.unserved_wh == pytest.approx(ours.unserved_w[:, 0])


def test_peukert_goes_by_the_mean_of_the_hour(bank: MakeBank, offers: MakeOffers) -> None:
    """The kettle's quarter of an hour does not raise the floor beyond the hour's mean load."""
    battery = bank(peukert=1.3, resistance_per_w=0.0, self_discharge_per_h=0.0)
    steady = offers(12, essential=200.0)
    off = (1.0, 0.0, 0.0)
    parts = (Substep(0.25, off, more(600.0)), Substep(0.75, off, more(-200.0)))
    kettle = replace(steady, parts=dict.fromkeys(range(12), parts))
    one, other = (
        run_bank(battery, each, start_soc=1.0, step_hours=1.0) for each in (steady, kettle)
    )
    assert np.isfinite(one.cut_off_h).all()
    np.testing.assert_array_equal(one.cut_off_h, other.cut_off_h)
    assert other.soc[-1] == pytest.approx(one.soc[-1], abs=1e-12)
