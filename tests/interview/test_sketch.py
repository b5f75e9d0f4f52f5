"""The two-minute talk: words to profiles, months to dates, five answers to a whole job."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from sim.errors import JobError
from sim.interview.draft import Answers, Refused
from sim.interview.job_text import job_text
from sim.interview.sketch import aboard, from_flags, month_of, whole_answers
from sim.job.model.job import Job
from sim.job.reading.load import load_job

TODAY = dt.date(2026, 11, 26)


def made(folder: Path, short: Answers, **build: int) -> Job:
    path = folder / "job.toml"
    path.write_text(job_text(whole_answers(short, TODAY, panels=3, batteries=2, **build)), "utf-8")
    return load_job(path)


@pytest.mark.parametrize(
    ("text", "month"), [("january", 1), ("Jan", 1), ("sept.", 9), ("12", 12), (" may ", 5)]
)
def test_a_month_by_name_or_number(text: str, month: int) -> None:
    assert month_of(text) == month


@pytest.mark.parametrize("text", ["", "ju", "13", "0", "winter", "1.5", "²"])
def test_what_is_no_month(text: str) -> None:
    with pytest.raises(Refused, match="month by its English name"):
        month_of(text)


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("fridge,laptops,furnace", {"fridge-dc": 1, "laptop": 2, "furnace-propane": 1}),
        ("Laptop", {"laptop": 1}),
        ("laptops x3, kettle", {"laptop": 3, "kettle": 1}),
        ("laptop, laptop", {"laptop": 2}),
        ("hot water", {"hot-water-propane-instant": 1}),
        ("fridge-freezer-ac", {"fridge-freezer-ac": 1}),
        ("sat", {"satellite-internet": 1}),
        ("none", {}),
    ],
)
def test_what_people_call_things(text: str, found: dict[str, int]) -> None:
    assert aboard(text, 2) == found


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("hot", "'hot' may be several things; did you mean one of: hot-water-electric"),
        ("laptip", "not an appliance on the shelf; did you mean laptop"),
        ("qqqq", "nightledger shelf lists them"),
        ("kettle x0", "1 to 100 of kettle"),
        ("s", "not an appliance on the shelf"),
    ],
)
def test_words_that_name_nothing_or_too_much(text: str, said: str) -> None:
    with pytest.raises(Refused, match=said):
        aboard(text, 2)


@pytest.mark.parametrize(
    ("flag", "said"),
    [
        ({"place": "Atlantis City"}, "PLACE"),
        ({"place": "38.57, -109.55", "month": "snow"}, "--month"),
        ({"place": "38.57, -109.55", "nights": "0"}, "--nights"),
        ({"place": "38.57, -109.55", "people": "two"}, "--people"),
        ({"place": "38.57, -109.55", "has": "laptip"}, "--has"),
    ],
)
def test_a_wrong_flag_is_named(flag: dict[str, str], said: str) -> None:
    with pytest.raises(JobError) as caught:
        from_flags(flag)
    assert caught.value.faults[0].key == said


def test_the_dark_month_of_each_half_of_the_earth() -> None:
    assert from_flags({"place": "38.57, -109.55"})["month"] == 1
    assert from_flags({"place": "-33.97, 18.60"})["month"] == 7


def test_five_answers_make_a_whole_job(tmp_path: Path) -> None:
    said = {"place": "Moab, UT", "month": "jan", "people": "3", "nights": "9"}
    short = from_flags(said | {"has": "fridge, laptops, kettle, furnace"})
    job = made(tmp_path, short)
    (trip,) = job.trips
    assert trip.depart == dt.date(2027, 1, 11)
    assert [(stop.nights, stop.drive_hours) for stop in trip.stops] == [(9, 0)]
    assert (job.living.people, job.settings.units) == (3, "us")
    assert (job.panels[0].count, job.battery.count) == (3, 2)
    assert (job.alternator, job.shore) == ((), ())
    counts = {item.name: item.count for item in job.appliances}
    assert (counts["Laptop"], counts["Phone charging"]) == (3, 3)
    # The kettle needs an inverter, the furnace a tank that is filled.
    assert job.inverter is not None
    assert job.propane is not None
    assert "propane" in trip.stops[0].services


def test_a_month_that_has_begun_is_the_next_years(tmp_path: Path) -> None:
    short = from_flags({"place": "48.1, 11.6", "month": "november"})
    job = made(tmp_path, short)
    assert job.trips[0].depart == dt.date(2027, 11, 12)


def test_what_needs_a_plug_is_refused(tmp_path: Path) -> None:
    short = from_flags({"place": "48.1, 11.6", "has": "heater-electric"})
    with pytest.raises(JobError, match=r"--has: .* runs only on a plug, and a sketch is parked"):
        made(tmp_path, short)
