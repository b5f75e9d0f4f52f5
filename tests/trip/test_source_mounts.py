"""Portable panels, sides of the van and its heading, PWM and standby of controllers, shadows."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from sim.job.model.changes import with_values
from sim.job.model.job import SURROUNDINGS, Job
from sim.ledger.study import run_designs
from sim.sky.sun import clear_sky, position
from sim.sky.track import Weather
from sim.trip.designs import design_of, offers_of, potential_wh
from sim.trip.prepare import prepare_trip
from sim.trip.sources import panel_unit, sun_source
from sim.trip.timeline import Timeline, build_timeline
from sim.trip.weather import track_of
from sim.van.bank.sources import SUN

MakeJob = Callable[..., Job]
TILTED = 'mount = "tilted"\ntilt_deg = 30\n'
LAST_STOP = 'place = "38.57, -109.55"\nnights = 3'


def given(job: Job, trip: int = 1) -> tuple[np.ndarray, Timeline]:
    """What all panels offer. [W], shape (H,)"""
    timeline = build_timeline(job, job.trips[trip])
    track = track_of(timeline)
    sun = position(track)
    sky = [part[:, None] for part in clear_sky(track, sun)]
    weather = Weather(*sky, np.full_like(sky[0], 15.0))
    units = [panel_unit(group, job, timeline, weather, sun) for group in job.panels]
    source = sun_source(
        units,
        [tuple(group.count for group in job.panels)],
        shape=(len(timeline), 1),
        charging_v=job.battery.charging_v,
    )
    return source.offered_w[:, 0], timeline


def sun_of(job: Job, trip: int = 1, **changes: object) -> np.ndarray:
    """What the second group alone offers. [W]"""
    group = with_values(job.panels[1], changes)
    return given(with_values(job, {"panels": (group,)}), trip)[0]


def test_portable_panels_are_out_while_parked_and_up(make_job: MakeJob) -> None:
    job = make_job((TILTED, 'mount = "portable"\ntilt_deg = 30\n'))
    out, fixed = sun_of(job, 0), sun_of(job, 0, mount="tilted")
    timeline = given(job, 0)[1]
    up = timeline.share_within([(7 * 60, 22 * 60 + 30)])
    road = timeline.driving > 0.0
    assert not out[timeline.driving == 1.0].any()
    assert not out[up == 0.0].any()
    assert fixed[(up == 0.0) | road].max() > 1.0
    np.testing.assert_allclose(out[~road], (fixed * up)[~road], rtol=1e-12)


@pytest.mark.parametrize(
    ("side", "turned"), [("front", 0.0), ("right", 90.0), ("rear", 180.0), ("left", 270.0)]
)
def test_a_side_of_a_van_with_a_known_heading(make_job: MakeJob, side: str, turned: float) -> None:
    job = make_job((LAST_STOP, LAST_STOP + "\nheading_deg = 40"))
    on_side = sun_of(job, side=side)
    facing = sun_of(job, facing_deg=40.0 + turned)
    np.testing.assert_allclose(on_side, facing, rtol=1e-9, atol=1e-9)


def test_an_unknown_heading_is_the_mean_of_all(make_job: MakeJob) -> None:
    """The same for each side, and that of eight vans around the compass."""
    job = make_job(("controller_amps = 20", "controller_amps = 200"))
    sides = [sun_of(job, side=side) for side in ("front", "right", "left")]
    np.testing.assert_allclose(sides[0], sides[1], rtol=1e-9, atol=1e-9)
    np.testing.assert_allclose(sides[0], sides[2], rtol=1e-9, atol=1e-9)
    around = [sun_of(job, facing_deg=float(facing)) for facing in range(0, 360, 45)]
    np.testing.assert_allclose(sides[0], np.mean(around, axis=0), rtol=1e-9, atol=1e-9)
    # It is worth less than facing the noon sun, and more than turning away from it.
    assert sun_of(job, facing_deg=0.0).sum() < sides[0].sum() < sun_of(job).sum()


def test_a_pwm_controller_on_60_cells_loses_more_than_half(make_job: MakeJob) -> None:
    job = make_job()
    best = sun_of(job)
    small = sun_of(job, controller="pwm", vmp_v=19.0)
    large = sun_of(job, controller="pwm", vmp_v=31.0)
    pair = sun_of(job, controller="pwm", vmp_v=19.0, series=2)
    noon = best > 0.8 * best.max()
    # Warm cells have less voltage to waste: 45 to 60 deg C at noon.
    assert (small[noon] > 13.6 / 19.0 * best[noon]).all()
    assert (small[noon] < 0.85 * best[noon]).all()
    assert (large[noon] < 0.52 * best[noon]).all()
    np.testing.assert_allclose(pair, small / 2.0, rtol=1e-12)


def on_bank(job: Job, nominal_v: float, charging_v: float) -> Job:
    """The job with a bank of another voltage."""
    bank = with_values(job.battery, {"nominal_v": nominal_v, "charging_v": charging_v})
    return with_values(job, {"battery": bank})


def test_a_string_below_the_banks_voltage_gives_nothing(make_job: MakeJob) -> None:
    """19 V on 24 V and 48 V behind a controller that steps down; two and four of them do."""
    job = make_job(("controller_amps = 20", "controller_amps = 200"))
    full = sun_of(job)
    assert full.max() > 100.0
    for nominal_v, charging_v, enough in ((25.6, 27.2, 2), (51.2, 54.4, 4)):
        other = on_bank(job, nominal_v, charging_v)
        assert not sun_of(other).any()
        assert not sun_of(other, series=enough - 1).any() or enough == 4
        np.testing.assert_allclose(sun_of(other, series=enough), full, rtol=1e-12)
        np.testing.assert_allclose(sun_of(other, controller="boost"), full, rtol=1e-12)
        # Without the panel's voltage nothing can be said.
        np.testing.assert_allclose(sun_of(other, vmp_v=None), full, rtol=1e-12)


def test_a_string_that_runs_may_fail_to_start(make_job: MakeJob) -> None:
    """31 V and 37 V open, at dawn and noon alike near 15 deg C and above: 38.0 V in the cold."""
    job = on_bank(make_job(("controller_amps = 20", "controller_amps = 200")), 25.6, 27.2)
    string = {"vmp_v": 31.0, "voc_v": 37.0}
    assert sun_of(job, **string).any()
    assert not sun_of(job, **string, start_above_v=13.0).any()
    assert sun_of(job, **string, start_above_v=12.0).any()


def test_standby_is_taken_once_from_each_controller(make_job: MakeJob) -> None:
    job = make_job(("controller_amps = 20", "controller_amps = 200"))
    np.testing.assert_allclose(
        sun_of(job, controller_standby_watts=5.0), np.maximum(sun_of(job) - 5.0, 0.0), atol=1e-9
    )


def test_shadows_of_the_roof_take_their_share(make_job: MakeJob) -> None:
    job = make_job(("controller_amps = 20", "controller_amps = 200"))
    np.testing.assert_allclose(sun_of(job, obstructed_pct=15.0), 0.85 * sun_of(job), rtol=1e-12)


def test_a_study_knows_controllers_and_mounts(make_job: MakeJob) -> None:
    """One lane of a study is the same van as in the pipeline, whatever its controllers."""
    import sim

    job = make_job(
        (TILTED, 'mount = "portable"\ntilt_deg = 30\ncontroller_standby_watts = 4\n'),
        (
            "controller_amps = 8",
            'controller_amps = 8\ncontroller = "pwm"\nvmp_v = 19\nobstructed_pct = 10',
        ),
    )
    for trip, result in zip(job.trips, sim.simulate(job).trips, strict=True):
        found = run_designs(prepare_trip(job, trip), [design_of(job)])
        np.testing.assert_allclose(found.lowest_soc[0], result.lowest, atol=1e-9)


@pytest.mark.parametrize("name", sorted(SURROUNDINGS))
def test_surroundings_set_shade_and_skyline(make_job: MakeJob, name: str) -> None:
    stop = make_job((LAST_STOP, f'{LAST_STOP}\nsurroundings = "{name}"')).trips[1].stops[0]
    assert {"shade_pct": stop.shade_pct, "horizon_deg": stop.horizon_deg} == SURROUNDINGS[name]
    own = f'{LAST_STOP}\nsurroundings = "{name}"\nshade_pct = 3'
    stop = make_job((LAST_STOP, own)).trips[1].stops[0]
    assert (stop.shade_pct, stop.horizon_deg) == (3.0, SURROUNDINGS[name]["horizon_deg"])


def test_denser_surroundings_leave_less_sun(make_job: MakeJob) -> None:
    harvest = []
    for name in ("open", "some trees", "forest"):
        job = make_job((LAST_STOP, f'{LAST_STOP}\nsurroundings = "{name}"'))
        harvest.append(given(job)[0].sum())
    assert harvest[0] > 1.15 * harvest[1] > 1.15 * 1.3 * harvest[2]


def test_a_controller_takes_its_standby_from_what_the_sun_could_give(make_job: MakeJob) -> None:
    """What a study counts as possible is what one run offers, with what its controllers clip."""
    for standby in (0.0, 5.0):
        job = make_job(
            ("controller_amps = 20", f"controller_amps = 20\ncontroller_standby_watts = {standby}")
        )
        prepared = prepare_trip(job, job.trips[1])
        (sun,) = (x for x in offers_of(prepared, [design_of(job)]).sources if x.kind == SUN)
        assert sun.lost_w is not None
        expected = (sun.offered_w + sun.lost_w).sum(axis=0)
        np.testing.assert_allclose(potential_wh(prepared, [design_of(job)])[0], expected)


def test_nothing_comes_of_a_polar_night(make_job: MakeJob) -> None:
    """Not even with a controller that waits for the day's first light."""
    job = make_job()
    timeline = build_timeline(job, job.trips[1])
    sun, dark = position(track_of(timeline)), np.zeros((len(timeline), 2))
    weather = Weather(dark, dark, dark, dark - 20.0)
    group = with_values(job.panels[1], {"vmp_v": 18.0, "voc_v": 22.0})
    assert not panel_unit(group, job, timeline, weather, sun).watts.any()
