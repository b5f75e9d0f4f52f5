"""What each kind of appliance draws."""

from __future__ import annotations

import numpy as np
import pytest

from sim.van import appliances

ONE = np.ones(1)


def lights(zenith: list[float], awake: float = 1.0) -> list[float]:
    return appliances.lights_share(np.array(zenith), np.full(len(zenith), awake)).tolist()


def test_lights_only_in_the_dark() -> None:
    assert lights([20.0, 20.0, 20.0]) == [0.0] * 3
    assert lights([91.0, 91.0, 91.0]) == [0.0] * 3  # bright dusk
    assert lights([97.0, 97.0, 97.0]) == [1.0] * 3
    assert lights([140.0]) == [1.0]


def test_lights_only_for_people_awake() -> None:
    assert lights([120.0, 120.0], awake=0.0) == [0.0, 0.0]
    assert lights([120.0, 120.0], awake=0.3) == [0.3, 0.3]


@pytest.mark.parametrize("step_minutes", [5, 20, 60])
@pytest.mark.parametrize("phase", [0.0, 0.21, 0.5, 0.83])
def test_lights_come_on_at_dusk_whatever_the_step(step_minutes: int, phase: float) -> None:
    """A sun that sinks by 12 degrees an hour: dark time is counted to the minute."""
    hours = np.arange(0.0, 9.0, step_minutes / 60.0) + step_minutes / 120.0
    zenith = 93.0 + 12.0 * (hours - 4.0 - phase)
    on = appliances.lights_share(zenith, np.ones(len(hours))).sum() * step_minutes / 60.0
    assert on == pytest.approx(9.0 - 4.0 - phase, abs=1e-9)


def cold_box(ambient: float, **changes: float) -> float:
    unit = {"rated_wh_day": 480.0, "rated_ambient_c": 25.0, "inside_c": 5.0, "max_watts": 50.0}
    return float(appliances.cold_box_watts(np.array([ambient]), **{**unit, **changes})[0])


def test_cold_box_at_its_rating() -> None:
    assert cold_box(25.0) == pytest.approx(20.0, rel=1e-12)


def test_cold_box_from_25_to_32_degrees_is_within_the_physical_band() -> None:
    """Inside at 5 deg C the heat gain alone rises by 27/20 = 1.35; an ideal (Carnot) machine also
    needs 27/20 more work per heat: 1.82. A real one lies between."""
    gain = (32.0 - 5.0) / (25.0 - 5.0)
    carnot = gain * (32.0 - 5.0) / (25.0 - 5.0)
    assert (round(gain, 2), round(carnot, 2)) == (1.35, 1.82)
    assert gain < cold_box(32.0) / cold_box(25.0) < carnot


def test_cold_box_rises_with_the_cabin_up_to_its_compressor() -> None:
    watts = [cold_box(ambient) for ambient in (-10.0, 5.0, 6.0, 15.0, 25.0, 35.0, 60.0, 80.0)]
    assert watts[:2] == [0.0, 0.0]
    assert (np.diff(watts[1:-1]) > 0.0).all()
    assert watts[-1] == 50.0


def test_freezer_suffers_less_from_a_warmer_cabin() -> None:
    freezer = cold_box(32.0, inside_c=-18.0) / cold_box(25.0, inside_c=-18.0)
    assert 1.0 < freezer < cold_box(32.0) / cold_box(25.0)


def test_heater_blower_by_its_duty() -> None:
    watts = appliances.heater_watts(
        np.array([0.0, 1000.0, 4000.0]), blower_watts=42.0, full_heat_watts=4000.0
    )
    assert watts.tolist() == [0.0, 10.5, 42.0]


def test_fan_by_the_thermostat_while_somebody_is_aboard() -> None:
    cabin = np.array([[20.0, 25.0], [26.5, 28.0], [40.0, 40.0]])
    share = appliances.fan_share(cabin, np.array([1.0, 1.0, 0.5]), on_above_c=25.0)
    np.testing.assert_allclose(share, [[0.0, 0.0], [0.5, 1.0], [0.5, 0.5]])
