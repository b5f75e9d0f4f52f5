"""Rainflow counting against the example of the standard.

Source: ASTM E1049-85, the history of its rainflow example, with the cycles it counts; the list
with means as in the tests of the public package rainflow. Exact: sums of small integers.
"""

from __future__ import annotations

import numpy as np
import pytest
import rainflow as oracle

from sim.van.bank.wear import rainflow

HISTORY = [-2.0, 1.0, -3.0, 5.0, -1.0, 3.0, -4.0, 4.0, -2.0]
COUNTED = {3.0: 0.5, 4.0: 1.5, 6.0: 0.5, 8.0: 1.0, 9.0: 0.5}
# range, mean, count
CYCLES = [
    *((3.0, -0.5, 0.5), (4.0, -1.0, 0.5), (4.0, 1.0, 1.0), (8.0, 1.0, 0.5)),
    *((9.0, 0.5, 0.5), (8.0, 0.0, 0.5), (6.0, 1.0, 0.5)),
]


@pytest.mark.parametrize("repeat", [1, 3], ids=["peaks", "with level stretches"])
def test_the_standards_example(repeat: int) -> None:
    found = rainflow(np.repeat(HISTORY, repeat))
    totals: dict[float, float] = {}
    for size, _, count in found.tolist():
        totals[size] = totals.get(size, 0.0) + count
    assert totals == COUNTED
    assert sorted(map(tuple, found.tolist())) == sorted(CYCLES)


def test_as_charge_of_a_battery() -> None:
    """The same history between 0.2 and 0.92 of a battery's charge, in hours between its turns."""
    hours = np.interp(np.arange(0.0, 8.01, 0.25), np.arange(9), HISTORY)
    found = rainflow(0.52 + 0.08 * hours)
    sizes, _, counts = found.T
    totals = {size: counts[np.isclose(sizes, 0.08 * size)].sum() for size in COUNTED}
    assert totals == COUNTED
    assert counts.sum() == sum(COUNTED.values())


@pytest.mark.parametrize("seed", range(5))
def test_long_histories_as_another_program_counts_them(seed: int) -> None:
    """A year of hours that wander between empty and full, with level stretches, against the
    public package rainflow (MIT). Equal to rounding: sums and differences alone."""
    rng = np.random.default_rng(seed)
    steps = rng.normal(0.0, 0.08, 8760) * (rng.random(8760) > 0.2)
    soc = np.abs((np.cumsum(steps) + 1.0) % 2.0 - 1.0)
    ours = rainflow(soc)
    theirs = np.array([cycle[:3] for cycle in oracle.extract_cycles(soc)])
    assert len(ours) > 1000
    for found, expected in zip(
        *(table[np.lexsort(np.round(table, 9).T)] for table in (ours, theirs)), strict=True
    ):
        np.testing.assert_allclose(found, expected, atol=1e-12)
