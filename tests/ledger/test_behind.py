"""What falls behind, counted from sums: each design by itself, and what counts as a miss."""

from __future__ import annotations

import numpy as np
import pytest

from sim.ledger.behind import Behind, Totals, behind_of, draws_behind
from sim.ledger.promise import Lack

INF = np.inf


def tank(name: str, first_h: list[float], missing: float) -> Lack:
    return Lack("stores", "grey", (name,), False, np.array(first_h), missing)


# Three designs in four draws. The first holds in all of them; the second is dark in three: by its
# essentials alone, by its comforts, and by both.
TOTALS = Totals(
    dark_hours=np.array([[0.0, 0, 0, 0], [2, 3, 0, 5], [1, 0, 0, 0]]),
    essential_dark_hours=np.array([[0.0, 0, 0, 0], [2, 0, 0, 5], [0, 0, 0, 0]]),
    lowest=np.full((3, 4), 0.5),
    unharvested_wh_per_day=np.zeros(3),
    lacks=[
        (tank("Never", [INF, INF, INF, INF], 0.0),),
        (tank("Sinks", [7.0, INF, 9.0, INF], 12.0),),
        (tank("Shower", [INF, INF, INF, 1.0], 3.0), tank("Never", [INF, INF, INF, INF], 0.0)),
    ],
    unserved_wh=np.array(
        [
            # What is missed in no dark hour is a rounding, however often it comes.
            [[0.0, 0, 1e-3, 0], [10, 0, 0, 30], [0, 0, 0, 0]],
            [[0.0, 0, 1e-3, 0], [0, 20, 0, 40], [8, 0, 0, 0]],
            [[0.0, 0, 0, 1e-3], [1e-9, 5, 1e-3, 15], [1, 0, 0, 0]],
        ]
    ),
)


def test_each_design_counts_its_own() -> None:
    assert behind_of(TOTALS, 0) == ()
    assert behind_of(TOTALS, 1) == (
        Behind("essentials", "electricity", (), True, 2, 20.0),
        # Not in the first draw: of its comforts nothing is missed in what is dark.
        Behind("comforts", "electricity", (), False, 2, 40.0),
        Behind("stores", "grey", ("Sinks",), False, 2, 12.0),
    )
    assert behind_of(TOTALS, 2) == (
        Behind("comforts", "electricity", (), False, 1, 9.0),
        Behind("stores", "grey", ("Shower",), False, 1, 3.0),
    )


@pytest.mark.parametrize(("group", "draws"), [("essentials", 2), ("comforts", 2), ("stores", 0)])
def test_draws_in_which_electricity_falls_behind(group: str, draws: int) -> None:
    assert draws_behind(behind_of(TOTALS, 1), group) == draws  # type: ignore[arg-type]


def test_where_the_lacks_hold_the_electricity_it_is_counted_once() -> None:
    electric = Lack("comforts", "electricity", (), False, np.array([3.0, INF, INF, INF]), 9.0)
    known = Totals(
        dark_hours=TOTALS.dark_hours[2:],
        essential_dark_hours=TOTALS.essential_dark_hours[2:],
        lowest=TOTALS.lowest[2:],
        unharvested_wh_per_day=np.zeros(1),
        lacks=[(electric, *TOTALS.lacks[2])],
    )
    assert behind_of(known, 0) == behind_of(TOTALS, 2)
