"""The clear sky of `sim.sky.sun.clear_sky` against a measured day and against another model."""

from __future__ import annotations

import numpy as np
import pytest

from sim.sky.sun import clear_sky, position
from sim.sky.track import Track


def one_day(start_utc: str, latitude: float, longitude: float, altitude_m: float) -> Track:
    """24 hourly steps at one place."""
    here = np.ones(24)
    return Track(
        start_utc=np.datetime64(start_utc, "s") + np.arange(24) * np.timedelta64(3600, "s"),
        step_minutes=60,
        latitude=latitude * here,
        longitude=longitude * here,
        altitude_m=altitude_m * here,
    )


def test_measured_clear_day() -> None:
    """Alamosa, Colorado, 2317 m, UTC day 2016-01-01, cloudless: GHI 3.395, DNI 8.541 kWh/m2.

    Source: NOAA SURFRAD network, San Luis Valley, one-minute data, file slv16001.dat, summed.

    Tolerance 10 %: the turbidity is a mean of many Januaries, the air of that day cleaner
    than it; thermopile instruments are good to 2 to 5 %. The model is the lower (GHI by 6 %,
    DNI by 8 %), which is the careful side.
    """
    track = one_day("2016-01-01T00:00:00", 37.70, -105.92, 2317.0)
    ghi, dni, _ = (part.sum() / 1000.0 for part in clear_sky(track, position(track)))
    assert ghi == pytest.approx(3.395, rel=0.10)
    assert dni == pytest.approx(8.541, rel=0.10)


# R. E. Bird, R. L. Hulstrom, A simplified clear sky model for direct and diffuse insolation,
# SERI/TR-642-761, 1981: NREL's spreadsheet BIRD_08_16_2012 as kept in pvlib's tests, 1 January
# at 40 N 105 W, 840 hPa, ozone 0.3 cm, water 1.5 cm, aerosol depth 0.15 (380 nm) and 0.1
# (500 nm): hour ending (UTC-7), zenith in the middle of it [degrees], DNI, GHI [W/m2].
BIRD = [
    (9, 80.203, 492.19, 135.71),
    (10, 72.427, 685.32, 282.77),
    (12, 63.524, 805.17, 450.22),
    (13, 63.374, 806.68, 452.98),
]
BIRD_DAY_GHI_WH_M2 = 2566.0
BIRD_ALTITUDE_M = 1554.0  # of 840 hPa in the standard atmosphere


def test_bird_clear_day() -> None:
    """Two clear-sky models of one winter day: they need not agree, but must not part company.

    Tolerances: GHI 3 % over the day and 10 % in an hour; DNI 20 %. Bird is given a haze, and
    ours takes the turbidity of the place, which puts 13 to 19 % more into the beam and a
    third to a half less into the diffuse part, so that what falls on the plain is alike.
    Zenith 0.1 degrees: the spreadsheet's sun is a Fourier series by the day. The hours count
    by their end; an hour off is 8 degrees in the morning.
    """
    track = one_day("2012-01-01T07:00:00", 40.0, -105.0, BIRD_ALTITUDE_M)
    sun = position(track)
    ghi, dni, _ = clear_sky(track, sun)
    for hour_ending, zenith, bird_dni, bird_ghi in BIRD:
        step = hour_ending - 1
        assert sun.zenith[step] == pytest.approx(zenith, abs=0.1)
        assert dni[step] == pytest.approx(bird_dni, rel=0.20)
        assert ghi[step] == pytest.approx(bird_ghi, rel=0.10)
    assert ghi.sum() == pytest.approx(BIRD_DAY_GHI_WH_M2, rel=0.03)
