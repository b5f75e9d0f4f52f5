"""From a job's appliances to loads at the battery."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pytest

from sim.job.model.job import Job
from sim.job.model.living import PRIORITIES
from sim.sky.sun import Sun, clear_sky, position
from sim.sky.track import Weather
from sim.trip.cabin import cabin_in
from sim.trip.demand import Demand, demand
from sim.trip.inverter import INVERTER_NAME
from sim.trip.lines import Line
from sim.trip.timeline import Timeline, build_timeline
from sim.trip.weather import track_of
from sim.van.cabin_run import cabin_hours

MakeJob = Callable[..., Job]
DC_BOX = ('max_watts = 60\nsupply = "ac"', "max_watts = 60")


@dataclass(frozen=True)
class Case:
    """A trip under a clear sky and air of one temperature."""

    job: Job
    timeline: Timeline
    weather: Weather
    sun: Sun
    wants: Demand

    def line(self, name: str) -> Line:
        return next(line for line in self.wants.lines if line.name == name)

    def wanted_wh(self, name: str) -> float:
        found = [line for line in self.wants.lines if line.name == name]
        total = sum(np.broadcast_to(x.watts, self.weather.ghi.shape).sum() for x in found)
        return float(total * self.timeline.step_hours / self.weather.draws)

    @property
    def local_hour(self) -> np.ndarray:
        return self.timeline.clock[:, 0] / 60.0


def case(job: Job, trip: int = 0, air_c: float = 15.0, draws: int = 2) -> Case:
    timeline = build_timeline(job, job.trips[trip])
    track = track_of(timeline)
    sun = position(track)
    sky = [np.repeat(part[:, None], draws, axis=1) for part in clear_sky(track, sun)]
    weather = Weather(*sky, np.full_like(sky[0], air_c))
    return Case(job, timeline, weather, sun, demand(job, timeline, weather, sun))


def test_every_appliance_has_its_line_in_the_order_of_the_job(make_job: MakeJob) -> None:
    full = case(make_job())
    names = ["Monitor", "Dish", "Kettle", "Lamps", "Box", "Heater", "Fan"]
    assert [line.name for line in full.wants.lines] == names + [INVERTER_NAME] * 3
    assert [line.priority for line in full.wants.lines[-3:]] == list(PRIORITIES)


def test_steady_loads_never_rest(make_job: MakeJob) -> None:
    full = case(make_job())
    np.testing.assert_array_equal(full.line("Monitor").watts, 5.0)


def test_timed_loads_go_by_the_local_clock_past_midnight(make_job: MakeJob) -> None:
    full = case(make_job(), trip=1)
    watts = full.line("Dish").watts[:, 0]
    on = (full.local_hour >= 18.0) | (full.local_hour < 1.0)
    np.testing.assert_array_equal(watts, np.where(on, 60.0, 0.0))
    # Departure and end at 10:00, three nights between.
    assert full.wanted_wh("Dish") == pytest.approx(3 * 7 * 60.0)
    # Ten minutes of an hour.
    kettle = full.line("Kettle").watts[:, 0]
    assert kettle[full.local_hour == 7.0] == pytest.approx([1000.0 / 6.0] * 3)
    assert full.wanted_wh("Kettle") == pytest.approx(3 * 1000.0 / 6.0)


@pytest.mark.parametrize("step_minutes", [5, 30, 60])
def test_timed_energy_does_not_depend_on_the_step(make_job: MakeJob, step_minutes: int) -> None:
    job = make_job(end=f"step_minutes = {step_minutes}\n")
    assert case(job, trip=1).wanted_wh("Kettle") == pytest.approx(500.0, rel=1e-12)


def test_a_clock_change_moves_timed_loads_with_the_people(make_job: MakeJob) -> None:
    """On 14 March 2027 Denver's clocks skip from 2 to 3: the load stays at its clock time."""
    job = make_job(("depart = 2027-07-10", "depart = 2027-03-13"))
    full = case(job, trip=1)
    on = full.line("Kettle").watts[:, 0] > 0.0
    utc = full.timeline.start_utc[on].astype("datetime64[h]").astype(int) % 24
    assert utc.tolist() == [13, 13, 13]  # 7:00 of summer time from the first morning on
    # Of the whole night one hour is missing: three days have 71 hours.
    assert len(full.timeline) == 71


def test_lamps_burn_from_dusk_to_bedtime(make_job: MakeJob) -> None:
    """In July at 38.6 N the sun is 3 degrees down at 20:55; lights go out at 22:30."""
    full = case(make_job(end="step_minutes = 5\n"), trip=1)
    assert full.wanted_wh("Lamps") == pytest.approx(3 * 20.0 * (22.5 - 20.92), rel=0.04)
    lit = full.local_hour[full.line("Lamps").watts[:, 0] > 0.0]
    assert lit.min() > 20.0
    assert lit.max() < 22.5


def test_a_cold_box_works_harder_in_a_warm_cabin(make_job: MakeJob) -> None:
    cool, warm = (case(make_job(), trip=1, air_c=air) for air in (10.0, 25.0))
    assert warm.wanted_wh("Box") > 1.3 * cool.wanted_wh("Box")


def test_count_multiplies_and_nought_leaves_out(make_job: MakeJob) -> None:
    one = case(make_job(("count = 2\n\n[[trips]]", "count = 1\n\n[[trips]]")), trip=1, air_c=28.0)
    two = case(make_job(), trip=1, air_c=28.0)
    assert two.wanted_wh("Fan") == pytest.approx(2.0 * one.wanted_wh("Fan"), rel=1e-12)
    assert one.wanted_wh("Fan") > 0.0
    none = case(make_job(("count = 2\n\n[[trips]]", "count = 0\n\n[[trips]]")), trip=1)
    assert "Fan" not in [line.name for line in none.wants.lines]


def test_heater_holds_day_and_night_and_goes_off_with_the_people(make_job: MakeJob) -> None:
    off = ("night_c = 14", 'night_c = 14\naway_c = "off"')
    full = case(make_job(off, end="step_minutes = 5\n"), trip=0, air_c=-10.0)
    cabin_c, hour = full.wants.cabin_c[:, 0], full.local_hour
    settled = np.arange(len(hour)) > 12 * 20
    day = settled & (hour >= 13.5) & (hour < 22.4) & (full.timeline.driving == 0.0)
    np.testing.assert_allclose(cabin_c[day], 20.0, atol=1e-6)
    night = settled & (hour >= 4.0) & (hour < 6.9)
    np.testing.assert_allclose(cabin_c[night], 14.0, atol=1e-6)
    blower = full.line("Heater").watts[:, 0]
    out = settled & (hour >= 10.6) & (hour < 11.9) & (full.timeline.people == 0.0)
    assert out.any()
    assert not blower[out].any()
    # Parked at night: the blower's duty is heat lost over full output, less what two people, the
    # monitor and the cold box leave in the cabin.
    van = full.job.van
    shell_m2 = 2 * (
        van.length_m * van.width_m + van.length_m * van.height_m + van.width_m * van.height_m
    )
    walls_m2 = shell_m2 - van.glass_m2
    loss = van.shell_u_w_m2k * walls_m2 + van.glass_u_w_m2k * van.glass_m2
    box = 450.0 / 24.0 * ((14.0 - 4.0) / (25.0 - 4.0)) ** 1.5
    # Two people breathe 3.5 L/s each, which carry 1.206 W/K: more than the leaks let in.
    loss += 2 * 3.5 * 1.206
    expected = 40.0 * (24.0 * loss - 2 * 70.0 - 5.0 - box) / 3000.0
    assert blower[night].mean() == pytest.approx(expected, rel=1e-6)


def test_away_set_point_is_held_while_nobody_is_aboard(make_job: MakeJob) -> None:
    job = make_job(("night_c = 14", "night_c = 14\naway_c = 8"), end="step_minutes = 5\n")
    full = case(job, trip=1, air_c=-10.0)
    hour = full.local_hour
    out = (hour >= 11.7) & (hour < 11.9)
    # Two hours away: it cools from 20 to 8 and is held there, sun aside.
    assert full.wants.cabin_c[out].min() >= 8.0 - 1e-9


@pytest.mark.parametrize(
    ("keys", "held_c"),
    [
        ("night_c = 14", 8.0),
        ("night_c = 5", 5.0),
        ("night_c = 5\naway_c = 12", 12.0),
        ('night_c = 14\naway_c = "off"', None),
    ],
)
def test_a_thermostat_is_not_off_when_people_leave(
    make_job: MakeJob, keys: str, held_c: float | None
) -> None:
    """Left out, it guards against frost; people who sleep colder than that are not heated more
    when they leave. Two hours out at -30 deg C."""
    full = case(make_job(("night_c = 14", keys), end="step_minutes = 5\n"), trip=1, air_c=-30.0)
    out = (full.local_hour >= 11.7) & (full.local_hour < 11.9)
    coldest = full.wants.cabin_c[out].min()
    if held_c is None:
        assert coldest < 4.0
    else:
        assert coldest == pytest.approx(held_c, abs=1e-6)


def test_two_heaters_of_one_kind_share_the_heat(make_job: MakeJob) -> None:
    """Twice the output is half the duty of each: the same fuel, the same blower energy."""
    one = case(make_job(), air_c=0.0)
    pair = ("day_c = 20", "day_c = 20\ncount = 2")
    two = case(make_job(pair), air_c=0.0)
    assert two.wanted_wh("Heater") == pytest.approx(one.wanted_wh("Heater"), rel=0.01)


def test_shade_keeps_the_cabin_cool(make_job: MakeJob) -> None:
    """The trees that take the panels' sun take the roof's."""
    no_fan = ("on_above_c = 22", "on_above_c = 45")
    trees = ('plug_in = "nights"\nshade_pct = 40', 'plug_in = "nights"\nshade_pct = 100')
    open_sky = case(make_job(no_fan, ("shade_pct = 40\n", "")), air_c=18.0)
    shaded = case(make_job(no_fan, trees), air_c=18.0)
    there = (open_sky.timeline.stop == 1) & (open_sky.timeline.driving == 0.0)
    noon = there & (abs(open_sky.local_hour - 14.0) < 1.5)
    cooler = open_sky.wants.cabin_c[noon] - shaded.wants.cabin_c[noon]
    assert cooler.min() > 0.5
    assert cooler.mean() > 1.5
    np.testing.assert_array_equal(shaded.wants.cabin_c[:20], open_sky.wants.cabin_c[:20])


RUNNING_W = {"Dish": 60.0, "Kettle": 1000.0, "Box": 60.0}
# Of 1500 W with 12 W idle, 0.9 at its best and 0.84 at full load: losses over the rating of
# 0.008, a bend whose root is that of 0.008 and of 1 / 0.84 - 1 / 0.9 together, and what is left.
BEND = (0.008**0.5 + (1.0 / 0.84 - 1.0 / 0.9) ** 0.5) ** 2
SLOPE = 1.0 / 0.9 - 1.0 - 2.0 * (0.008 * BEND) ** 0.5


def per_watt(running_w: float, beside_w: object = 0.0) -> object:
    """Taken from the battery for a watt of a load, the idle draw apart."""
    return 1.0 + SLOPE + BEND * (running_w + beside_w) / 1500.0


def by_hand(full: Case, idle_share: np.ndarray) -> np.ndarray:
    """Wanted at the battery by priority, from the lines of the appliances."""
    shape = full.weather.ghi.shape
    wanted = np.zeros((3, *shape))
    free = 1.0 - full.timeline.plugged[:, None]
    ac = sum(line.watts for line in full.wants.lines if line.supply == "ac")
    for line in full.wants.lines:
        if line.supply == "inverter":
            continue
        at_battery = line.watts
        if line.supply == "ac":
            beside = (ac - line.watts) * free
            at_battery = line.watts * free * per_watt(RUNNING_W[line.name], beside)
        wanted[PRIORITIES.index(line.priority)] += at_battery
    first = min(PRIORITIES.index(x.priority) for x in full.wants.lines if x.supply == "inverter")
    wanted[first] += 12.0 * idle_share * free
    return wanted


def test_wanted_is_every_load_once_with_the_inverters_losses(make_job: MakeJob) -> None:
    """AC loads with the inverter's losses, its own draw while any of them is on."""
    full = case(make_job(DC_BOX))
    clock = full.timeline.share_within([(18 * 60, 60), (7 * 60 + 10, 7 * 60 + 20)])[:, None]
    expected = by_hand(full, clock)
    np.testing.assert_allclose(full.wants.wanted_w, expected, rtol=1e-12, atol=1e-9)


def test_an_inverter_left_on_never_takes_less(make_job: MakeJob) -> None:
    needed = case(make_job(DC_BOX))
    always = case(make_job(DC_BOX, ('runs = "when needed"', 'runs = "always"')))
    more = always.wants.wanted_w - needed.wants.wanted_w
    assert (more >= -1e-12).all()
    assert more.max() > 5.0
    expected = by_hand(always, np.ones((len(always.timeline), 1)))
    np.testing.assert_allclose(always.wants.wanted_w, expected, rtol=1e-12, atol=1e-9)


def test_two_appliances_in_one_hour_need_the_inverter_for_both(make_job: MakeJob) -> None:
    """Ten minutes and another ten are twenty of idle draw, not ten; overlap counts once."""

    def idle_wh(*windows: str) -> float:
        listed = ", ".join(f'"{window}"' for window in windows)
        job = make_job(
            DC_BOX,
            ('at = ["07:10-07:20"]', f"at = [{listed}]"),
            ('["18:00-01:00"]', '["07:30-07:40"]'),
        )
        full = case(job, trip=1)
        losses = by_hand(full, np.zeros(1)).sum(axis=0).mean(axis=1).sum()
        losses -= sum(full.wanted_wh(x.name) for x in full.wants.lines if x.supply != "inverter")
        return full.wanted_wh(INVERTER_NAME) - losses

    assert idle_wh("07:10-07:20") == pytest.approx(3 * 12.0 * 20 / 60)
    assert idle_wh("07:35-07:45") == pytest.approx(3 * 12.0 * 15 / 60)


def test_on_the_plug_ac_loads_ride_on_the_inlet(make_job: MakeJob) -> None:
    full = case(make_job())
    plugged = full.timeline.plugged == 1.0
    assert plugged.sum() == 28  # two nights from 18:00 to 08:00
    ac = sum(full.line(name).watts for name in ("Dish", "Kettle", "Box"))
    ac = np.broadcast_to(ac, full.weather.ghi.shape)
    np.testing.assert_allclose(full.wants.plug_w[plugged], ac[plugged])
    assert not full.wants.plug_w[full.timeline.plugged == 0.0].any()
    inverter = sum(line.watts for line in full.wants.lines if line.supply == "inverter")
    assert not inverter[plugged].any()
    # DC appliances stay on the battery's side, and the charger has what the inlet leaves.
    dc = full.wants.wanted_w[:, plugged].sum(axis=0)
    dc_lines = sum(full.line(name).watts for name in ("Monitor", "Lamps", "Heater", "Fan"))
    np.testing.assert_allclose(dc, np.broadcast_to(dc_lines, ac.shape)[plugged])
    charger = 20.0 * full.job.battery.charging_v
    np.testing.assert_allclose(full.wants.plug_offer_w[plugged], charger)


def test_a_small_inlet_leaves_the_rest_to_the_inverter(make_job: MakeJob) -> None:
    """1.2 A at 120 V are 144 W for a kettle that means 167 W in its hour; the charger starves."""
    full = case(make_job(("inlet_amps = 15", "inlet_amps = 1.2")))
    hour = full.local_hour
    morning = (full.timeline.plugged == 1.0) & (hour == 7.0)
    assert morning.sum() == 2
    np.testing.assert_allclose(full.wants.plug_w[morning], 144.0)
    assert not full.wants.plug_offer_w[morning].any()
    kettle = full.line("Kettle").watts[morning]
    share = np.broadcast_to(full.line("Kettle").on_plug, full.wants.plug_w.shape)[morning]
    assert 0.5 < share.min() < 1.0
    extra = full.wants.wanted_w[2][morning]
    asked = kettle * (1.0 - share)
    beside = sum((x.watts * (1.0 - x.on_plug))[morning] for x in full.wants.lines[1:5:3])
    beside = beside + (full.line("Dish").watts * (1.0 - share.min()))[morning] * 0.0
    np.testing.assert_allclose(extra, asked * per_watt(1000.0, beside))


def test_without_an_inverter_there_is_none_in_the_ledger(make_job: MakeJob) -> None:
    text = '[inverter]\nwatts = 1500\nidle_watts = 12\nruns = "when needed"\n'
    job = make_job(
        (text, ""),
        ('at = ["18:00-01:00"]\nsupply = "ac"', 'at = ["18:00-01:00"]'),
        ('at = ["07:10-07:20"]\nsupply = "ac"', 'at = ["07:10-07:20"]'),
        ('max_watts = 60\nsupply = "ac"', "max_watts = 60"),
    )
    full = case(job)
    assert {line.supply for line in full.wants.lines} == {"dc"}
    total = sum(np.broadcast_to(x.watts, full.weather.ghi.shape) for x in full.wants.lines)
    np.testing.assert_allclose(full.wants.wanted_w.sum(axis=0), total)


def test_an_inverter_without_ac_loads_draws_its_own_when_left_on(make_job: MakeJob) -> None:
    job = make_job(
        ('runs = "when needed"', 'runs = "always"'),
        ('at = ["18:00-01:00"]\nsupply = "ac"', 'at = ["18:00-01:00"]'),
        ('at = ["07:10-07:20"]\nsupply = "ac"', 'at = ["07:10-07:20"]'),
        ('max_watts = 60\nsupply = "ac"', "max_watts = 60"),
    )
    lines = case(job, trip=1).wants.lines
    assert [line.priority for line in lines if line.supply == "inverter"] == ["comfort"]
    np.testing.assert_array_equal(lines[-1].watts, 12.0)


def test_people_warm_the_cabin(make_job: MakeJob) -> None:
    few, many = (
        case(make_job(("people = 2", f"people = {number}")), trip=1, air_c=5.0) for number in (1, 6)
    )
    warmer = many.wants.cabin_c - few.wants.cabin_c
    assert (warmer >= -1e-9).all()
    heats = [
        cabin_hours([cabin_in(x.weather, x.wants.inputs, np.zeros((1, 1)))], step_hours=1.0)[0]
        for x in (few, many)
    ]
    assert heats[1].heat_w.sum() < heats[0].heat_w.sum()


def test_windows_run_with_water_in_the_cold_and_not_with_a_vent_open(make_job: MakeJob) -> None:
    single = ('use = "medium-roof"', 'use = "medium-roof"\nglass_u_w_m2k = 5.5')
    cold = case(make_job(single), trip=0, air_c=-2.0).wants.damp_hours
    assert cold[0] > 10.0
    mild = case(make_job(single), trip=0, air_c=12.0).wants.damp_hours
    assert not mild.any()
    windy = case(make_job(single, end="wind_m_s = 25\n"), trip=0, air_c=-2.0).wants.damp_hours
    assert windy[0] < cold[0]
    double = case(make_job(), trip=0, air_c=-2.0).wants.damp_hours
    assert double[0] < cold[0]
