"""What sun and engine offer, from the job's panels and alternator."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from sim.job.model.changes import with_values
from sim.job.model.job import Job
from sim.sky.sun import Sun, clear_sky, position
from sim.sky.track import Weather
from sim.trip.demand import demand
from sim.trip.one_panel import panel_watts
from sim.trip.sources import other_sources, panel_unit, sun_source
from sim.trip.timeline import Timeline, build_timeline
from sim.trip.weather import track_of, under_shade
from sim.van.bank.sources import DRIVE, Source, of_kind

MakeJob = Callable[..., Job]


def under_clear_sky(job: Job, trip: int = 0) -> tuple[Timeline, Weather, Sun]:
    timeline = build_timeline(job, job.trips[trip])
    track = track_of(timeline)
    sun = position(track)
    sky = [part[:, None] for part in clear_sky(track, sun)]
    return timeline, Weather(*sky, np.full_like(sky[0], 15.0)), sun


def from_sun(job: Job, trip: int = 0) -> Source:
    """What the job's panels offer."""
    timeline, weather, sun = under_clear_sky(job, trip)
    units = [panel_unit(group, job, timeline, weather, sun) for group in job.panels]
    return sun_source(
        units,
        [tuple(group.count for group in job.panels)],
        shape=(len(timeline), 1),
        charging_v=job.battery.charging_v,
    )


def from_engine(job: Job, trip: int = 0, air_c: float = 15.0) -> tuple[np.ndarray, Timeline]:
    """What the engine offers in air of one temperature. [W], shape (H,)"""
    timeline, weather, sun = under_clear_sky(job, trip)
    weather = replace(weather, temp_air=np.full_like(weather.temp_air, air_c))
    wants = demand(job, timeline, weather, sun)
    track = track_of(timeline)
    sources = other_sources(job, job.trips[trip], timeline, track, weather.temp_air, wants)
    return of_kind(sources, DRIVE)[:, 0], timeline


def alone(job: Job, group: int, trip: int = 0, **changes: object) -> np.ndarray:
    """Watts of one group, before its controller."""
    timeline, weather, sun = under_clear_sky(job, trip)
    changed = with_values(job.panels[group], changes)
    return changed.count * panel_watts(changed, timeline, weather, sun)[:, 0]


def test_groups_add_up_each_behind_its_own_controller(make_job: MakeJob) -> None:
    """8 A at 13.4 V are 107 W: the first controller clips at noon, the second does not."""
    job = make_job()
    given = from_sun(job, trip=1)
    flat, tilted = (0.96 * alone(job, group, trip=1) for group in (0, 1))
    np.testing.assert_allclose(
        given.offered_w[:, 0], np.minimum(flat, 8.0 * 13.4) + tilted, rtol=1e-12
    )
    lost_w = given.lost_w
    assert lost_w is not None
    np.testing.assert_allclose(lost_w[:, 0], np.maximum(flat - 8.0 * 13.4, 0.0), atol=1e-9)
    assert lost_w.max() > 1.0


def test_no_panels_no_sun(make_job: MakeJob) -> None:
    job = make_job()
    job = with_values(job, {"panels": ()})
    given = from_sun(job)
    assert not given.offered_w.any()
    assert given.lost_w is not None
    assert not given.lost_w.any()
    none = make_job(("count = 1\nmount", "count = 0\nmount"))
    only_flat = from_sun(none, trip=1)
    np.testing.assert_allclose(
        only_flat.offered_w[:, 0], np.minimum(0.96 * alone(none, 0, trip=1), 8.0 * 13.4)
    )


def test_more_panels_never_offer_less(make_job: MakeJob) -> None:
    job = make_job()
    one = from_sun(job).offered_w
    groups = (with_values(job.panels[0], {"count": 3}), job.panels[1])
    three = from_sun(with_values(job, {"panels": groups})).offered_w
    assert (three >= one).all()
    assert three.sum() > one.sum()
    np.testing.assert_allclose(alone(job, 1, count=3), 3.0 * alone(job, 1, count=1), rtol=1e-12)


def test_engine_offers_while_it_drives(make_job: MakeJob) -> None:
    given, timeline = from_engine(make_job(("dcdc_amps = 30", "dcdc_amps = 30\nstart_minutes = 0")))
    np.testing.assert_allclose(given, timeline.driving * 30.0 * 13.4)
    # Two hours to the first stop, half an hour on the one day there, three and a half on.
    assert given.sum() == pytest.approx((2.0 + 0.5 + 3.5) * 402.0)
    # Three starts, after each of which two minutes go to the engine's own battery.
    started, _ = from_engine(make_job())
    assert started.sum() == pytest.approx((6.0 - 3 * 2 / 60) * 402.0)
    text = "[alternator]\ndcdc_amps = 30\n\n"
    without, _ = from_engine(make_job((text, "")))
    assert not without.any()


def test_an_engine_that_idles_in_camp_gives_its_share(make_job: MakeJob) -> None:
    own = "\nspare_amps = 40\nhot_loss_pct = 0\nefficiency = 1\nstart_minutes = 0"
    keys = ("dcdc_amps = 30", f"dcdc_amps = 30{own}")
    idle = ("local_drive_hours = 0.5", "local_drive_hours = 0.5\nidle_hours = 2")
    plain, _ = from_engine(make_job(keys))
    given, timeline = from_engine(make_job(keys, idle))
    assert timeline.idling.sum() >= 2.0
    # 40 % of 40 A at 13.5 V, less than the charger's 402 W.
    more = given - plain
    np.testing.assert_allclose(more, timeline.idling * 0.4 * 40.0 * 13.5)


def test_an_engine_that_idles_in_camp_has_been_started_for_it(make_job: MakeJob) -> None:
    """Two hours at 40 % of 40 A and 13.5 V, less the two minutes after the start."""
    own = "\nspare_amps = 40\nhot_loss_pct = 0\nefficiency = 1"
    keys = ("dcdc_amps = 30", f"dcdc_amps = 30{own}")
    idle = ("local_drive_hours = 0.5", "local_drive_hours = 0.5\nidle_hours = 2")
    plain, _ = from_engine(make_job(keys))
    given, timeline = from_engine(make_job(keys, idle))
    evenings = timeline.idling.sum() / 2.0
    assert evenings >= 1.0
    more = (given - plain).sum()
    assert more == pytest.approx(evenings * (2.0 - 2 / 60) * 0.4 * 40.0 * 13.5)


@pytest.mark.parametrize(("air_c", "loss"), [(-15.0, 1 / 13), (25.0, 0.2), (38.0, 0.24)])
def test_a_cold_day_gives_more_than_a_hot_one(make_job: MakeJob, air_c: float, loss: float) -> None:
    """A loss of 20 % at 25 degrees outside belongs to 65 K above the rating's 25 degrees: 25 K
    at -15 outside make 20 % x 25 / 65, 78 K at 38 make 24 %."""
    keys = ("dcdc_amps = 30", "dcdc_amps = 30\nspare_amps = 25\nstart_minutes = 0")
    given, timeline = from_engine(make_job(keys), air_c=air_c)
    drives = timeline.driving == 1.0
    assert drives.any()
    np.testing.assert_allclose(given[drives], 25.0 * (1.0 - loss) * 13.5 * 0.9)


def test_many_short_drives_charge_less_than_one_long(make_job: MakeJob) -> None:
    """Half an hour in six drives of five minutes: five starts more, two minutes each."""
    hour = "local_drive_hours = 0.5"
    once, _ = from_engine(make_job())
    often, _ = from_engine(make_job((hour, f"{hour}\nlocal_drives = 6")))
    assert once.sum() - often.sum() == pytest.approx(5 * 2 / 60 * 402.0)


def test_a_tilted_panel_lies_flat_on_the_road(make_job: MakeJob) -> None:
    job = make_job()
    timeline, _, _ = under_clear_sky(job)
    tilted, flat = alone(job, 1), alone(job, 1, mount="flat", tilt_deg=None)
    road, parked = timeline.driving == 1.0, timeline.driving == 0.0
    np.testing.assert_allclose(tilted[road], flat[road], rtol=1e-12)
    noon = parked & (np.abs(timeline.clock[:, 0] / 60.0 - 13.0) < 1.5)
    # Spring at 38 N: a panel that faces the noon sun by 30 degrees gets more.
    assert (tilted[noon] > 1.08 * flat[noon]).all()
    part = (timeline.driving > 0.0) & (timeline.driving < 1.0)
    assert part.any()


def test_a_panel_tilted_by_nothing_is_flat(make_job: MakeJob) -> None:
    job = make_job()
    np.testing.assert_array_equal(
        alone(job, 1, tilt_deg=0.0), alone(job, 1, mount="flat", tilt_deg=None)
    )


@pytest.mark.parametrize(("place", "noon"), [("38.57, -109.55", 180.0), ("-38.57, -68.0", 0.0)])
def test_a_panel_left_to_itself_faces_the_noon_sun(
    make_job: MakeJob, place: str, noon: float
) -> None:
    summer = 'depart = 2027-07-10\n\n[[trips.stops]]\nplace = "38.57, -109.55"'
    job = make_job((summer, f'depart = 2027-03-20\n\n[[trips.stops]]\nplace = "{place}"'))
    left, facing, away = (
        alone(job, 1, trip=1, facing_deg=facing).sum() for facing in (None, noon, 180.0 - noon)
    )
    assert left == pytest.approx(facing, rel=1e-12)
    assert left > 1.2 * away


def test_east_sees_the_morning_and_west_the_evening(make_job: MakeJob) -> None:
    job = make_job()
    timeline, _, _ = under_clear_sky(job, trip=1)
    east, west = (alone(job, 1, trip=1, facing_deg=facing) for facing in (90.0, 270.0))
    hour = timeline.clock[:, 0] / 60.0
    assert east[hour == 8.0].min() > 1.3 * west[hour == 8.0].max()
    assert west[hour == 18.0].min() > 1.3 * east[hour == 18.0].max()


def test_shade_and_skyline_take_their_part(make_job: MakeJob) -> None:
    no_horizon, no_shade = (
        ("horizon_deg = 10", "horizon_deg = 0"),
        ("shade_pct = 40", "shade_pct = 0"),
    )
    open_sky, trees, hills = (
        make_job(no_horizon, no_shade),
        make_job(no_horizon),
        make_job(no_shade),
    )
    bright, shaded = (from_sun(job).offered_w for job in (open_sky, trees))
    light, under_trees, behind = (level(job) for job in (open_sky, trees, hills))
    timeline = build_timeline(trees, trees.trips[0])
    there = timeline.shade > 0.0
    sunny = (timeline.shade > 0.39) & (bright[:, 0] > 30.0)
    assert sunny.sum() > 15
    assert (shaded[sunny] < 0.8 * bright[sunny]).all()
    np.testing.assert_array_equal(shaded[~there], bright[~there])
    np.testing.assert_array_equal(under_trees[~there], light[~there])
    timeline = build_timeline(hills, hills.trips[0])
    low = (timeline.horizon_deg > 0.0) & (light[:, 0] < 100.0) & (light[:, 0] > 20.0)
    assert low.any()
    assert (behind[low] < light[low]).all()


def level(job: Job) -> np.ndarray:
    """Light on a level surface at the stops. [W/m2]"""
    timeline, weather, sun = under_clear_sky(job)
    return under_shade(weather, timeline, sun).ghi


def test_an_open_sky_is_left_as_it_is(make_job: MakeJob) -> None:
    """Even one whose parts do not quite close, as a measured file's do not."""
    timeline, weather, sun = under_clear_sky(make_job(), trip=1)
    odd = Weather(weather.ghi * 1.02, weather.dni, weather.dhi, weather.temp_air)
    assert under_shade(odd, timeline, sun) is odd
    timeline, weather, sun = under_clear_sky(make_job(), trip=0)
    odd = Weather(weather.ghi * 1.02, weather.dni, weather.dhi, weather.temp_air)
    under = under_shade(odd, timeline, sun)
    road = timeline.driving == 1.0
    np.testing.assert_array_equal(under.ghi[road], odd.ghi[road])
    np.testing.assert_array_equal(under.temp_air, odd.temp_air)
