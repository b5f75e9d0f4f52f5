"""The sun from few moments of the long series is the sun of the whole algorithm."""

from __future__ import annotations

import numpy as np
import pvlib
import pytest
from pvlib import spa

from sim.arrays import Floats
from sim.sky.ephemeris import NODE_S, geocentric
from sim.sky.sun import position
from sim.sky.track import Track

# A ten-millionth of a degree is a hundredth of a millisecond of the sun's way over the sky.
CLOSE_DEG = 1e-7


def unix(date: str) -> int:
    return int(np.datetime64(date, "s").astype(np.int64))


def turned(one: Floats, other: Floats) -> Floats:
    """Angle between two bearings. [degrees]"""
    return np.abs((one - other + 180.0) % 360.0 - 180.0)


@pytest.mark.parametrize(("first", "last"), [(1950, 1980), (2000, 2040), (2070, 2100)])
def test_position_is_that_of_the_whole_algorithm(first: int, last: int) -> None:
    rng = np.random.Generator(np.random.PCG64(first))
    count = 4000
    start = np.sort(rng.integers(unix(f"{first}-01-01"), unix(f"{last}-01-01"), count))
    track = Track(
        start.astype("datetime64[s]"),
        20,
        np.concatenate([[-90.0, 90.0, 0.0], rng.uniform(-90.0, 90.0, count - 3)]),
        rng.uniform(-180.0, 180.0, count),
        rng.uniform(-400.0, 5000.0, count),
    )
    month = track.start_utc.astype("datetime64[M]").astype(int)
    apparent, zenith, _, _, azimuth, _ = spa.solar_position(
        track.mid_unix,
        track.latitude,
        track.longitude,
        track.altitude_m,
        pvlib.atmosphere.alt2pres(track.altitude_m) / 100.0,
        12.0,
        spa.calculate_deltat(1970 + month // 12, 1 + month % 12),
        0.5667,
    )
    found = position(track)
    assert np.abs(found.zenith - zenith).max() < CLOSE_DEG
    assert np.abs(found.apparent_zenith - apparent).max() < CLOSE_DEG
    # Overhead no bearing means anything.
    sideways = turned(found.azimuth, azimuth) * np.sin(np.radians(zenith))
    assert sideways.max() < CLOSE_DEG


def test_it_runs_on_smoothly_where_one_piece_meets_the_next() -> None:
    """Also where the right ascension begins anew, on the day of the spring equinox."""
    moments = unix("2026-03-19") + np.arange(0.0, 4 * 86400.0, 60.0)
    delta_t = 69.0
    # Some fall on a node to the second, in terrestrial time.
    moments = np.sort(np.append(moments, np.arange(40, 44) * NODE_S + unix("2026-03-01") - delta_t))
    found = geocentric(moments, np.full(len(moments), delta_t))
    sidereal, ascension, declination = spa.solar_position(
        moments, 0.0, 0.0, 0.0, 0.0, 0.0, np.full(len(moments), delta_t), 0.0, sst=True
    )[:3]
    assert ascension.max() > 359.0
    assert ascension.min() < 1.0
    assert turned(found.sidereal_deg, sidereal).max() < CLOSE_DEG
    assert turned(found.right_ascension_deg, ascension).max() < CLOSE_DEG
    assert np.abs(found.declination_deg - declination).max() < CLOSE_DEG


def test_one_moment_is_enough() -> None:
    (distance,) = geocentric(np.array([float(unix("2026-01-03T18:00"))]), np.array([69.0]))[3]
    # At perihelion: 147.1 million km of 149.6 (from memory, sure).
    assert distance == pytest.approx(0.9833, abs=1e-4)
