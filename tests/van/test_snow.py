"""Snow on panels: falls on dull cold days, lies, slides, melts, is swept."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from pvlib.snow import coverage_nrel

from sim.van import snow


def cover(
    falling: list[float],
    *,
    temp_c: float | list[float] = -5.0,
    poa: float = 0.0,
    swept: tuple[int, ...] = (),
    driven: tuple[int, ...] = (),
    tilt_deg: float = 0.0,
    step_hours: float = 1.0,
) -> np.ndarray:
    falls = np.array(falling, dtype=np.float64)[:, None]
    at = np.zeros(len(falls))
    at[list(swept)], at[list(driven)] = 1e-9, 0.5
    temp = np.broadcast_to(np.asarray(temp_c, dtype=np.float64).reshape(-1, 1), falls.shape)
    day = (np.arange(len(falls)) * step_hours // 24).astype(np.int64)
    return snow.snow_cover(
        falls, np.full(falls.shape, poa), temp, at, day, tilt_deg=tilt_deg, step_hours=step_hours
    )[:, 0]


def test_it_snows_on_dull_days_near_freezing() -> None:
    clearness = np.array([0.10, 0.15, 0.275, 0.40, 0.70, 0.10])
    temp = np.array([-5.0, 1.4, -5.0, -5.0, -20.0, 1.5])
    np.testing.assert_allclose(snow.snowfall_mm(clearness, temp), [12.0, 12.0, 6.0, 0.0, 0.0, 0.0])


def test_a_snowfall_takes_its_hours_and_lies_until_it_thaws() -> None:
    # 1.8 mm of water do not cover all of it.
    got = cover([1.8] * 12 + [0.0] * 24)
    np.testing.assert_allclose(got[:6], 0.9 * np.arange(1, 7) / 6.0)
    np.testing.assert_allclose(got[6:], 0.9)
    # Two degrees above freezing melt 2 x 15 Wh of 92.8 in an hour: 0.323 mm.
    thaw = cover([1.8] * 12 + [0.0] * 24, temp_c=[-5.0] * 12 + [2.0] * 24)
    assert thaw[12 + 3] == pytest.approx((1.8 - 4 * 30.0 / 92.78) / 2.0, abs=1e-3)
    assert thaw[12 + 6] == 0.0


def test_a_degree_above_freezing_melts_what_degree_days_say() -> None:
    """Published factors are 2 to 6 mm/K day; 12 mm under a degree of warmth last three days."""
    got = cover([12.0] * 24 + [0.0] * 120, temp_c=[-5.0] * 24 + [1.0] * 120)
    gone = int(np.argmin(got[24:] > 0.0))
    assert 2.0 < 12.0 / (gone / 24.0) < 6.0


def test_the_sun_melts_what_frost_keeps() -> None:
    """A fifth of 600 W/m2 is 120, of which -2 degrees take 30: 0.97 mm an hour."""
    got = cover([12.0] * 24 + [0.0] * 24, temp_c=-2.0, poa=600.0)
    dark = cover([12.0] * 24 + [0.0] * 24, temp_c=-2.0)
    assert got[24 + 12] == 0.0
    assert dark[-1] == 1.0


def test_two_days_of_the_same_snow_are_twice_the_snow() -> None:
    once = cover([2.0] * 24 + [0.0] * 48, temp_c=[-5.0] * 48 + [3.0] * 24)
    twice = cover([2.0] * 48 + [0.0] * 24, temp_c=[-5.0] * 48 + [3.0] * 24)
    assert (twice[48:] > 0.0).sum() > 1.5 * (once[48:] > 0.0).sum()


def test_it_does_not_slide_while_it_snows() -> None:
    got = cover([60.0] * 24, tilt_deg=45.0, temp_c=-3.0, poa=500.0)
    np.testing.assert_allclose(got[:6], 1.0)
    slid = snow.SLIDE_SHARE_H * np.sin(np.radians(45.0))
    np.testing.assert_allclose(got[6:10], 1.0 - slid * np.arange(1, 5))


def test_swept_it_is_gone_until_more_falls() -> None:
    got = cover([6.0] * 24 + [0.0] * 12, swept=(3, 30))
    assert got[2] == 1.0
    # It snows on: the broom helps for an hour.
    assert got[3] == pytest.approx(0.5)
    assert got[29] == 1.0
    assert not got[30:].any()


def test_the_wind_of_the_road_keeps_off_what_falls() -> None:
    """Half an hour on the road: only the snow of the other half lies."""
    got = cover([6.0] * 24, driven=(3,))
    assert got[3] == pytest.approx(0.25)
    assert got[4] == pytest.approx(0.75)


# pvlib asks pandas for the spacing of its hours in a way that pandas will change.
@pytest.mark.filterwarnings("ignore:A future version of pandas")
@pytest.mark.parametrize(("tilt", "temp", "poa"), [(30.0, -5.0, 500.0), (60.0, 0.5, 10.0)])
def test_it_slides_off_as_published(tilt: float, temp: float, poa: float) -> None:
    """Marion et al., Solar Energy 97 (2013) 112-121, by pvlib: within a hundredth of the height."""
    hours = pd.date_range("2027-01-01", periods=12, freq="1h")
    fell = pd.Series([5.0] + [0.0] * 11, index=hours)
    theirs = coverage_nrel(
        fell, pd.Series(poa, index=hours), pd.Series(temp, index=hours), tilt
    ).to_numpy()
    lying = slid(tilt, temp, poa)
    np.testing.assert_allclose(lying, theirs, atol=0.01)


def slid(tilt: float, temp: float, poa: float) -> np.ndarray:
    """From full cover on: it snowed for a night in the dark, more than the day can melt."""
    night, hours = 24, 12
    falling = np.array([100.0] * night + [0.0] * hours)[:, None]
    light = np.array([0.0] * night + [poa] * hours)[:, None]
    air = np.array([-30.0] * night + [temp] * hours)[:, None]
    day = np.repeat(np.array([0, 1]), [night, hours])
    bare = np.zeros(night + hours)
    done = snow.snow_cover(falling, light, air, bare, day, tilt_deg=tilt, step_hours=1.0)[:, 0]
    return done[night - 1 : night - 1 + hours]


def test_too_cold_to_slide() -> None:
    assert (slid(30.0, -10.0, 500.0) == 1.0).all()
    assert slid(30.0, -5.0, 500.0)[-1] == 0.0


def test_steps_of_any_length_agree() -> None:
    falling = [8.0] * 10 + [0.0] * 30
    temp = list(np.linspace(-4.0, 6.0, 40))
    hourly = cover(falling, temp_c=temp, poa=100.0, tilt_deg=20.0)
    fine = cover(
        list(np.repeat(falling, 12)),
        temp_c=list(np.repeat(temp, 12)),
        poa=100.0,
        tilt_deg=20.0,
        step_hours=1 / 12,
    )
    np.testing.assert_allclose(hourly, fine[11::12], atol=0.05)
