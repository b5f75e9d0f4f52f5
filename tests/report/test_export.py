"""JSON and CSV: stable keys, numbers that are those of the result, text that stays text."""

from __future__ import annotations

import csv
import datetime as dt
import io
import json

import numpy as np
import pytest

import sim
from sim.ledger.results import Result
from sim.report.data.export import csv_files, json_text, trip_json

TRIP_KEYS = {
    "name", "depart", "hours", "draws", "verdict", "ample_share", "lowest_soc", "dark_hours",
    "energy_wh_per_day", "first_out", "loads_wh_per_day", "weather", "series",
}  # fmt: skip


def test_json_has_the_agreed_keys(small_result: Result) -> None:
    data = json.loads(json_text(trip_json(small_result)))
    assert data["title"] == small_result.job.title
    assert data["settings"]["seed"] == 3
    for trip in data["trips"]:
        assert set(trip) >= TRIP_KEYS
        assert set(trip["lowest_soc"]) == {"p10", "p50", "p90"}
        assert set(trip["dark_hours"]) >= {"mean", "p90"}
        assert set(trip["energy_wh_per_day"]) == {
            "sun", "drive", "shore", "served", "unserved", "losses", "unharvested",
        }  # fmt: skip


def test_json_series_is_the_charge_by_local_time(small_result: Result) -> None:
    trip = small_result.trips[0]
    series = trip_json(small_result)["trips"][0]["series"]
    assert series["time"][0] == "2027-01-04T10:00:00-08:00"
    assert len(series["time"]) == len(series["soc_p50"]) == len(trip.soc)
    assert series["soc_p50"] == pytest.approx(np.median(trip.soc, axis=1), abs=1e-6)
    # the lowest charge of half the draws is never above the lowest point of the median line
    assert trip.lowest_soc.p50 <= min(series["soc_p50"]) + 1e-6


def test_json_ledger_closes_over_the_trip(small_result: Result) -> None:
    for trip, plain in zip(small_result.trips, trip_json(small_result)["trips"], strict=True):
        energy = plain["energy_wh_per_day"]
        change = (trip.soc[-1] - trip.soc[0]).mean() * trip.capacity_wh / trip.days_long
        got = energy["sun"] + energy["drive"] + energy["shore"]
        assert got == pytest.approx(energy["served"] + energy["losses"] + change, rel=1e-9)
        wanted = sum(load["wanted"] for load in plain["loads_wh_per_day"])
        served = sum(load["served"] for load in plain["loads_wh_per_day"])
        assert served == pytest.approx(energy["served"], rel=1e-9)
        assert wanted == pytest.approx(energy["served"] + energy["unserved"], rel=1e-9)


def test_first_out_is_the_share_of_draws_that_reached_the_cut_off(small_result: Result) -> None:
    for trip, plain in zip(small_result.trips, trip_json(small_result)["trips"], strict=True):
        share = float((trip.unserved_w[0] > 1e-6).any(axis=0).mean())
        assert plain["first_out"]["share"] == share
        assert plain["first_out"]["store"] == ("battery" if share else None)


def test_csv_rows_are_the_steps_days_and_appliances(small_result: Result) -> None:
    files = csv_files(small_result, "small")
    assert len(files) == 6
    trip = small_result.trips[0]
    hours = list(csv.DictReader(io.StringIO(files["small-1-winter-red-week-red-hours.csv"])))
    assert len(hours) == len(trip.timeline)
    assert hours[0]["local_time"] == "2027-01-04T10:00:00-08:00"
    sun = sum(float(row["sun_w"]) for row in hours)
    assert sun == pytest.approx(trip.taken_w()["sun"].mean(axis=1).sum(), rel=1e-4)
    days = list(csv.DictReader(io.StringIO(files["small-1-winter-red-week-red-days.csv"])))
    assert [row["date"] for row in days][:2] == ["2027-01-04", "2027-01-05"]
    assert sum(float(row["sun_wh"]) for row in days) == pytest.approx(sun, rel=1e-4)


def test_csv_text_is_no_formula(small_result: Result) -> None:
    ledger = csv_files(small_result, "small")["small-2-summer-ledger.csv"]
    assert "'=SUM(A1)" in ledger
    assert ",=SUM" not in ledger
    assert "\n=SUM" not in ledger


def test_tanks_in_json_and_csv(report_job: str, tmp_path_factory: pytest.TempPathFactory) -> None:
    tanks = (
        '\n[water]\nfresh_l = 60\nopen_drains = ["shower"]\n\n[[water.grey]]\nname = "=Sinks"\n'
        'capacity_l = 20\ntakes = ["kitchen", "basin"]\n\n[propane]\ntank_l = 1\n\n'
        '[[appliances]]\nuse = "furnace-propane"\n'
    )
    path = tmp_path_factory.mktemp("tables") / "job.toml"
    path.write_text(report_job + tanks, "utf-8")
    result = sim.simulate(sim.load_job(path))
    trip = result.trips[0]
    data = json.loads(json_text(trip_json(result)))["trips"][0]
    fresh, sinks, propane = data["stores"]
    assert [x["kind"] for x in data["stores"]] == ["fresh", "grey", "propane"]
    assert fresh["level"]["p50"][0] == 60.0
    # A day apart, and the end.
    assert fresh["level"]["time"][1] == "2027-01-05T10:00:00-08:00"
    every = trip.stores[0].levels.level[::24, 0]
    assert fresh["level"]["p90"][: len(every)] == pytest.approx(every.tolist(), abs=1e-3)
    assert sinks["level"]["p10"][-1] == pytest.approx(trip.stores[1].levels.level[-1, 0], abs=1e-3)
    out = trip.stores[2].out_at_h
    assert propane["out_share"] == np.isfinite(out).mean() > 0.5
    at = trip.depart + dt.timedelta(hours=propane["out_at_h_median"])
    assert dt.datetime.fromisoformat(propane["out"]["at"]) <= at
    assert propane["out"]["night"] == int(propane["out_at_h_median"] / 24.0) + 1
    assert propane["short_hours"]["mean"] == pytest.approx(trip.stores[2].short_h.mean())
    assert propane["short_hours"]["p90"] > 1.0
    assert sum(propane["by_use_per_day"].values()) == pytest.approx(propane["use_per_day"])
    first = data["first_out"]
    assert set(first) == {"store", "name", "share", "at_h", "at", "night"}
    assert first["store"] == trip.first_out.store
    assert first["night"] == int(first["at_h"] / 24.0) + 1

    text = csv_files(result, "small")["small-1-winter-red-week-red-stores.csv"]
    table = list(csv.DictReader(io.StringIO(text)))
    assert len(table) == len(trip.timeline)
    assert float(table[-1]["Fresh water p50 [L]"]) == pytest.approx(
        trip.stores[0].levels.level[-1, 0], abs=1e-3
    )
    assert "=Sinks" not in text.splitlines()[0].split(",")
    assert ",=Sinks" not in text
