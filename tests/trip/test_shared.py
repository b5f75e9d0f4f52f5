"""What changes of a job share: loads that see nothing of the change, panels likewise."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from sim.job.model.changes import with_values
from sim.job.model.job import Job
from sim.sky.track import Weather
from sim.trip import demand as demand_module
from sim.trip import prepare as prepare_module
from sim.trip import sources as sources_module
from sim.trip.demand import demand
from sim.trip.prepare import LOADS_LOOK_PAST, Skies, prepare_trip, prepare_trips
from sim.trip.timeline import build_timeline
from sim.trip.weather import under_shade

MakeJob = Callable[..., Job]


class Blind:
    """A job, or a section of it, of which some keys must not be read."""

    def __init__(self, seen: Any, hidden: frozenset[str], **instead: Any) -> None:
        self._seen, self._hidden, self._instead = seen, hidden, instead

    def __getattr__(self, name: str) -> Any:
        assert name not in self._hidden, f"the loads look at {name}"
        return self._instead.get(name, getattr(self._seen, name))


@pytest.fixture
def full_job(make_job: MakeJob) -> Job:
    return make_job()


def test_loads_look_past_what_they_are_shared_over(full_job: Job) -> None:
    battery = full_job.battery
    seen_of_battery = Blind(battery, frozenset(("count", "capacity_wh", "chemistry")))
    living = Blind(full_job.living, frozenset(("clear_snow",)))
    blind: Any = Blind(full_job, LOADS_LOOK_PAST, battery=seen_of_battery, living=living)
    for trip in full_job.trips:
        timeline = build_timeline(full_job, trip)
        above = Skies().over(full_job, trip, timeline)
        found = demand(blind, timeline, above.weather, above.sun)
        whole = demand(full_job, timeline, above.weather, above.sun)
        np.testing.assert_array_equal(found.wanted_w, whole.wanted_w)


def test_the_shade_of_stops_is_worked_out_once(
    full_job: Job, monkeypatch: pytest.MonkeyPatch
) -> None:
    """For cabin, panels and bank; and anew where the stops have other trees."""
    worked_out = []

    def counted(*asked: Any) -> Weather:
        worked_out.append(asked)
        return under_shade(*asked)

    for module in (demand_module, prepare_module, sources_module):
        monkeypatch.setattr(module, "under_shade", counted)
    skies, trip = Skies(), full_job.trips[0]
    first = prepare_trip(full_job, trip, skies=skies)
    assert len(worked_out) == 1
    stops = tuple(with_values(stop, {"shade_pct": 100.0}) for stop in trip.stops)
    dim = prepare_trip(full_job, with_values(trip, {"stops": stops}), skies=skies)
    assert len(worked_out) == 2
    assert dim.ghi.sum() < 0.9 * first.ghi.sum()
    assert dim.units[0].watts.sum() < 0.9 * first.units[0].watts.sum()


def test_a_timeline_looks_at_what_it_is_shared_over(full_job: Job) -> None:
    """And at nothing else."""
    hidden = frozenset(type(full_job).model_fields) - {"settings", "living", "alternator"}
    seen = {"step_minutes", "wind_m_s"}
    settings = Blind(full_job.settings, frozenset(type(full_job.settings).model_fields) - seen)
    blind: Any = Blind(full_job, hidden, settings=settings)
    for trip in full_job.trips:
        assert build_timeline(blind, trip).digest == build_timeline(full_job, trip).digest
    skies, trip = Skies(), full_job.trips[0]
    fewer = with_values(full_job, {"living": with_values(full_job.living, {"people": 1})})
    assert skies.timeline(full_job, trip) is skies.timeline(full_job, trip)
    assert skies.timeline(fewer, trip).people.max() == 1.0


def test_trips_prepared_together_are_those_prepared_alone(full_job: Job) -> None:
    living = with_values(full_job.living, {"people": 4, "out": ()})
    ways = [
        (job, x)
        for job in (full_job, with_values(full_job, {"living": living}))
        for x in full_job.trips
    ]
    for threads in (1, 2):
        together = prepare_trips(ways, skies=Skies(), jobs=threads)
        for one, (job, trip) in zip(together, ways, strict=True):
            alone = prepare_trip(job, trip)
            assert (one.job, one.trip) == (job, trip)
            np.testing.assert_array_equal(one.wants.wanted_w, alone.wants.wanted_w)
            np.testing.assert_array_equal(one.wants.cabin_c, alone.wants.cabin_c)
            np.testing.assert_array_equal(one.bank.charge_allowed, alone.bank.charge_allowed)


def test_a_change_that_loads_do_not_see_shares_them(full_job: Job) -> None:
    skies, trip = Skies(), full_job.trips[0]
    as_is = prepare_trip(full_job, trip, skies=skies)
    more = with_values(full_job.battery, {"count": full_job.battery.count + 1})
    with_bank = prepare_trip(with_values(full_job, {"battery": more}), trip, skies=skies)
    assert with_bank.wants is as_is.wants
    assert all(a.watts is b.watts for a, b in zip(with_bank.units, as_is.units, strict=True))
    group = with_values(full_job.panels[0], {"count": full_job.panels[0].count + 1})
    panels = (group, *full_job.panels[1:])
    with_panel = prepare_trip(with_values(full_job, {"panels": panels}), trip, skies=skies)
    assert with_panel.wants is as_is.wants
    assert with_panel.units[0].group.count == group.count


def test_a_change_that_loads_see_does_not(full_job: Job) -> None:
    skies, trip = Skies(), full_job.trips[0]
    as_is = prepare_trip(full_job, trip, skies=skies)
    for changed in (
        with_values(full_job, {"appliances": full_job.appliances[1:]}),
        with_values(full_job, {"living": with_values(full_job.living, {"people": 1})}),
        with_values(full_job, {"van": with_values(full_job.van, {"glass_m2": 9.0})}),
    ):
        own = prepare_trip(changed, trip, skies=skies)
        alone = prepare_trip(changed, trip)
        assert own.wants is not as_is.wants
        assert own.sky is as_is.sky
        np.testing.assert_array_equal(own.wants.wanted_w, alone.wants.wanted_w)
    stop = with_values(trip.stops[0], {"plug_in": "always"})
    plugged = with_values(trip, {"stops": (stop, *trip.stops[1:])})
    assert prepare_trip(full_job, plugged, skies=skies).wants is not as_is.wants
    dirty = with_values(full_job.panels[0], {"soiling_pct": 30.0})
    soiled = with_values(full_job, {"panels": (dirty, *full_job.panels[1:])})
    unit = prepare_trip(soiled, trip, skies=skies).units[0]
    assert unit.watts.sum() < as_is.units[0].watts.sum()
