"""Snow on the panels over a trip: whose it is, who clears it, and where it stands in the ledger."""

from __future__ import annotations

from collections.abc import Callable

import pytest

import sim
from sim.job.model.changes import with_values
from sim.job.model.job import Job
from sim.trip.designs import design_of, offers_of
from sim.trip.one_panel import snow_on
from sim.trip.prepare import PreparedTrip, prepare_trip
from sim.van import snow

MakeJob = Callable[..., Job]
FIRST = 'depart = 2027-03-30\nstart = "39.0, -109.0"\n\n[[trips.stops]]\nplace = "38.57, -109.55"'
# The Alps in January at 1500 m: dull days near freezing are common.
ALPS = (FIRST, 'depart = 2027-01-05\n\n[[trips.stops]]\nplace = "47.16, 11.51, 1500 m"')
STAY = ("nights = 2\ndrive_hours = 2\nlocal_drive_hours = 0.5", "nights = 12")
ENDS = ('place = "37.30, -110.00"\nnights = 2', 'place = "47.16, 11.51, 1500 m"\nnights = 2')
WINTER = (ALPS, STAY, ENDS, ("draws = 6", "draws = 40"))


def winter(make_job: MakeJob, *changes: tuple[str, str], **living: object) -> PreparedTrip:
    job = make_job(*WINTER, *changes)
    job = with_values(job, {"living": with_values(job.living, living)})
    return prepare_trip(job, job.trips[0])


def harvest(done: PreparedTrip) -> float:
    """Offered by the panels, mean over draws. [Wh/day]"""
    return 24.0 * float(offers_of(done, [design_of(done.job)]).sources[0].offered_w.mean())


def snowed(done: PreparedTrip) -> float:
    """What snow keeps from them. [Wh/day]"""
    return sum(
        unit.group.count * unit.group.controller_efficiency * unit.snowed_wh_day
        for unit in done.units
    )


def test_what_snow_keeps_is_what_is_missing(make_job: MakeJob) -> None:
    """Before controllers' limits, harvest and snow together are the harvest of bare panels."""
    done = winter(make_job, ("controller_amps = 8", "controller_amps = 300"))
    assert snowed(done) > 0.02 * harvest(done)
    warm = done.sky.weather.temp_air + 40.0
    assert (warm > snow.SNOWS_BELOW_C).all()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(snow, "SNOWS_BELOW_C", -100.0)
        bare = prepare_trip(done.job, done.trip)
    assert snowed(bare) == 0.0
    assert harvest(done) + snowed(done) == pytest.approx(harvest(bare), rel=1e-9)


def test_the_broom_the_road_and_the_tilt_clear(make_job: MakeJob) -> None:
    lying = winter(make_job)
    swept = winter(make_job, clear_snow="each morning")
    drive = ("horizon_deg = 10", "horizon_deg = 10\nlocal_drive_hours = 1")
    driven = winter(make_job, drive)
    flat, tilted = (lost_share(lying, group) for group in (0, 1))
    assert 0.02 < flat < 0.9
    assert tilted < 0.8 * flat
    assert lost_share(swept, 0) < 0.7 * flat
    assert lost_share(driven, 0) < 0.8 * flat


def lost_share(done: PreparedTrip, group: int) -> float:
    """Share of the light of one group that falls on snow."""
    cover = snow_on(done.job.panels[group], done.job, done.timeline, done.sky.weather, done.sky.sun)
    assert cover is not None
    light = done.sky.weather.ghi
    return float((cover * light).sum() / light.sum())


def test_no_snow_in_summer_nor_on_what_is_carried_in(make_job: MakeJob) -> None:
    job = make_job()
    summer = prepare_trip(job, job.trips[1])
    assert snowed(summer) == 0.0
    carried = ('mount = "tilted"\ntilt_deg = 30', 'mount = "portable"\ntilt_deg = 30')
    done = winter(make_job, carried)
    args = (done.job, done.timeline, done.sky.weather, done.sky.sun)
    assert snow_on(done.job.panels[1], *args) is None
    assert snow_on(done.job.panels[0], *args) is not None


def test_snow_is_told_apart_from_sun_nothing_took(make_job: MakeJob) -> None:
    """Of no part in what went unharvested, whose causes still add up to it."""
    job = make_job(*WINTER)
    trip = sim.simulate(job).trips[0]
    done = prepare_trip(job, job.trips[0])
    assert trip.snowed_wh_day == pytest.approx(snowed(done))
    assert trip.snowed_wh_day > 1.0
    total = sum(trip.unharvested_by_cause.values())
    assert total == pytest.approx(trip.energy.unharvested)


def test_shorter_steps_see_the_same_snow(make_job: MakeJob) -> None:
    """Within 3 % of the light; a broom that comes at seven comes at seven in both."""
    short = ("seed = 8", "seed = 8\nstep_minutes = 10")
    for living in ({}, {"clear_snow": "each morning"}):
        hourly, fine = winter(make_job, **living), winter(make_job, short, **living)
        assert lost_share(hourly, 0) == pytest.approx(lost_share(fine, 0), abs=0.03)


def test_in_the_polar_night_no_snow_is_seen(make_job: MakeJob) -> None:
    """No sun comes to the edge of the air, so no day is duller than another."""
    north = ("47.16, 11.51, 1500 m", "71.0, 25.8, 100 m")
    dark = winter(make_job, (ALPS[1], ALPS[1].replace(*north)), (ENDS[1], ENDS[1].replace(*north)))
    assert dark.sky.sun.ghi_extra.sum() < 1.0
    assert dark.sky.weather.temp_air.min() < snow.SNOWS_BELOW_C
    assert snowed(dark) == 0.0
