"""The cabin as a job describes it: walls, windows, fans, cooling."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from sim.errors import NightledgerError
from sim.job.model.appliances import Heater
from sim.job.model.changes import with_values
from sim.job.model.job import Job
from sim.sky.sun import position
from sim.sky.track import Weather
from sim.trip.cabin import other_when_away
from sim.trip.demand import Demand, demand
from sim.trip.timeline import build_timeline
from sim.trip.weather import track_of

MakeJob = Callable[..., Job]
VAN = 'use = "medium-roof"\n'
HAND_FAN = """
[[appliances]]
use = "roof-fan-by-hand"
name = "Pushing in"
at = ["00:00-24:00"]
"""
COOLER = """
[[appliances]]
use = "air-conditioner"
runs = "always"
cool_watts = 3000
"""


def in_air(job: Job, air_c: float) -> Demand:
    """The last trip, which stays where it is, in air of one temperature without sun."""
    timeline = build_timeline(job, job.trips[-1])
    dark = np.zeros((len(timeline), 1))
    weather = Weather(dark, dark, dark, np.full_like(dark, air_c))
    return demand(job, timeline, weather, position(track_of(timeline)))


def heat_wh(wants: Demand) -> float:
    (burn,) = wants.burns
    return float(burn.watts.sum())


def test_windows_lose_heat_of_their_own(make_job: MakeJob) -> None:
    heats = [
        heat_wh(in_air(make_job((VAN, VAN + more)), -5.0))
        for more in (
            "glass_m2 = 0\n",
            "glass_m2 = 3\nglass_u_w_m2k = 1.94\n",
            "glass_m2 = 3\nglass_u_w_m2k = 3\n",
            "glass_m2 = 3\nglass_u_w_m2k = 5.5\n",
        )
    ]
    # Windows as good as the wall around them are wall in the dark.
    assert heats[0] == pytest.approx(heats[1])
    assert heats[1] < heats[2] < heats[3]


def test_insulation_by_its_thickness_stands_for_a_u_value(make_job: MakeJob) -> None:
    def heat(more: str) -> float:
        return heat_wh(in_air(make_job((VAN, VAN + more)), -5.0))

    assert heat("insulation_mm = 50.8\n") == pytest.approx(heat("insulation_in = 2\n"))
    # By hand: films 0.1645 m2K/W and 0.0508 / 0.035 beside 8 % of bare rib.
    by_hand = 0.92 / (0.16453 + 0.0508 / 0.035) + 0.08 / 0.16453
    by_u = heat(f"shell_u_w_m2k = {by_hand}\n")
    assert heat("insulation_mm = 50.8\n") == pytest.approx(by_u, rel=1e-3)
    thicknesses = [heat(f"insulation_mm = {x}\n") for x in (0, 10, 20, 40, 80)]
    assert thicknesses == sorted(thicknesses, reverse=True)


def test_more_windows_than_sides_is_an_error(make_job: MakeJob) -> None:
    with pytest.raises(NightledgerError, match="more than all four sides"):
        make_job((VAN, VAN + "glass_m2 = 18\n"))


def test_a_fan_by_hand_cools_the_van_it_stands_in(make_job: MakeJob) -> None:
    still = ("count = 2\n\n[[trips]]", "count = 0\n\n[[trips]]")
    windows_shut = (VAN, VAN + "vent_above_c = 40\n")
    without = in_air(make_job(still, windows_shut), 21.0)
    fanned = in_air(make_job(still, windows_shut, end=HAND_FAN), 21.0)
    warmer = without.cabin_c - fanned.cabin_c
    assert (warmer > -1e-9).all()
    assert warmer.mean() > 1.0


def test_roof_fans_stand_still_while_the_air_conditioner_works(make_job: MakeJob) -> None:
    def watts(wants: Demand, name: str) -> np.ndarray:
        return next(line.watts for line in wants.lines if line.name == name)[:, 0]

    inverter = ("watts = 1500\nidle_watts = 12", "watts = 3000\nidle_watts = 12")
    wants = in_air(make_job(inverter, end=COOLER), 33.0)
    # All through the night people are aboard.
    cooling, fan = watts(wants, "Air conditioner"), watts(wants, "Fan")
    assert (cooling > 0.0).any()
    assert not fan[cooling > 0.0].any()
    without = in_air(make_job(), 33.0)
    assert watts(without, "Fan")[cooling > 0.0].all()


def test_the_insulation_lever_works_on_a_thickness_too(make_job: MakeJob) -> None:
    from sim.decide.levers.lever_catalogue import lever_list

    job = make_job((VAN, VAN + "insulation_mm = 20\n"))
    (lever,) = [x for x in lever_list(job)[0] if x.name.startswith("Insulation")]
    assert heat_wh(in_air(lever.change(job), -5.0)) < 0.8 * heat_wh(in_air(job, -5.0))


def test_without_a_heater_nothing_is_otherwise_while_away(make_job: MakeJob) -> None:
    """A fan is no heater, and none of a heater is none."""
    job = make_job()
    heater = next(x for x in job.appliances if isinstance(x, Heater))
    fans = tuple(x for x in job.appliances if not isinstance(x, Heater))
    none_of_it = with_values(heater, {"count": 0})
    assert any(x.count for x in fans)
    assert other_when_away(with_values(job, {"appliances": fans})) is None
    assert other_when_away(with_values(job, {"appliances": (*fans, none_of_it)})) is None
    assert other_when_away(with_values(job, {"appliances": (*fans, heater)})) is not None
