"""A fuel generator by the clock and by the charge: its watts, its litres, its quiet hours."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

import sim
from sim.errors import NightledgerError
from sim.job.model.job import Job
from sim.ledger.results import TripResult
from sim.report.words.cautions import cautions
from sim.report.words.sentences import Manner

# A van in the dark of a far northern winter: no sun, no engine, no plug; only loads.
DARK_JOB = """\
title = "Generator"

[van]
use = "medium-roof"

[living]
people = 1

[battery]
use = "lifepo4-100"
count = 2
charge_above_c = -40
{battery}

[generator]
watts = 1600
charger_amps = 40
tank_l = {tank}
quiet = ["21:00-09:00"]
{generator}

[[appliances]]
name = "Load"
kind = "steady"
watts = 60

[[trips]]
name = "Dark"
depart = 2027-12-20
leave_at = "12:00"
start_soc = {start}

[[trips.stops]]
place = "69.65, 18.96, {altitude} m"
nights = 3
{stop}
[settings]
draws = 3
weather = "clear"
step_minutes = 10
"""


@pytest.fixture
def dark_job(tmp_path: Path) -> Callable[..., Job]:
    """The job with its words filled in."""

    def made(generator: str, *, start: float = 0.5, altitude: int = 0, **text: str) -> Job:
        words = {"battery": "", "stop": "", "tank": "3.6", **text}
        path = tmp_path / "job.toml"
        path.write_text(
            DARK_JOB.format(generator=generator, start=start, altitude=altitude, **words)
        )
        return sim.load_job(path)

    return made


MakeDark = Callable[..., Job]


def ran(trip: TripResult) -> np.ndarray:
    """What the generator gave in each step of the first draw. [W]"""
    return trip.taken_w()["generator"][:, 0]


def test_an_hour_by_hand_is_its_charger_and_its_litres(dark_job: MakeDark) -> None:
    """40 A at 13.4 V or so for two hours a day; by hand from the keys of the job."""
    job = dark_job('at = ["10:00-12:00"]')
    trip = sim.simulate(job).trips[0]
    watts = 40.0 * job.battery.charging_v
    clock = trip.timeline.clock[:, 0]
    on = (clock >= 600) & (clock < 720)
    np.testing.assert_allclose(ran(trip)[on], watts, rtol=1e-9)
    assert not ran(trip)[~on].any()
    # Three mornings of two hours.
    assert trip.energy.taken["generator"] == pytest.approx(3 * 2 * watts / trip.days_long)
    tank = trip.stores[-1]
    litres = 0.22 + 0.57 * watts / 0.88 / 1000.0
    assert (tank.name, tank.kind, tank.unit) == ("Generator fuel", "fuel", "L")
    assert tank.levels.moved.sum(axis=0)[0] == pytest.approx(6.0 * litres)
    assert 6.0 * litres < 3.6
    line = trip.sources[-1]
    assert line.hours_day == pytest.approx(6.0 / trip.days_long)
    assert line.offered_wh_day == pytest.approx(line.used_wh_day)


def test_a_dry_tank_gives_nothing(dark_job: MakeDark) -> None:
    """A third of the fuel is a third of the energy, and the tank is missed; a stop that sells
    fuel fills it."""
    full = sim.simulate(dark_job('at = ["10:00-12:00"]')).trips[0]
    burnt = float(full.stores[-1].levels.moved[:, 0].sum())
    keys = f'at = ["10:00-12:00"]\nstart_pct = {100.0 * burnt / 3.0 / 3.6!r}'
    dry = sim.simulate(dark_job(keys)).trips[0]
    tank = dry.stores[-1]
    assert float(ran(dry).sum()) == pytest.approx(float(ran(full).sum()) / 3.0)
    assert tank.levels.level.min() == pytest.approx(0.0, abs=1e-9)
    assert tank.out_share == 1.0
    assert float((tank.levels.moved + tank.levels.missed)[:, 0].sum()) == pytest.approx(burnt)
    filled = sim.simulate(dark_job(keys, stop='services = ["fuel"]\n')).trips[0]
    np.testing.assert_allclose(ran(filled), ran(full))
    for line in (tank, filled.stores[-1], full.stores[-1]):
        assert line.balance_error() < 1e-12


def test_by_the_charge_it_starts_low_stops_high_and_keeps_quiet(dark_job: MakeDark) -> None:
    job = dark_job("start_below_soc = 0.3\nrise_soc = 0.2", tank="20.0")
    trip = sim.simulate(job).trips[0]
    soc, on = trip.soc[:-1, 0], ran(trip) > 0.0
    clock = trip.timeline.clock[:, 0]
    quiet = (clock >= 21 * 60) | (clock < 9 * 60)
    assert on.any()
    assert not on[quiet].any()
    starts = np.flatnonzero(on & ~np.roll(on, 1))
    stops = np.flatnonzero(~on & np.roll(on, 1))
    assert (soc[starts] < 0.3).all()
    assert all(soc[step] > 0.5 or quiet[step] for step in stops)
    # It started as soon as it might: no step outside the quiet hours lies below, unserved.
    assert on[(soc < 0.3) & ~quiet].all()


def test_thin_air_takes_power(dark_job: MakeDark) -> None:
    """At 3,000 m a set of 500 W gives 500 x (1 - 0.035 x 9.843) x 0.88 W."""
    keys = 'at = ["10:00-12:00"]'
    job = dark_job(keys, altitude=3000)
    small = job.model_copy(
        update={"generator": job.generator.model_copy(update={"watts": 500.0})}  # type: ignore[union-attr]
    )
    trip = sim.simulate(small).trips[0]
    assert ran(trip).max() == pytest.approx(500.0 * (1.0 - 0.035 * 3000.0 / 304.8) * 0.88)


def test_studies_run_it_as_single_runs_do(dark_job: MakeDark) -> None:
    from sim.ledger.study import run_designs
    from sim.trip.designs import design_of
    from sim.trip.prepare import prepare_trip

    for keys in ('at = ["10:00-12:00"]', "start_below_soc = 0.3\nstart_pct = 40"):
        job = dark_job(keys)
        trip = sim.simulate(job).trips[0]
        found = run_designs(prepare_trip(job, job.trips[0]), [design_of(job)])
        np.testing.assert_array_equal(found.lowest_soc[0], trip.lowest)
        np.testing.assert_array_equal(found.dark_hours[0], trip.dark_hours)


def test_it_is_told_with_its_danger(dark_job: MakeDark) -> None:
    job = dark_job('at = ["10:00-12:00"]')
    told = dict(cautions(job, Manner("us")))
    assert "carbon monoxide" in told["Generator"]
    without = job.model_copy(update={"generator": None})
    assert "Generator" not in dict(cautions(without, Manner("us")))


def test_one_that_never_runs_is_a_fault(dark_job: MakeDark) -> None:
    with pytest.raises(NightledgerError, match=r"generator.*say when it runs"):
        dark_job("")


def test_the_default_burns_as_the_data_sheets_say() -> None:
    """3.6 L last 3.2 h at 1.6 kW and 8.1 h at a quarter of it (from memory, fairly sure)."""
    from sim.job.model.power import Generator

    values = Generator(watts=1600.0, charger_amps=40.0, tank_l=3.6, start_below_soc=0.3)
    for kw, hours in ((1.6, 3.2), (0.4, 8.1)):
        assert 3.6 / (values.idle_l_h + values.l_kwh * kw) == pytest.approx(hours, rel=0.02)
