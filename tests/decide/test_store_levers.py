"""Levers on tanks."""

from __future__ import annotations

from collections.abc import Callable

from sim.decide.levers import store_levers
from sim.decide.levers.lever import changed_by
from sim.job.model.job import Job

Edited = Callable[..., Job]
TANKS = """
[propane]
tank_l = 20
[water]
fresh_l = 60
[[water.grey]]
name = "Sink"
capacity_l = 40
takes = ["kitchen", "basin"]
[[water.grey]]
name = "Shower"
capacity_l = 30
takes = ["shower"]
"""


def test_larger_tanks_keep_one_another(small_job: str, edited: Edited) -> None:
    """Pulled together, whichever comes first, none takes back what the other did."""
    job = edited(small_job, end=TANKS)
    (propane,) = store_levers.larger_propane_tank(job)
    (fresh,) = store_levers.larger_fresh_tank(job)
    (grey,) = store_levers.larger_grey_tanks(job)
    for order in ((propane, fresh, grey), (grey, fresh, propane)):
        changed = changed_by(job, order)
        assert changed.propane is not None
        assert changed.water is not None
        assert (changed.propane.tank_l, changed.water.fresh_l) == (40.0, 90.0)
        assert [tank.capacity_l for tank in changed.water.grey] == [80.0, 60.0]


def test_a_tank_that_is_not_there_or_too_large_grows_no_more(
    small_job: str, edited: Edited
) -> None:
    none = edited(small_job)
    huge = edited(small_job, end=TANKS.replace("tank_l = 20", "tank_l = 300"))
    for make in (store_levers.larger_propane_tank, store_levers.larger_fresh_tank):
        assert list(make(none)) == []
    assert list(store_levers.larger_grey_tanks(none)) == []
    assert list(store_levers.larger_propane_tank(huge)) == []
