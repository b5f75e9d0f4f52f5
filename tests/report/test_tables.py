"""JSON and CSV: stable keys, numbers that are those of the result, text that stays text."""

from __future__ import annotations

import csv
import io
import json

import numpy as np
import pytest

from sim.ledger.results import Result
from sim.report.tables import csv_files, json_text, trip_json

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
    assert sun == pytest.approx(trip.sun_w.mean(axis=1).sum(), rel=1e-4)
    days = list(csv.DictReader(io.StringIO(files["small-1-winter-red-week-red-days.csv"])))
    assert [row["date"] for row in days][:2] == ["2027-01-04", "2027-01-05"]
    assert sum(float(row["sun_wh"]) for row in days) == pytest.approx(sun, rel=1e-4)


def test_csv_text_is_no_formula(small_result: Result) -> None:
    ledger = csv_files(small_result, "small")["small-2-summer-ledger.csv"]
    assert "'=SUM(A1)" in ledger
    assert ",=SUM" not in ledger
    assert "\n=SUM" not in ledger
