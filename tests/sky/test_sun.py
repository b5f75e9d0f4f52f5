"""The thin layer over pvlib: moving tracks, closures, horizons, leap days and far years."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pvlib
import pytest
from numpy.typing import ArrayLike

from sim.arrays import Floats
from sim.sky.sun import (
    Sun,
    clear_sky,
    dni_extra,
    on_plane,
    position,
    shade,
    split_global,
)
from sim.sky.track import Track
from sim.sky.turbidity import linke_turbidity

NEAR_HORIZON_DEG = 87.0  # beyond which there is no beam in what is split
# Its clear sky over days, with the newest pandas.
LIBRARYS_OWN_WAY = pytest.mark.filterwarnings("ignore:DatetimeIndex.dayofyear is deprecated")


def track_of(
    start: str,
    hours: int,
    latitude: ArrayLike,
    longitude: ArrayLike,
    altitude_m: ArrayLike = 0.0,
    step_minutes: int = 60,
) -> Track:
    steps = round(hours * 60 / step_minutes)
    return Track(
        start_utc=np.datetime64(start, "s") + np.arange(steps) * np.timedelta64(step_minutes, "m"),
        step_minutes=step_minutes,
        latitude=np.ones(steps) * latitude,
        longitude=np.ones(steps) * longitude,
        altitude_m=np.ones(steps) * altitude_m,
    )


def part(track: Track, here: slice) -> Track:
    return replace(
        track,
        start_utc=track.start_utc[here],
        latitude=track.latitude[here],
        longitude=track.longitude[here],
        altitude_m=track.altitude_m[here],
    )


@pytest.fixture(scope="module")
def drive() -> Track:
    """Four days from 20 N to 60 N and across the date line, climbing to 2000 m."""
    share = np.linspace(0.0, 1.0, 96)
    return track_of("2024-02-27T00:00", 96, 20 + 40 * share, 170 + 20 * share, 2000 * share)


@pytest.fixture(scope="module")
def year() -> Track:
    """A leap year at 40 N 105 W."""
    return track_of("2024-01-01T00:00", 8784, 40.0, -105.0, 1600.0)


def test_middle_of_the_step(drive: Track) -> None:
    """The sun of an hour is that of its thirtieth minute, in steps of any length."""
    hourly = position(drive)
    minutes = track_of("2024-02-27T00:29", 1, 20.0, 170.0, step_minutes=2)
    assert position(part(minutes, slice(0, 1))).zenith[0] == pytest.approx(
        hourly.zenith[0], abs=1e-9
    )
    assert drive.mid_unix[0] == np.datetime64("2024-02-27T00:30:00", "s").astype(int)


def test_position_is_that_of_each_step_alone(drive: Track) -> None:
    """A moving track has the sun of each of its places; pvlib's front door takes one place."""
    sun = position(drive)
    for step in (0, 40, 95):
        alone = position(part(drive, slice(step, step + 1)))
        assert alone.zenith[0] == pytest.approx(sun.zenith[step], abs=1e-9)
        assert alone.azimuth[0] == pytest.approx(sun.azimuth[step], abs=1e-9)
        site = pvlib.location.Location(
            drive.latitude[step], drive.longitude[step], altitude=drive.altitude_m[step]
        )
        middle = np.array([drive.mid_unix[step]]).astype("datetime64[s]")
        theirs = site.get_solarposition(middle)
        assert sun.zenith[step] == pytest.approx(theirs["zenith"].iloc[0], abs=1e-4)
        assert sun.apparent_zenith[step] == pytest.approx(
            theirs["apparent_zenith"].iloc[0], abs=1e-3
        )
        assert sun.azimuth[step] == pytest.approx(theirs["azimuth"].iloc[0], abs=1e-3)


def test_longitude_may_be_counted_past_the_date_line(drive: Track) -> None:
    wrapped = replace(drive, longitude=(drive.longitude + 180.0) % 360.0 - 180.0)
    assert wrapped.longitude.min() < 0.0 < wrapped.longitude.max()
    assert position(drive).zenith == pytest.approx(position(wrapped).zenith, abs=1e-9)
    np.testing.assert_array_equal(linke_turbidity(drive), linke_turbidity(wrapped))


def test_refraction_lifts_the_sun_near_the_horizon_only(year: Track) -> None:
    sun = position(year)
    lift = sun.zenith - sun.apparent_zenith
    assert lift.min() >= 0.0
    assert 0.3 < lift[np.abs(sun.zenith - 90.0) < 0.5].max() < 0.6
    assert lift[sun.zenith < 45.0].max() < 0.02


@pytest.mark.parametrize("first", [1999, 2023, 2026, 2099])
def test_no_jump_at_new_year(first: int) -> None:
    """Over New Year the sun goes on as it did: time scale and day of year change smoothly."""
    sun = position(track_of(f"{first}-12-30T00:00", 96, 40.0, -105.0))
    noon = sun.zenith.reshape(4, 24).min(axis=1)
    # The declination moves by 0.06 to 0.10 degrees a day.
    assert np.abs(np.diff(noon)).max() < 0.11
    assert np.abs(np.diff(sun.dni_extra)).max() < 0.1


def test_leap_day() -> None:
    """29 February lies between its neighbours, and a leap year ends on day 366."""
    track = track_of("2024-02-28T12:00", 72, 40.0, 0.0)
    sun = position(track)
    noon = sun.zenith[[0, 24, 48]]
    assert np.diff(noon) == pytest.approx([-0.38, -0.38], abs=0.02)
    extra = sun.dni_extra[[0, 24, 48]]
    assert extra[0] > extra[1] > extra[2]
    assert extra[1] == pytest.approx((extra[0] + extra[2]) / 2.0, abs=0.05)
    last = dni_extra(track_of("2024-12-31T12:00", 24, 0.0, 0.0))
    assert np.abs(np.diff(last)).max() < 0.1


def test_extra_is_of_the_day_the_middle_lies_in() -> None:
    """A step over midnight UTC belongs to the day that holds its middle."""
    late = track_of("2024-03-31T23:45", 1, 0.0, 0.0, step_minutes=60)
    noon = track_of("2024-04-01T12:00", 1, 0.0, 0.0, step_minutes=60)
    np.testing.assert_array_equal(dni_extra(late), dni_extra(noon))


def test_extra_over_the_year(year: Track) -> None:
    """Highest early in January, lowest early in July, 3.3 % on either side of the mean."""
    extra = dni_extra(year)
    month = year.start_utc.astype("datetime64[M]").astype(int) % 12 + 1
    assert month[extra.argmax()] == 1
    assert month[extra.argmin()] == 7
    assert extra.max() / extra.min() == pytest.approx(1.069, abs=0.002)
    assert extra.mean() == pytest.approx(1366.1, abs=1.0)


@LIBRARYS_OWN_WAY
def test_turbidity_is_the_maps_at_each_place(drive: Track) -> None:
    """As pvlib looks it up one place at a time, on land, over sea and at the poles."""
    random = np.random.Generator(np.random.PCG64(1))
    latitudes = np.concatenate([random.uniform(-89.9, 89.9, 20), [20.0, -60.0, 45.0]])
    longitudes = np.concatenate([random.uniform(-179.9, 179.9, 20), [-160.0, 0.0, -30.0]])
    # Off the edges between cells, where either neighbour is right.
    latitudes, longitudes = latitudes + 0.01, longitudes + 0.01
    track = track_of("2023-06-30T20:00", len(latitudes), latitudes, longitudes)
    ours = linke_turbidity(track)
    for step, place in enumerate(zip(latitudes, longitudes, strict=True)):
        time = part(track, slice(step, step + 1)).start_utc
        theirs = pvlib.clearsky.lookup_linke_turbidity(pd.DatetimeIndex(time, tz="UTC"), *place)
        assert ours[step] == pytest.approx(theirs.iloc[0], rel=1e-14)
    assert (ours > 1.0).all()


@pytest.mark.parametrize(
    ("latitude", "longitude"),
    [(90.0, 0.0), (-90.0, 0.0), (0.0, 180.0), (0.0, -180.0), (90.0, 180.0), (-90.0, -180.0)],
)
def test_turbidity_at_the_edges_of_the_map(latitude: float, longitude: float) -> None:
    turbidity = linke_turbidity(track_of("2024-01-01T00:00", 1, latitude, longitude))
    assert 1.0 < turbidity[0] < 7.0


def test_turbidity_is_smooth_over_the_year(year: Track) -> None:
    """Interpolated by the day: no step at the end of a month, of February or of the year."""
    turbidity = linke_turbidity(year)
    monthly_range = turbidity.max() - turbidity.min()
    assert monthly_range > 0.5
    assert np.abs(np.diff(turbidity)).max() < monthly_range / 25.0
    assert abs(turbidity[-1] - turbidity[0]) < monthly_range / 25.0


@LIBRARYS_OWN_WAY
def test_clear_sky_is_pvlibs(drive: Track) -> None:
    """At each step the clear sky that pvlib's own front door gives at that place."""
    ghi, dni, dhi = clear_sky(drive, position(drive))
    for step in range(0, 96, 7):
        longitude = (drive.longitude[step] + 180.0) % 360.0 - 180.0
        site = pvlib.location.Location(
            drive.latitude[step], longitude, altitude=drive.altitude_m[step]
        )
        middle = np.array([drive.mid_unix[step]]).astype("datetime64[s]")
        theirs = site.get_clearsky(pd.DatetimeIndex(middle, tz="UTC"))
        assert ghi[step] == pytest.approx(theirs["ghi"].iloc[0], abs=0.2, rel=1e-3)
        assert dni[step] == pytest.approx(theirs["dni"].iloc[0], abs=0.2, rel=1e-3)
        assert dhi[step] == pytest.approx(theirs["dhi"].iloc[0], abs=2.0)


def test_clear_sky_closes_and_stays_in_bounds(year: Track) -> None:
    sun = position(year)
    ghi, dni, dhi = clear_sky(year, sun)
    np.testing.assert_allclose(dni * sun.cos_zenith + dhi, ghi, atol=1e-9)
    for values in (ghi, dni, dhi):
        assert np.isfinite(values).all()
        assert (values >= 0.0).all()
    assert (dni <= sun.dni_extra).all()
    # The sky gives no more than stands above it, but for the lift of refraction at the horizon.
    assert (ghi - sun.ghi_extra).max() < 5.0
    dark = sun.apparent_zenith >= 90.0
    assert dark.any()
    assert ghi[dark].max() == 0.0
    assert dni[dark].max() == 0.0


def test_clear_sky_is_brighter_higher_up() -> None:
    low, high = (
        clear_sky(track, position(track))
        for track in (
            track_of("2024-06-21T07:00", 24, 40.0, -105.0, altitude_m)
            for altitude_m in (0.0, 3000.0)
        )
    )
    assert high[0].sum() > low[0].sum()
    assert high[1].sum() > low[1].sum()


@pytest.mark.parametrize(
    ("day", "latitude", "bright"),
    [
        ("2024-06-21", 85.0, True),
        ("2024-12-21", 85.0, False),
        ("2024-12-21", -85.0, True),
        ("2024-06-21", -85.0, False),
    ],
)
def test_polar_day_and_night(day: str, latitude: float, bright: bool) -> None:
    track = track_of(f"{day}T00:00", 24, latitude, 19.0)
    sun = position(track)
    for values in clear_sky(track, sun):
        assert ((values > 0.0) == bright).all()
    dni, dhi = split_global(np.full((24, 2), 300.0), sun, track)
    assert (dni.max() > 0.0) == bright
    np.testing.assert_allclose(dni * sun.cos_zenith[:, None] + dhi, 300.0)


def grid_of_global(sun: Sun, draws: int = 12) -> Floats:
    """GHI from nothing to more than the sun can give. shape (H, draws)"""
    return np.linspace(0.0, 1.2, draws)[None, :] * sun.ghi_extra[:, None]


def test_split_closes_and_stays_in_bounds(year: Track) -> None:
    track = part(year, slice(0, 1200))
    sun = position(track)
    # Five W/m2 more than nothing, so that dawn has light with the sun still down.
    ghi = grid_of_global(sun) + 5.0
    dni, dhi = split_global(ghi, sun, track)
    np.testing.assert_allclose(dni * sun.cos_zenith[:, None] + dhi, ghi, atol=1e-9)
    assert dni.min() >= 0.0
    assert dhi.min() >= 0.0
    assert (dni <= sun.dni_extra[:, None]).all()
    assert dni[sun.zenith > NEAR_HORIZON_DEG].max() == 0.0
    assert (dhi <= ghi + 1e-9).all()


def test_split_of_a_bright_low_sun_is_capped() -> None:
    """The middle of an hour may stand lower than the hour's light: the beam has a ceiling."""
    sun = Sun(
        zenith=np.array([86.9]),
        apparent_zenith=np.array([86.7]),
        azimuth=np.array([250.0]),
        dni_extra=np.array([1400.0]),
    )
    track = track_of("2024-10-01T14:00", 1, 40.0, 0.0)
    dni, dhi = split_global(np.array([[150.0]]), sun, track)
    assert 0.0 < dni[0, 0] <= 1400.0
    assert dni[0, 0] * sun.cos_zenith[0] + dhi[0, 0] == pytest.approx(150.0)


def test_split_takes_one_draw_or_many(year: Track) -> None:
    track = part(year, slice(0, 48))
    sun = position(track)
    ghi = grid_of_global(sun)
    many = split_global(ghi, sun, track)
    for draw in range(ghi.shape[1]):
        one = split_global(ghi[:, draw], sun, track)
        np.testing.assert_array_equal(one[0], many[0][:, draw])
        np.testing.assert_array_equal(one[1], many[1][:, draw])


@pytest.fixture(scope="module")
def sky_of_a_week(year: Track) -> tuple[Sun, Floats, Floats, Floats]:
    track = part(year, slice(4000, 4168))
    sun = position(track)
    ghi = grid_of_global(sun, 6)
    dni, dhi = split_global(ghi, sun, track)
    return sun, ghi, dni, dhi


@pytest.mark.parametrize(("tilt", "facing"), [(15.0, 180.0), (45.0, 90.0), (90.0, 300.0)])
def test_plane_is_pvlibs(
    sky_of_a_week: tuple[Sun, Floats, Floats, Floats], tilt: float, facing: float
) -> None:
    sun, ghi, dni, dhi = sky_of_a_week
    plane = on_plane(ghi, dni, dhi, sun, tilt_deg=tilt, azimuth_deg=facing, albedo=0.25)
    for draw in range(ghi.shape[1]):
        theirs = pvlib.irradiance.get_total_irradiance(
            tilt,
            facing,
            sun.zenith,
            sun.azimuth,
            dni[:, draw],
            ghi[:, draw],
            dhi[:, draw],
            dni_extra=sun.dni_extra,
            albedo=0.25,
            model="haydavies",
        )
        np.testing.assert_allclose(plane.beam[:, draw], theirs["poa_direct"], atol=1e-9)
        np.testing.assert_allclose(plane.sky[:, draw], theirs["poa_sky_diffuse"], atol=1e-9)
        np.testing.assert_allclose(plane.ground[:, draw], theirs["poa_ground_diffuse"], atol=1e-9)
    aoi = pvlib.irradiance.aoi(tilt, facing, sun.zenith, sun.azimuth)
    np.testing.assert_allclose(plane.incidence, aoi, atol=1e-9)


def test_flat_panel_sees_ghi(sky_of_a_week: tuple[Sun, Floats, Floats, Floats]) -> None:
    """Wherever it faces; and its incidence is the zenith angle."""
    sun, ghi, dni, dhi = sky_of_a_week
    for facing in (0.0, 123.0):
        plane = on_plane(ghi, dni, dhi, sun, tilt_deg=0.0, azimuth_deg=facing)
        np.testing.assert_allclose(plane.beam + plane.sky + plane.ground, ghi, atol=1e-9)
        np.testing.assert_allclose(plane.incidence, sun.zenith, atol=1e-6)


def test_flat_panel_sees_all_of_the_diffuse_at_dusk() -> None:
    """Within a degree of the horizon pvlib's Hay-Davies holds the sun's surroundings down."""
    sun = Sun(
        zenith=np.array([89.5]),
        apparent_zenith=np.array([89.1]),
        azimuth=np.array([270.0]),
        dni_extra=np.array([1400.0]),
    )
    diffuse = np.array([[20.0]])
    plane = on_plane(diffuse, np.array([[300.0]]), diffuse, sun, tilt_deg=0.0, azimuth_deg=180.0)
    assert plane.sky[0, 0] == 20.0


def test_panel_may_turn_with_the_van(sky_of_a_week: tuple[Sun, Floats, Floats, Floats]) -> None:
    """Tilt and direction by the step give what each step alone would."""
    sun, ghi, dni, dhi = sky_of_a_week
    hours = len(ghi)
    tilt = np.where(np.arange(hours) % 2 == 0, 0.0, 40.0)
    facing = np.linspace(0.0, 359.0, hours)
    turning = on_plane(ghi, dni, dhi, sun, tilt_deg=tilt, azimuth_deg=facing)
    for step in (12, 13, 19, 20):
        one = on_plane(ghi, dni, dhi, sun, tilt_deg=tilt[step], azimuth_deg=facing[step])
        for name in ("beam", "sky", "ground"):
            np.testing.assert_allclose(getattr(turning, name)[step], getattr(one, name)[step])


def test_no_beam_from_below_the_horizon() -> None:
    """An hour of a file may hold beam while the sun is down in its middle."""
    sun = Sun(
        zenith=np.array([90.4]),
        apparent_zenith=np.array([90.0]),
        azimuth=np.array([270.0]),
        dni_extra=np.array([1400.0]),
    )
    beam, diffuse = np.array([[200.0]]), np.array([[30.0]])
    wall = on_plane(diffuse, beam, diffuse, sun, tilt_deg=90.0, azimuth_deg=270.0, albedo=0.0)
    assert wall.beam[0, 0] == 0.0
    assert wall.sky[0, 0] == pytest.approx(15.0)  # half of an even sky


def test_panel_towards_the_sun_gains() -> None:
    """Facing the winter sun at noon gives more than lying flat, facing away gives less."""
    track = track_of("2024-12-21T18:30", 1, 40.0, -105.0)
    sun = position(track)
    ghi, dni, dhi = (values[:, None] for values in clear_sky(track, sun))
    south, flat, north = (
        sum(part[0, 0] for part in (plane.beam, plane.sky, plane.ground))
        for plane in (
            on_plane(ghi, dni, dhi, sun, tilt_deg=tilt, azimuth_deg=facing)
            for tilt, facing in ((40.0, 180.0), (0.0, 180.0), (40.0, 0.0))
        )
    )
    assert south > 1.5 * flat
    assert north < 0.5 * flat


def test_open_stop_loses_nothing(sky_of_a_week: tuple[Sun, Floats, Floats, Floats]) -> None:
    sun, ghi, dni, dhi = sky_of_a_week
    nothing = np.zeros(len(ghi))
    ours = shade(dni, dhi, sun, shade_fraction=nothing, horizon_deg=nothing)
    for before, after in zip((ghi, dni, dhi), ours, strict=True):
        np.testing.assert_allclose(after, before, atol=1e-9)


def test_shade_takes_beam_and_half_as_much_diffuse(
    sky_of_a_week: tuple[Sun, Floats, Floats, Floats],
) -> None:
    sun, _, dni, dhi = sky_of_a_week
    flat = np.zeros(len(dni))
    shaded_ghi, shaded_dni, shaded_dhi = shade(
        dni, dhi, sun, shade_fraction=flat + 0.6, horizon_deg=flat
    )
    np.testing.assert_allclose(shaded_dni, 0.4 * dni)
    np.testing.assert_allclose(shaded_dhi, 0.7 * dhi)
    np.testing.assert_allclose(shaded_ghi, shaded_dni * sun.cos_zenith[:, None] + shaded_dhi)


def test_skyline_hides_the_low_sun(sky_of_a_week: tuple[Sun, Floats, Floats, Floats]) -> None:
    """Beam gone below the skyline and whole above it; an even sky seen to cos(h) squared."""
    sun, _, dni, dhi = sky_of_a_week
    flat = np.zeros(len(dni))
    _, seen_dni, seen_dhi = shade(dni, dhi, sun, shade_fraction=flat, horizon_deg=flat + 30.0)
    # Half an hour moves the sun by 7.5 degrees at most.
    low, high = sun.apparent_zenith > 67.5, sun.apparent_zenith < 52.5
    assert dni[low].max() > 0.0
    assert seen_dni[low].max() == 0.0
    np.testing.assert_array_equal(seen_dni[high], dni[high])
    np.testing.assert_allclose(seen_dhi, 0.75 * dhi)


def test_a_skyline_cleared_within_a_step_hides_the_sun_for_a_part_of_it() -> None:
    """By the hour as by the minute: time above the skyline in each morning hour."""
    above = []
    for step_minutes in (60, 1):
        track = track_of("2024-05-01T10:00", 5, 40.0, -105.0, step_minutes=step_minutes)
        sun = position(track)
        one, flat = np.ones((len(track), 1)), np.zeros(len(track))
        _, seen, _ = shade(one, one, sun, shade_fraction=flat, horizon_deg=flat + 20.0)
        above.append(seen.reshape(5, -1).mean(axis=1))
    by_hour, by_minute = above
    assert ((by_minute > 0.0) & (by_minute < 1.0)).any()
    np.testing.assert_allclose(by_hour, by_minute, atol=0.03)


def test_an_empty_track_has_an_empty_sun() -> None:
    empty = track_of("2024-01-01T00:00", 0, 40.0, -105.0)
    sun = position(empty)
    assert len(empty) == 0
    assert sun.zenith.shape == sun.dni_extra.shape == (0,)
    assert all(values.shape == (0,) for values in clear_sky(empty, sun))
