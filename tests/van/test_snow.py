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
    tilt_deg: float = 0.0,
    step_hours: float = 1.0,
) -> np.ndarray:
    falls = np.array(falling, dtype=np.float64)[:, None]
    at = np.zeros(len(falls), dtype=bool)
    at[list(swept)] = True
    temp = np.broadcast_to(np.asarray(temp_c, dtype=np.float64).reshape(-1, 1), falls.shape)
    return snow.snow_cover(
        falls, np.full(falls.shape, poa), temp, at, tilt_deg=tilt_deg, step_hours=step_hours
    )[:, 0]


def test_it_snows_on_dull_days_near_freezing() -> None:
    clearness = np.array([0.10, 0.15, 0.225, 0.30, 0.70, 0.10])
    temp = np.array([-5.0, 0.9, -5.0, -5.0, -20.0, 1.0])
    np.testing.assert_allclose(snow.snowfall(clearness, temp), [1.0, 1.0, 0.5, 0.0, 0.0, 0.0])


def test_a_snowfall_takes_its_hours_and_lies_until_it_thaws() -> None:
    got = cover([0.9] * 12 + [0.0] * 24)
    np.testing.assert_allclose(got[:6], 0.9 * np.arange(1, 7) / 6.0)
    np.testing.assert_allclose(got[6:], 0.9)
    # Two degrees above freezing clear it in twelve hours of the twenty-four of one degree.
    thaw = cover([1.0] * 12 + [0.0] * 24, temp_c=[-5.0] * 12 + [2.0] * 24)
    assert thaw[12 + 10] == pytest.approx(1.0 - 11 * 2.0 / 24.0)
    assert thaw[12 + 12] == 0.0


def test_it_does_not_slide_while_it_snows() -> None:
    """A lighter snowfall on a panel that is covered already, then a dry day."""
    got = cover([1.0] * 6 + [0.5] * 6 + [0.0] * 3, tilt_deg=45.0, poa=500.0)
    np.testing.assert_allclose(got[5:12], 1.0)
    slid = snow.SLIDE_SHARE_H * np.sin(np.radians(45.0))
    np.testing.assert_allclose(got[12:], 1.0 - slid * np.arange(1, 4))


def test_swept_it_is_gone_until_more_falls() -> None:
    got = cover([1.0] * 12 + [0.0] * 12, swept=(8, 18))
    assert got[7] == 1.0
    # It snows on: the broom helps for the next hours alone.
    assert got[8] == pytest.approx(1.0 / 6.0)
    assert got[17] > 0.6
    assert not got[18:].any()


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
    melted = max(temp, 0.0) / snow.MELTS_K_H
    expected = np.maximum(theirs - melted * np.arange(12), 0.0)
    np.testing.assert_allclose(lying, expected, atol=0.01)


def slid(tilt: float, temp: float, poa: float) -> np.ndarray:
    """From full cover on: it snowed for a night in the dark, then the given hours."""
    night, hours = 7, 12
    falling = np.array([1.0] * night + [0.0] * hours)[:, None]
    light = np.array([0.0] * night + [poa] * hours)[:, None]
    air = np.array([-5.0] * night + [temp] * hours)[:, None]
    done = snow.snow_cover(
        falling, light, air, np.zeros(night + hours, dtype=bool), tilt_deg=tilt, step_hours=1.0
    )[:, 0]
    return done[night - 1 : night - 1 + hours]


def test_too_cold_to_slide() -> None:
    assert (slid(30.0, -10.0, 500.0) == 1.0).all()
    assert slid(30.0, -5.0, 500.0)[-1] == 0.0


def test_steps_of_any_length_agree() -> None:
    falling = [0.8] * 10 + [0.0] * 30
    temp = list(np.linspace(-4.0, 6.0, 40))
    hourly = cover(falling, temp_c=temp, poa=100.0, tilt_deg=20.0)
    fine = cover(
        list(np.repeat(falling, 12)),
        temp_c=list(np.repeat(temp, 12)),
        poa=100.0,
        tilt_deg=20.0,
        step_hours=1 / 12,
    )
    np.testing.assert_allclose(hourly, fine[11::12], atol=0.02)
