"""An appliance held to a charge, from the job file to the ledger and its words."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from sim.job.model.job import Job
from sim.job.overrides import overridden
from sim.ledger.lines import LoadLine
from sim.ledger.results import TripResult
from sim.ledger.simulate import simulate
from sim.ledger.study import run_designs
from sim.report.words.assumptions import _living as living_sentences
from sim.report.words.numbers import GAP, Manner
from sim.report.words.sentences import waited_words
from sim.trip.designs import design_of
from sim.trip.prepare import prepare_trip

MakeJob = Callable[..., Job]
Faults = Callable[[str], list[str]]

# 100 W at any hour beside the small job's refrigerator, and no sun to speak of.
CHARGER = """
[[appliances]]
name = "Charger of the bicycle"
kind = "steady"
watts = 100
above_soc = 0.6

[settings]
draws = 8
seed = 2
"""
ON_AC = """
[inverter]
watts = 1000
idle_watts = 12
"""


def held(small_job: str, edited: MakeJob, *changes: tuple[str, str]) -> Job:
    return edited(small_job, *changes, end=CHARGER)


def line(trip: TripResult, name: str) -> LoadLine:
    return next(x for x in trip.loads if x.name == name)


def test_it_takes_the_battery_down_to_its_charge_and_no_further(
    small_job: str, edited: MakeJob
) -> None:
    """Without sun a full 100 Ah bank gives its 40 % above the floor to the charger and the
    refrigerator; what the charger then goes without is waiting, not a failure."""
    job = held(small_job, edited, ("count = 2", "count = 0"), ("nights = 2", "nights = 1"))
    trip = simulate(job).trips[0]
    pad = line(trip, "Charger of the bicycle")
    hours = trip.hours_long
    np.testing.assert_allclose(pad.wanted_wh, 100.0 * hours)
    np.testing.assert_allclose(pad.served_wh + pad.waited_wh, pad.wanted_wh)
    np.testing.assert_allclose(pad.missed_wh, 0.0, atol=1e-9)
    # It runs from the start until the bank is at 60 %, and never comes back.
    off_h = pad.served_wh / 100.0
    for draw, off in enumerate(off_h.tolist()):
        step = int(off)
        soc, after = trip.soc[step : step + 2, draw]
        assert soc > 0.6 > after
        box_w = trip.served_w[step, draw] - 100.0 * (off - step)
        # But for the heat in the bank, 0.3 % at this load.
        runs_on = (soc - 0.6) * job.battery.capacity_wh / (100.0 + box_w)
        assert off - step == pytest.approx(runs_on, abs=0.01)
    assert trip.verdict == "ample"
    assert not trip.dark.any()
    assert trip.energy.unserved == 0.0


def test_designs_as_lanes_count_the_same(small_job: str, edited: MakeJob) -> None:
    """The study of many designs finds no dark hour either, and the same lowest charge."""
    job = held(small_job, edited)
    trip = simulate(job).trips[0]
    found = run_designs(prepare_trip(job, job.trips[0]), [design_of(job)])
    np.testing.assert_allclose(found.lowest_soc[0], trip.lowest, rtol=1e-12)
    np.testing.assert_array_equal(found.dark_hours[0], trip.dark_hours)
    assert found.unserved_wh.sum() == 0.0


def test_while_it_waits_its_inverter_is_off(small_job: str, edited: MakeJob) -> None:
    """An inverter that is on for nothing but a held load costs nothing while that waits."""
    changes = (("count = 2", "count = 0"),)
    job = edited(
        small_job,
        *changes,
        end=CHARGER.replace("watts = 100", 'watts = 100\nsupply = "ac"') + ON_AC,
    )
    trip = simulate(job).trips[0]
    # The last day: the refrigerator alone draws, from a bank below 60 %.
    day = slice(-24, None)
    drawn = -np.diff(trip.soc, axis=0)[day] * job.battery.capacity_wh
    box = trip.loads[0]
    per_hour = box.wanted_wh_day[-2] / 24.0
    assert drawn.mean() == pytest.approx(per_hour.mean(), rel=0.25)
    own = next(x for x in trip.loads if x.supply == "inverter")
    share = own.served_wh / own.wanted_wh
    pad = line(trip, "Charger of the bicycle")
    np.testing.assert_allclose(share, pad.served_wh / pad.wanted_wh, rtol=1e-9)


def test_on_the_plug_ac_runs_at_any_charge(small_job: str, edited: MakeJob) -> None:
    """The inlet feeds it past the battery."""
    end = ON_AC + "\n[shore]\ncharger_amps = 5\ninlet_volts = 120\ninlet_amps = 15\n"
    job = edited(
        small_job,
        ("nights = 2", 'nights = 2\nplug_in = "always"'),
        ("depart = 2027-05-07", "depart = 2027-05-07\nstart_soc = 0.3"),
        end=CHARGER.replace("watts = 100", 'watts = 100\nsupply = "ac"') + end,
    )
    pad = line(simulate(job).trips[0], "Charger of the bicycle")
    np.testing.assert_allclose(pad.served_wh, pad.wanted_wh, rtol=1e-12)


def test_a_lever_of_the_job_may_hold_it(small_job: str, edited: MakeJob) -> None:
    job = held(small_job, edited)
    other = overridden(job, {"appliances[Charger of the bicycle].above_soc": 0.8})
    assert other.held_socs == (0.8,)


def test_the_report_says_it(small_job: str, edited: MakeJob) -> None:
    job = held(small_job, edited, ("count = 2", "count = 0"))
    trip = simulate(job).trips[0]
    (told,) = waited_words(trip)
    pad = line(trip, "Charger of the bicycle")
    share = 100.0 * pad.served_wh.sum() / pad.wanted_wh.sum()
    assert f"only above 60{GAP}% of charge, gets {share:.0f}{GAP}% of what it wants" in told
    sentences = living_sentences(job, Manner("metric"))
    assert any(f"Only while the battery is above 60{GAP}%" in text for text in sentences)


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("above_soc = 0.6", "above_soc = 0.2", "must not be below extras_soc"),
        ("above_soc = 0.6", 'above_soc = 0.6\npriority = "essential"', "is essential"),
        (
            'kind = "steady"\nwatts = 100',
            'kind = "heater"\nfuel = "electricity"\nheat_watts = 800\nblower_watts = 5\n'
            "day_c = 18\nnight_c = 12",
            "cannot wait for charge",
        ),
        (
            'kind = "steady"\nwatts = 100',
            'kind = "cooking"\nfuel = "propane"\nmeal_wh_person = 300\nwatts = 5',
            "cannot wait for charge",
        ),
    ],
)
def test_what_cannot_wait_is_refused(
    small_job: str, faults_of: Faults, old: str, new: str, says: str
) -> None:
    (fault,) = faults_of(small_job + CHARGER.replace(old, new))
    assert says in fault


def test_the_ledger_says_what_waited_a_day(small_job: str, edited: MakeJob) -> None:
    trip = simulate(held(small_job, edited, ("count = 2", "count = 0"))).trips[0]
    row = trip.ledger().set_index("appliance").loc["Charger of the bicycle"]
    waited = float(line(trip, "Charger of the bicycle").waited_wh.mean())
    assert trip.days_long == 2.0
    assert row["waited_wh_day"] == pytest.approx(waited / 2.0)
    assert waited > 0.0
