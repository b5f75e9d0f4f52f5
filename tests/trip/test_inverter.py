"""The inverter over a day: when it is on, what is dark without it, what may run on it at once."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

import sim
from sim.decide.habits import habits_of
from sim.decide.levers.lever_catalogue import lever_list
from sim.errors import JobError
from sim.job import shelf
from sim.job.model.appliances import APPLIANCE_KINDS
from sim.job.model.job import Job
from sim.job.rules.remarks import remarks
from sim.ledger.results import TripResult
from sim.sky.sun import position
from sim.sky.track import Weather
from sim.trip.cabin import cabin_in
from sim.trip.inverter import INVERTER_NAME, keeps_awake
from sim.trip.loads import all_loads, clock_loads
from sim.trip.timeline import build_timeline
from sim.trip.weather import track_of
from sim.van.cabin_run import cabin_hours

EditedJob = Callable[..., Job]
JOB = """\
title = "On AC"

[van]
use = "medium-roof"

[living]
people = 2
wake_at = "07:00"
sleep_at = "22:00"

[battery]
use = "lifepo4-200"
count = 10

[inverter]
watts = 2000
idle_watts = 12
{inverter}

[[appliances]]
use = "battery-monitor"
{appliances}

[[trips]]
name = "Days"
depart = 2027-06-10
leave_at = "00:00"

[[trips.stops]]
place = "38.57, -109.55"
nights = 4

[settings]
draws = 2
seed = 5
"""
FRIDGE = """
[[appliances]]
use = "fridge-freezer-ac"
name = "Refrigerator"
"""
KETTLE = """
[[appliances]]
use = "kettle"
name = "Kettle"
watts = 1500
duty = 1
at = ["07:10-07:20"]
"""
HOB = """
[[appliances]]
name = "Hob"
kind = "timed"
watts = 1200
at = ["07:25-07:30", "12:00-12:06"]
supply = "ac"
priority = "extra"
"""
MORE = """
[alternator]
dcdc_amps = 30

[shore]
charger_amps = 20
inlet_volts = 120
inlet_amps = 30

[water]
fresh_l = 100
open_drains = ["kitchen", "basin", "shower"]

[propane]
tank_l = 20
"""
PHONES = """
[[appliances]]
name = "Phones"
kind = "device charging"
watts = 40
wh_day = 60
supply = "ac"
"""


@pytest.fixture
def run(edited: EditedJob) -> Callable[..., TripResult]:
    def made(*appliances: str, inverter: str = "") -> TripResult:
        text = JOB.format(inverter=inverter, appliances="".join(appliances))
        return sim.simulate(edited(text)).trips[0]

    return made


Run = Callable[..., TripResult]


def idle_wh_day(trip: TripResult) -> float:
    """The inverter's draw a day beyond its losses: what is left of it without a load's part."""
    (own,) = [x for x in trip.loads if x.name == INVERTER_NAME]
    return float(own.wanted_wh_day[1:-1].mean())


def ac_wh_day(trip: TripResult) -> float:
    return float(sum(x.wanted_wh_day[1:-1].mean() for x in trip.loads if x.supply == "ac"))


@pytest.mark.parametrize("mode", ["always", "when needed"])
def test_a_thermostat_needs_a_live_inverter(run: Run, mode: str) -> None:
    """All day and night, whatever part of it the compressor runs: 24 times 12 W."""
    trip = run(FRIDGE, inverter=f'runs = "{mode}"')
    assert 288.0 < idle_wh_day(trip) < 288.0 + 0.2 * ac_wh_day(trip)
    assert run(FRIDGE, inverter='runs = "always"').energy == trip.energy


def test_what_people_switch_on_lets_it_rest(run: Run) -> None:
    """Ten minutes of 12 W are 2 Wh; a parabola through 0.9 and 0.84 loses 13.4 % at 1500 W."""
    trip = run(KETTLE, inverter='runs = "when needed"')
    idle, slope, bend = 0.006, 1.0 / 0.9 - 1.0, (0.006**0.5 + (1 / 0.84 - 1 / 0.9) ** 0.5) ** 2
    per_watt = slope - 2.0 * (idle * bend) ** 0.5 + bend * 0.75
    assert idle_wh_day(trip) == pytest.approx(2.0 + 250.0 * per_watt, rel=1e-9)


def test_a_charger_keeps_it_on_while_it_waits(run: Run) -> None:
    """Fifteen waking hours."""
    trip = run(PHONES, inverter='runs = "when needed"')
    assert 15 * 12.0 < idle_wh_day(trip) < 15 * 12.0 + 0.2 * 60.0


def test_searching_takes_a_quarter_while_nothing_runs(run: Run) -> None:
    trip = run(KETTLE, inverter='runs = "search"')
    needed = run(KETTLE, inverter='runs = "when needed"')
    more = idle_wh_day(trip) - idle_wh_day(needed)
    assert more == pytest.approx((24.0 - 1.0 / 6.0) * 3.0)
    given = run(KETTLE, inverter='runs = "search"\nsearch_watts = 1')
    assert idle_wh_day(given) - idle_wh_day(needed) == pytest.approx(24.0 - 1.0 / 6.0)
    # A refrigerator wakes it for as long as its compressor runs.
    fridge = [idle_wh_day(run(FRIDGE, inverter=f'runs = "{x}"')) for x in ("search", "always")]
    assert 0.25 * 288.0 < fridge[0] < fridge[1]


def test_by_hand_all_ac_is_dark_outside_its_hours(run: Run) -> None:
    """The kettle's time lies outside; the refrigerator loses a third of its day and warms up;
    the phones charge in the time there is."""
    trip = run(FRIDGE, KETTLE, PHONES, inverter='runs = "by hand"\nat = ["08:00-24:00"]')
    lines = {x.name: x for x in trip.loads}
    assert not lines["Kettle"].served_wh.any()
    box = lines["Refrigerator"]
    # Its nights are cooler than its days.
    assert 2.0 / 3.0 < box.served_wh.mean() / box.wanted_wh.mean() < 0.85
    np.testing.assert_allclose(lines["Phones"].served_wh, lines["Phones"].wanted_wh)
    assert lines["Phones"].wanted_wh_day[1].mean() == pytest.approx(60.0)
    assert trip.balance_error() < 1e-9
    assert (trip.dark_hours >= 3 * 8).all()
    assert trip.boxes[0].warmest_c.min() > 8.0
    always = run(FRIDGE, KETTLE, PHONES, inverter='runs = "always"')
    assert always.boxes[0].warmest_c.max() < 6.0
    # Its own draw: sixteen hours.
    alone = run(inverter='runs = "by hand"\nat = ["08:00-24:00"]')
    assert idle_wh_day(alone) == pytest.approx(16 * 12.0)


def test_what_may_run_at_once_is_looked_up_minute_by_minute(run: Run) -> None:
    """Kettle and hob share an hour and no minute; the refrigerator may join either."""
    trip = run(FRIDGE, KETTLE, HOB)
    peak = trip.ac_peak
    assert peak is not None
    (box,) = [x.appliance for x in trip.loads if x.name == "Refrigerator"]
    assert box is not None
    box_w = box.most_watts
    assert peak.together_w == pytest.approx(1500.0 + box_w)
    assert peak.names == ("Kettle", "Refrigerator")
    assert trip.timeline.clock[peak.step, 0] == 7 * 60
    assert peak.start_w == pytest.approx(1500.0 + 5.0 * box_w)
    assert not peak.over_h.any()
    overlap = run(FRIDGE, KETTLE, HOB.replace("07:25-07:30", "07:15-07:30"))
    assert overlap.ac_peak is not None
    assert overlap.ac_peak.names == ("Kettle", "Hob", "Refrigerator")
    # More than 2000 W in one hour of each of three mornings.
    np.testing.assert_array_equal(overlap.ac_peak.over_h, 3.0)
    assert run().ac_peak is None


def test_no_lever_and_no_habit_praise_a_switch_nobody_can_use(edited: EditedJob) -> None:
    fridge, kettle = (
        edited(JOB.format(inverter='runs = "always"', appliances=x)) for x in (FRIDGE, KETTLE)
    )
    name = "Inverter on only when needed"
    assert keeps_awake(fridge) == ["Refrigerator"]
    assert keeps_awake(kettle) == []
    (levers, left), (others, _) = lever_list(fridge), lever_list(kettle)
    assert name not in {x.name for x in levers}
    assert name in {x.name for x in others}
    assert dict(left)[name] == "needed on"
    switch = "inverter off"
    assert switch not in {x.kind for x in habits_of(fridge)}
    assert switch in {x.kind for x in habits_of(kettle)}


def test_who_waits_says_so_in_model_and_load(edited: EditedJob) -> None:
    """A model that starts by itself has a load that is ready, and the other way round."""
    every = "".join(f'[[appliances]]\nuse = "{name}"\n' for name in shelf.names("appliances"))
    text = JOB.format(inverter="", appliances=every + MORE)
    job = edited(text.replace('use = "medium-roof"', 'use = "medium-roof"\nengine_fuel = "diesel"'))
    assert {type(x) for x in job.appliances} == set(APPLIANCE_KINDS.values())
    timeline = build_timeline(job, job.trips[0])
    sun = position(track_of(timeline))
    by_clock, nothing = clock_loads(job, timeline, sun), np.zeros((len(timeline), 1))
    weather = Weather(nothing, nothing, nothing, nothing)
    cabin = cabin_in(weather, by_clock.inputs, by_clock.warmth_w)
    loads = all_loads(by_clock, cabin_hours([cabin], step_hours=timeline.step_hours)[0])
    for item, load in zip(job.appliances, loads, strict=True):
        assert (load.ready is None) == (item.waits is None), item.name


@pytest.mark.parametrize(
    ("inverter", "key"),
    [
        ('runs = "by hand"', "inverter.at"),
        ('at = ["08:00-20:00"]', "inverter.runs"),
        ("full_load_efficiency = 0.95", "inverter.full_load_efficiency"),
        ('runs = "search"\nsearch_watts = 13', "inverter.search_watts"),
    ],
)
def test_what_contradicts_itself_is_a_fault(edited: EditedJob, inverter: str, key: str) -> None:
    with pytest.raises(JobError, match=key.replace(".", r"\.")):
        edited(JOB.format(inverter=inverter, appliances=""))


def test_what_the_hand_forgets_is_remarked(edited: EditedJob) -> None:
    """The kettle's minutes at seven, and the refrigerator's nights; not what has its hours."""

    def said(hours: str) -> list[str]:
        by_hand = f'runs = "by hand"\nat = ["{hours}"]'
        job = edited(JOB.format(inverter=by_hand, appliances=FRIDGE + KETTLE + HOB))
        return [x.says.split(" ")[0] for x in remarks(job) if "inverter is off" in x.says]

    assert said("08:00-23:00") == ["Refrigerator", "Kettle", "Hob"]
    assert said("07:00-12:30") == ["Refrigerator"]
    assert said("00:00-24:00") == []
    assert said("22:00-12:30") == ["Refrigerator"]
