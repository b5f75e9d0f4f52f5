"""What a trip would need: the job with it."""

from __future__ import annotations

from sim.decide.needs import Need, with_need
from sim.job.model.job import Job


def test_a_need_is_put_into_the_job(unsure: Job) -> None:
    """Panels for the whole job; driving and plugs at every stop of the one trip."""
    assert [group.count for group in with_need(unsure, 0, Need("panels", 5.0)).panels] == [5]
    driven, plugged = (with_need(unsure, 0, Need(x, 3.0)) for x in ("driving", "plug"))
    assert [stop.local_drive_hours for stop in driven.trips[0].stops] == [3.0, 3.0]
    assert [stop.plug_in for stop in plugged.trips[0].stops] == ["always", "always"]
    for changed in (driven, plugged):
        assert changed.trips[1] == unsure.trips[1]
        assert changed.panels == unsure.panels
