"""Faults that were built into vans are named, and none where there is none.

A share of what `tests/bench/fit_cases.py` runs in full.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import other_van as other
import pytest

from sim.errors import JobError, LogError
from sim.fit.fit import Fit, fit
from sim.fit.stood import trips_of_log
from sim.job.reading.load import load_job
from sim.log.reading import read_log
from sim.resources import profiles_dir
from sim.trip.stays import lay_out

Fitted = Callable[[other.Case], tuple[other.Written, Fit]]
# One van for all faults: what is named hangs on the fault alone.
VAN = replace(
    other.DEMO, nights=(6, 7, 6, 6), drive_hours=(0.0, 3.0, 3.0, 4.0), every_min=10, fault=None,
    since=0,
)  # fmt: skip


def named(found: Fit) -> list[str]:
    return [finding.what for finding in found.broken]


def test_nothing_is_named_in_a_sound_van(fitted: Fitted) -> None:
    log, found = fitted(VAN)
    assert named(found) == []
    kept = {x.what for x in found.findings if x.broken is False}
    assert kept >= {"sun", "standing_load", "loads", "engine", "capacity", "clock"}
    assert found.days == VAN.days
    by = {x.what: x.estimate for x in found.findings}
    for what, true in (("sun", log.truth.sun), ("engine", log.truth.engine), ("capacity", 1.0)):
        estimate = by[what]  # type: ignore[index]
        assert estimate is not None
        assert abs(estimate.value - true) < 3.0 * estimate.spread * max(estimate.value, 0.1)


@pytest.mark.parametrize(
    ("fault", "what", "low", "high"),
    [
        (other.STRING_OFF, "sun", 0.42, 0.6),
        (other.MORNING_SHADE, "sun_by_hour", 0.2, 0.55),
        (other.STANDING, "standing_load", 33.0, 45.0),
        (other.CAPACITY, "capacity", 0.76, 0.84),
        (other.FUSE, "engine", -0.2, 0.25),
        (other.UTC, "clock", 6.0, 8.0),
    ],
)
def test_a_fault_is_named(fitted: Fitted, fault: str, what: str, low: float, high: float) -> None:
    found = fitted(replace(VAN, fault=fault))[1]
    assert what in named(found)
    estimate = next(x.estimate for x in found.findings if x.what == what)
    assert estimate is not None
    assert low < estimate.value < high
    assert set(named(found)) <= {what, "sun"}


def test_a_counter_that_runs_away_is_named(fitted: Fitted) -> None:
    log, found = fitted(replace(VAN, fault=other.COUNTER, seed=3))
    assert named(found) == ["counter"]
    estimate = found.broken[0].estimate
    assert estimate is not None
    assert estimate.value == pytest.approx(log.truth.drift_day, abs=0.01)


def test_since_when_and_on_the_battery_alone(fitted: Fitted) -> None:
    case = replace(VAN, fault=other.STANDING, since=12, has_solar=False)
    found = fitted(case)[1]
    (finding,) = found.broken
    assert finding.what == "standing_load"
    assert finding.since is not None
    assert abs((finding.since - (case.depart + dt.timedelta(days=12))).days) <= 1
    loads = next(x for x in found.findings if x.what == "loads")
    assert (loads.broken, loads.because) == (None, "no_day_loads")


def test_the_clock_is_seen_on_the_battery_alone(fitted: Fitted) -> None:
    found = fitted(replace(VAN, fault=other.UTC, has_solar=False))[1]
    assert named(found) == ["clock"]
    assert found.clock.is_utc
    # An hour ahead of UTC in winter, by the flows alone.
    granada = next(site for site in other.SITES if site.name == "Granada")
    found = fitted(replace(VAN, site=granada, fault=other.UTC, has_solar=False))[1]
    assert named(found) == ["clock"]
    found = fitted(replace(VAN, site=granada, has_solar=False))[1]
    assert named(found) == []
    assert found.clock.shift_h == 0.0


def test_a_counter_that_begins_to_run_away(fitted: Fitted) -> None:
    case = replace(VAN, fault=other.COUNTER, since=12, seed=3)
    log, found = fitted(case)
    (finding,) = found.broken
    assert finding.what == "counter"
    assert finding.since is not None
    assert abs((finding.since - (case.depart + dt.timedelta(days=12))).days) <= 2
    assert finding.estimate is not None
    assert finding.estimate.value == pytest.approx(log.truth.drift_day, abs=0.01)


def test_a_load_that_empties_the_battery_is_seen_from_its_last_nights(fitted: Fitted) -> None:
    portland = next(site for site in other.SITES if site.name == "Portland")
    case = replace(
        VAN, site=portland, depart=dt.date(2026, 9, 14), nights=(8, 8, 8, 8),
        fault=other.STANDING, since=15, has_solar=False,
    )  # fmt: skip
    found = fitted(case)[1]
    assert np.nanmin(found.seen.soc_at) < 0.06
    assert found.broken[0].what == "standing_load"
    assert found.broken[0].since is not None
    assert abs((found.broken[0].since - (case.depart + dt.timedelta(days=15))).days) <= 1


PLUGGED = replace(VAN, plug_amps=20.0)


@pytest.mark.parametrize("has_solar", [True, False])
def test_a_dead_plug_is_named(fitted: Fitted, has_solar: bool) -> None:
    found = fitted(replace(PLUGGED, plug_dead=True, has_solar=has_solar))[1]
    assert named(found) == ["plug"]
    estimate = found.broken[0].estimate
    assert estimate is not None
    assert estimate.value < 0.1


def test_a_plug_that_charges_is_not_blamed(fitted: Fitted) -> None:
    # A standing load leaves the battery room for the nights on the plug.
    found = fitted(replace(PLUGGED, fault=other.STANDING))[1]
    assert named(found) == ["standing_load"]
    plug = next(x for x in found.findings if x.what == "plug")
    assert plug.broken is False
    assert plug.estimate is not None
    low, high = plug.estimate.interval
    assert low < 1.0 < high


WARM = replace(
    VAN, site=next(site for site in other.SITES if site.name == "Granada"),
    depart=dt.date(2026, 4, 20), nights=(10, 10, 10, 9), shows_air=True,
)  # fmt: skip


def test_loads_that_rise_with_the_temperature(fitted: Fitted) -> None:
    found = fitted(replace(WARM, warm_w=2.0))[1]
    warmth = found.broken[0]
    # Nights that grow warmer are not taken for a load that came in between.
    assert warmth.what == "loads_by_temperature"
    assert "standing_load" not in named(found)
    assert warmth.estimate is not None
    assert warmth.estimate.value == pytest.approx(2.0, abs=0.5)
    assert warmth.promised_w > 0.3
    sound = fitted(WARM)[1]
    assert named(sound) == []
    kept = next(x for x in sound.findings if x.what == "loads_by_temperature")
    assert kept.broken is False
    # Without temperatures nothing is said.
    blind = fitted(VAN)[1]
    unknown = next(x for x in blind.findings if x.what == "loads_by_temperature")
    assert (unknown.broken, unknown.because) == (None, "no_temperature")


@pytest.fixture(scope="module")
def demo() -> Fit:
    folder = profiles_dir() / "logs"
    return fit(load_job(folder / "demo.toml"), read_log(folder / "demo.csv"))


def test_the_demo_log_is_what_the_other_van_writes_and_shows_its_fault(demo: Fit) -> None:
    for name, text in other.demo_texts().items():
        assert (profiles_dir() / "logs" / name).read_text("utf-8") == text
    assert named(demo) == ["sun_by_hour", "sun"]
    assert demo.broken[0].part == "morning"
    assert demo.broken[0].since is not None
    assert abs((demo.broken[0].since - dt.date(2026, 2, 16)).days) <= 1


def test_the_same_log_gives_the_same_answer(
    demo: Fit, promised_once: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("sim.fit.fit.expected", promised_once)
    again = fit(demo.job, demo.log)
    assert [x.estimate for x in demo.findings] == [x.estimate for x in again.findings]


def test_stays_of_the_log_take_the_place_of_trips(tmp_path: Path) -> None:
    folder = profiles_dir() / "logs"
    text = (folder / "demo.toml").read_text("utf-8").replace("2026-02-02", "2031-02-02")
    path = tmp_path / "job.toml"
    path.write_text(text, "utf-8")
    log = read_log(folder / "demo.csv")
    with pytest.raises(JobError, match=r"no trip of the job is then; say .* \[\[log.stays\]\]"):
        fit(load_job(path), log)
    stays = '\n[[log.stays]]\nplace = "35.04, -106.62, 1619 m"\narrives = 2026-02-02\n'
    path.write_text(text + stays, "utf-8")
    found = fit(load_job(path), log)
    assert found.broken[0].part == "morning"
    twice = stays + stays
    path.write_text(text + twice, "utf-8")
    with pytest.raises(JobError, match="arrives on a later day"):
        load_job(path)


def test_stays_of_the_log_move_on_as_the_trip_does(tmp_path: Path, demo: Fit) -> None:
    folder = profiles_dir() / "logs"
    text = (folder / "demo.toml").read_text("utf-8").replace("2026-02-02", "2031-02-02")
    day = other.DEMO.depart
    stays = '\n[log]\nleave_at = "08:00"\n'
    for number, nights in enumerate(other.DEMO.nights):
        latitude, longitude = other.DEMO.place(number)
        stays += (
            f'\n[[log.stays]]\nplace = "{latitude:.2f}, {longitude:.2f}, 1619 m"\n'
            f"arrives = {day}\ndrive_hours = {other.DEMO.drive_hours[number]}\n"
        )
        day += dt.timedelta(days=nights)
    path = tmp_path / "job.toml"
    path.write_text(text + stays, "utf-8")
    found = fit(load_job(path), read_log(folder / "demo.csv"))
    assert named(found) == named(demo)
    # The engine runs in the same hours as on the trip.
    common = np.isin(found.promised.start_utc, demo.promised.start_utc)
    assert common.mean() > 0.95
    also = np.isin(demo.promised.start_utc, found.promised.start_utc)
    assert np.array_equal(found.promised.driving[common], demo.promised.driving[also])
    assert found.promised.driving.sum() > 10.0


def test_stays_beside_the_log_are_a_fault_and_long_ones_are_not(tmp_path: Path) -> None:
    folder = profiles_dir() / "logs"
    text = (folder / "demo.toml").read_text("utf-8").replace("2026-02-02", "2031-02-02")
    place = '\n[[log.stays]]\nplace = "35.04, -106.62, 1619 m"\narrives = '
    path = tmp_path / "job.toml"
    path.write_text(f"{text}{place}2026-05-01\n", "utf-8")
    with pytest.raises(JobError, match="none of its stays is then"):
        fit(load_job(path), read_log(folder / "demo.csv"))
    # Here since years: the log says from when on it matters.
    path.write_text(f"{text}{place}2023-01-01\n", "utf-8")
    found = trips_of_log(load_job(path), np.datetime64("2026-02-02"), np.datetime64("2027-12-31"))
    stays = lay_out(found[0])
    assert stays[0].arrives.date() == dt.date(2026, 2, 2)
    assert stays[-1].leaves.date() == dt.date(2028, 1, 1)


def test_what_is_counted_by_the_label_says_nothing_of_the_label(tmp_path: Path) -> None:
    folder = profiles_dir() / "logs"
    lines = (folder / "demo.csv").read_text("utf-8").splitlines()
    rows = [line.split(",") for line in lines if not line.startswith("#")]
    found = {}
    for name, kept in (("current", (0, 2)), ("soc", (0, 1))):
        path = tmp_path / f"{name}.csv"
        path.write_text("\n".join(",".join(row[n] for n in kept) for row in rows), "utf-8")
        found[name] = fit(load_job(folder / "demo.toml"), read_log(path))
        bank = {x.what: x for x in found[name].findings}
        for what in ("capacity", "losses", "counter"):
            assert bank[what].broken is None  # type: ignore[index]
            assert bank[what].because == "no_soc_and_current"  # type: ignore[index]
        # The morning's shadow is seen all the same.
        assert "sun_by_hour" in named(found[name])


def test_a_log_beside_the_trip_is_refused(tmp_path: Path) -> None:
    folder = profiles_dir() / "logs"
    text = (folder / "demo.toml").read_text("utf-8").replace("2026-02-02", "2026-03-07")
    path = tmp_path / "job.toml"
    path.write_text(text, "utf-8")
    with pytest.raises((JobError, LogError), match=r"\[\[log.stays\]\]"):
        fit(load_job(path), read_log(folder / "demo.csv"))


def test_gaps_leave_the_answer_as_it_is(tmp_path: Path) -> None:
    folder = profiles_dir() / "logs"
    lines = (folder / "demo.csv").read_text("utf-8").splitlines()
    chance = np.random.default_rng(1)
    rows = lines[3:]
    kept = np.ones(len(rows), dtype=bool)
    for begin in chance.integers(len(rows), size=12):
        kept[begin : begin + 20] = False
    path = tmp_path / "log.csv"
    text = [*lines[:3], *(row for row, is_in in zip(rows, kept, strict=True) if is_in)]
    path.write_text("\n".join(text), "utf-8")
    found = fit(load_job(folder / "demo.toml"), read_log(path))
    assert found.broken[0].part == "morning"
