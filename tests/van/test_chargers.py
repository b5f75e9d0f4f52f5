"""Chargers: what sun, engine and plug put onto the battery's terminals."""

from __future__ import annotations

import numpy as np
import pytest

from sim.van import chargers


def test_solar_controller_gives_up_to_its_current() -> None:
    watts = np.array([[0.0, 100.0], [500.0, 800.0]])
    offered, clipped = chargers.solar_controller_watts(
        watts, efficiency=0.96, amps=30.0, charging_v=13.8
    )
    np.testing.assert_allclose(offered, [[0.0, 96.0], [414.0, 414.0]])
    np.testing.assert_allclose(clipped, [[0.0, 0.0], [480.0 - 414.0, 768.0 - 414.0]])
    # Nothing is lost track of: what the panels gave less the controller's own loss.
    np.testing.assert_allclose(offered + clipped, 0.96 * watts)


DCDC = [
    # amps, spare amps of the alternator, watts at the battery.
    (40.0, None, 40.0 * 13.8),
    (40.0, 100.0, 40.0 * 13.8),
    (60.0, 50.0, 50.0 * 13.5 * 0.9),
    (60.0, 1.0, 13.5 * 0.9),
]


@pytest.mark.parametrize(("amps", "spare", "watts"), DCDC)
def test_the_weaker_of_charger_and_alternator(
    amps: float, spare: float | None, watts: float
) -> None:
    got = chargers.dcdc_watts(
        dcdc_amps=amps,
        charging_v=13.8,
        efficiency=0.9,
        alternator=chargers.AlternatorOutput(spare, 13.5),
    )
    assert got == pytest.approx(watts, rel=1e-12)


INLET = [
    # AC load, share plugged, load on the inlet, offer to the battery; inlet 1800 W, charger 414 W.
    (0.0, 1.0, 0.0, 414.0),
    (1000.0, 1.0, 1000.0, 414.0),
    (1500.0, 1.0, 1500.0, 0.88 * 300.0),
    (1800.0, 1.0, 1800.0, 0.0),
    (2500.0, 1.0, 1800.0, 0.0),
    (1500.0, 0.5, 750.0, 0.44 * 300.0),
    (1500.0, 0.0, 0.0, 0.0),
]


@pytest.mark.parametrize(("load", "plugged", "served", "offered"), INLET)
def test_an_inlet_feeds_appliances_first(
    load: float, plugged: float, served: float, offered: float
) -> None:
    got = chargers.plug_watts(
        np.array([[load]]),
        np.array([plugged]),
        inlet_watts=1800.0,
        charger_watts=414.0,
        charger_efficiency=0.88,
    )
    assert got[0][0, 0] == pytest.approx(served, rel=1e-12)
    assert got[1][0, 0] == pytest.approx(offered, rel=1e-12)


def test_an_inlet_by_hours_and_by_draws() -> None:
    """A column of hours alone gives what each of many equal draws gives."""
    load, plugged = np.array([0.0, 300.0, 1700.0]), np.array([0.0, 1.0, 0.25])
    limits = {"inlet_watts": 1440.0, "charger_watts": 400.0, "charger_efficiency": 0.9}
    alone = chargers.plug_watts(load, plugged, **limits)
    many = chargers.plug_watts(np.repeat(load[:, None], 4, axis=1), plugged, **limits)
    for one, several in zip(alone, many, strict=True):
        np.testing.assert_array_equal(np.repeat(one[:, None], 4, axis=1), several)


def test_a_hot_alternator_gives_less_and_an_idling_one_less_still() -> None:
    """60 A spare at 13.5 V through 0.9 are 729 W; a fifth less when hot; 40 % of that at idle."""

    def watts(idle_share: float = 0.0, amps: float | None = 60.0, **changes: float) -> float:
        return chargers.dcdc_watts(
            dcdc_amps=50.0,
            charging_v=13.6,
            efficiency=0.9,
            alternator=chargers.AlternatorOutput(amps, 13.5, **changes),
            idle_share=idle_share,
        )

    assert watts() == pytest.approx(680.0)
    assert watts(hot_loss=0.2) == pytest.approx(0.8 * 729.0)
    mixed = watts(0.25, hot_loss=0.2, idle_output=0.4)
    assert mixed == pytest.approx((0.75 + 0.25 * 0.4) * 0.8 * 729.0)
    assert watts(amps=None, hot_loss=0.2) == pytest.approx(680.0)
    assert watts(1.0, amps=None, idle_output=0.4) == pytest.approx(272.0)


def test_the_air_outside_makes_an_alternator_hot() -> None:
    """Rated at 25 degrees: nothing lost at 40 below, where it runs at 25; twice the distance to
    25 degrees, twice the loss."""
    air_c = np.array([-60.0, -40.0, -7.5, 25.0])
    np.testing.assert_allclose(chargers.hot_loss(air_c, 0.2), [0.0, 0.0, 0.1, 0.2])


def test_the_vehicle_takes_its_own_first() -> None:
    """Of 150 A a hot alternator gives 120, 80 of them to the house; at idle 48, and 8 of them."""

    def amps(idle_share: float, own: float) -> float:
        output = chargers.AlternatorOutput(150.0, 13.5, 0.2, 0.4, own)
        return (
            chargers.dcdc_watts(
                dcdc_amps=100.0,
                charging_v=13.5,
                efficiency=1.0,
                alternator=output,
                idle_share=idle_share,
            )
            / 13.5
        )

    assert amps(0.0, 40.0) == pytest.approx(80.0)
    assert amps(1.0, 40.0) == pytest.approx(8.0)
    assert amps(0.5, 40.0) == pytest.approx(44.0)
    assert amps(1.0, 60.0) == 0.0


def test_no_part_of_the_driving_is_at_idle_unless_it_is_said() -> None:
    output = chargers.AlternatorOutput(20.0, 13.5, idle_output=0.4)
    rated = {"dcdc_amps": 60.0, "charging_v": 13.8, "efficiency": 0.9, "alternator": output}
    assert chargers.dcdc_watts(**rated) == pytest.approx(20.0 * 13.5 * 0.9)
    assert chargers.dcdc_watts(**rated, idle_share=1.0) == pytest.approx(0.4 * 20.0 * 13.5 * 0.9)
