"""What may fall behind, and whether essentials depend on it."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from sim.ledger.promise import store_lacks


@pytest.mark.parametrize(
    ("kind", "burns", "priority", "count", "essential"),
    [
        ("propane", "propane", "essential", 1, True),
        ("propane", "propane", "comfort", 1, False),
        ("propane", "propane", "essential", 0, False),
        ("propane", "electricity", "essential", 1, False),
        ("fresh", "electricity", "comfort", 1, True),
        ("grey", "propane", "essential", 1, False),
    ],
)
def test_a_tank_is_essential_for_what_it_feeds(
    kind: str, burns: str, priority: str, count: int, essential: bool
) -> None:
    tank = SimpleNamespace(kind=kind, name="Tank", out_at_h=np.array([5.0]), missed_per_day=1.0)
    device = SimpleNamespace(count=count, priority=priority, heat_from=burns)
    (lack,) = store_lacks((tank,), (device,), 3)  # type: ignore[arg-type]
    assert lack.is_essential == essential
    assert lack.first_h.tolist() == [5.0] * 3
