"""Alternators and plugs that stand several times, and a vehicle that takes its own share first."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

import sim
from sim.errors import JobError
from sim.job.model.job import Job
from sim.job.overrides import overridden

MakeJob = Callable[..., Job]
ONE = "[alternator]\ndcdc_amps = 30\n"
TWO = "[[alternator]]\ndcdc_amps = 30\n\n[[alternator]]\ndcdc_amps = 20\n"


def test_two_offer_what_each_offers(make_job: MakeJob) -> None:
    one, two = (sim.simulate(make_job((ONE, text))).trips[0] for text in (ONE, TWO))
    names = [line.name for line in two.sources if line.kind == "drive"]
    assert names == ["Driving, alternator 1", "Driving, alternator 2"]
    offered = [
        sum(line.offered_wh_day for line in trip.sources if line.kind == "drive")
        for trip in (one, two)
    ]
    assert offered[1] == pytest.approx(offered[0] * 50.0 / 30.0)
    assert two.balance_error() < 1e-9
    assert two.energy.taken["drive"] == pytest.approx(
        sum(line.used_wh_day for line in two.sources if line.kind == "drive")
    )


def test_a_list_of_one_is_a_section(make_job: MakeJob) -> None:
    """The numbers are the same to the last digit."""
    section, listed = (
        sim.simulate(make_job((ONE, text))).trips[0]
        for text in (ONE, ONE.replace("[alternator]", "[[alternator]]"))
    )
    np.testing.assert_array_equal(section.soc, listed.soc)


def test_what_the_vehicle_takes_is_not_there(make_job: MakeJob) -> None:
    """Of 56 A the vehicle takes 40, and 16 are left to the house: 16 x 13.5 V x 0.9; a set that
    stands idling gives nothing."""
    keys = "dcdc_amps = 30\nrated_amps = 56\nhot_loss_pct = 0\nvehicle_amps = 40\n"
    keys += "start_minutes = 0\n"
    trip = sim.simulate(make_job(("dcdc_amps = 30\n", keys))).trips[0]
    drive = next(line for line in trip.sources if line.kind == "drive")
    hours = float(trip.timeline.driving.sum())
    assert drive.offered_wh_day * trip.days_long == pytest.approx(hours * 16.0 * 13.5 * 0.9)


def test_faults_tell_where_they_stand(make_job: MakeJob) -> None:
    with pytest.raises(JobError, match=r"alternator\.dcdc_amps"):
        make_job((ONE, ONE.replace("30", "0.1")))
    with pytest.raises(JobError, match=r"alternator\[2\]\.dcdc_amps"):
        make_job((ONE, TWO.replace("20", "0.1")))
    both = ONE + "spare_amps = 30\nrated_amps = 100\n"
    with pytest.raises(JobError, match="give spare_amps or rated_amps, not both"):
        make_job((ONE, both))


def test_a_lever_may_add_one_or_change_the_second(make_job: MakeJob) -> None:
    without = make_job((ONE, ""))
    assert without.alternator == ()
    added = overridden(without, {"alternator.dcdc_amps": 40.0})
    assert [x.dcdc_amps for x in added.alternator] == [40.0]
    two = make_job((ONE, TWO))
    changed = overridden(two, {"alternator[2].dcdc_amps": 60.0})
    assert [x.dcdc_amps for x in changed.alternator] == [30.0, 60.0]


def test_a_second_plug_feeds_its_charger_alone(make_job: MakeJob) -> None:
    """It offers its rating whenever the van is plugged in, whatever AC appliances draw."""
    one = make_job()
    assert one.plug is not None
    second = one.plug.model_copy(update={"charger_amps": 10.0})
    two = one.model_copy(update={"shore": (*one.shore, second)})
    for trip, single, double in zip(
        one.trips, sim.simulate(one).trips, sim.simulate(two).trips, strict=True
    ):
        plugs = [next(x for x in done.sources if x.kind == "shore") for done in (single, double)]
        hours = float(single.timeline.plugged.sum()) * single.timeline.step_hours
        more = (plugs[1].offered_wh_day - plugs[0].offered_wh_day) * single.days_long
        assert more == pytest.approx(hours * 10.0 * one.battery.charging_v), trip.name
        assert double.balance_error() < 1e-9
