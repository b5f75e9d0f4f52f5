"""The drives of a trip: as written, or estimated where the hours are left out."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from sim.job.drives import legs
from sim.job.model.job import Trip
from sim.job.reading.load import load_job
from sim.report.words.drives import drive_lines, drive_sentences, estimated_drives
from sim.trip.stays import lay_out

STOP = 'place = "38.57, -109.55"\nnights = 2\n'
PAGE, MOAB = "Page, AZ", "Moab, UT"


def trip_of(*stops: dict[str, Any], **more: Any) -> Trip:
    return Trip.model_validate({"name": "Trip", "depart": "2027-05-01", "stops": stops, **more})


def test_hours_left_out_are_estimated_between_places() -> None:
    """Moab to Page is a published 272 miles and 4 h 40 (from memory)."""
    (first, second) = legs(
        trip_of({"place": MOAB, "nights": 1}, {"place": PAGE, "nights": 1}, start=PAGE)
    )
    assert first.estimate is not None
    assert first.estimate.road_km == pytest.approx(438.0, rel=0.3)
    assert first.hours == first.estimate.hours == pytest.approx(4.6, rel=0.3)
    assert second.hours == pytest.approx(first.hours, abs=0.25)


def test_written_hours_stay_and_nought_is_written_too() -> None:
    found = legs(
        trip_of(
            {"place": MOAB, "nights": 1, "drive_hours": 9.5},
            {"place": PAGE, "nights": 1, "drive_hours": 0},
            start=PAGE,
        )
    )
    assert [(leg.hours, leg.estimate, leg.no_way) for leg in found] == [
        (9.5, None, False),
        (0.0, None, False),
    ]


def test_no_drive_to_the_same_place_nor_to_where_the_trip_begins() -> None:
    found = legs(trip_of({"place": MOAB, "nights": 1}, {"place": MOAB, "nights": 2}))
    assert [(leg.hours, leg.estimate) for leg in found] == [(0.0, None), (0.0, None)]


def test_the_sea_between_is_no_way() -> None:
    (leg,) = legs(trip_of({"place": "Calais, France", "nights": 1}, start="Dover, England"))
    assert (leg.hours, leg.estimate, leg.no_way) == (0.0, None, True)


def test_the_van_arrives_when_the_estimate_says() -> None:
    trip = trip_of(
        {"place": MOAB, "nights": 1, "pause_hours": 0.5},
        start="Grand Junction, CO",
        leave_at="10:00",
    )
    (leg,) = legs(trip)
    assert leg.estimate is not None
    (stay,) = lay_out(trip)
    assert stay.arrives - stay.leg_starts == dt.timedelta(hours=leg.hours + 0.5)


def test_a_file_without_hours_loads_and_says_what_was_estimated(
    small_job: str, write_job: Callable[[str], Path]
) -> None:
    assert small_job.count(STOP) == 1
    more = f'{STOP}\n[[trips.stops]]\nplace = "{PAGE}"\nnights = 1\npause_hours = 1\n'
    job = load_job(write_job(small_job.replace(STOP, more)))
    hours = legs(job.trips[0])[1].hours
    assert hours > 2.0
    head, line = drive_lines(estimated_drives(job), "us")
    assert "left out are estimated" in head
    assert line.startswith(f"  38.57, -109.55 to Page, Arizona, US: {hours:g} h, about ")
    assert line.endswith(" miles")
    assert line.strip() in drive_sentences(job)[0]


def test_nothing_is_said_where_nothing_was_estimated(
    small_job: str, write_job: Callable[[str], Path]
) -> None:
    job = load_job(write_job(small_job))
    assert drive_lines(estimated_drives(job), "us") == []
    assert drive_sentences(job) == ()
