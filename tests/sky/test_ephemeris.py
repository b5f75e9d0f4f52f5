"""The sun from the middle of the earth: read from a table, as the library gives it."""

from __future__ import annotations

import numpy as np
import pytest
from pvlib import spa

from sim.sky.ephemeris import from_centre

_UNIX_ZERO = 2440587.5


@pytest.mark.parametrize("year", [1950, 1999, 2027, 2099])
def test_it_is_the_librarys_at_any_time(year: int) -> None:
    """A year by seconds that no table has, over every edge between tables."""
    first = np.datetime64(f"{year}-01-01T00:00:17").astype("datetime64[s]").astype(np.float64)
    unix = first + 1234.5 * np.arange(366 * 70)
    day, zero = spa.julian_day(unix), np.zeros(1)
    found = from_centre(day)
    sidereal, ascension, declination = spa.solar_position(
        unix, zero, zero, zero, 0.0, 0.0, 0.0, 0.0, sst=True
    )
    (distance,) = spa.solar_position(unix, zero, zero, zero, 0.0, 0.0, 0.0, 0.0, esd=True)
    apart = (found.ascension - ascension + 180.0) % 360.0 - 180.0
    assert np.abs(apart).max() < 1e-10
    assert np.abs(found.declination - declination).max() < 1e-10
    assert np.abs(found.distance_au - distance).max() < 1e-13
    mean = spa.mean_sidereal_time(day, spa.julian_century(day))
    assert np.abs(mean + found.equinoxes - sidereal).max() < 1e-10


def test_a_time_is_the_same_among_others_and_alone() -> None:
    day = 2461041.5 + np.array([0.0, 400.3, 15.999999, 16.0, -3.2])
    many = from_centre(day)
    for number, one in enumerate(day):
        alone = from_centre(np.array([one]))
        assert alone.ascension[0] % 360.0 == many.ascension[number] % 360.0
        assert alone.declination[0] == many.declination[number]
        assert alone.equinoxes[0] == many.equinoxes[number]
