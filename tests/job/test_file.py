"""The job file: what loads, and how several faults are told at once."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from sim.errors import JobError
from sim.job.model.appliances import ColdBox, Heater
from sim.job.reading.load import load_job
from sim.resources import profiles_dir

Changed = Callable[[str, str], str]
FaultsIn = Callable[[Path], list[str]]
FaultsOf = Callable[[str], list[str]]
Write = Callable[[str], Path]


def test_the_demo_loads_with_profiles_overrides_and_units() -> None:
    job = load_job(profiles_dir() / "jobs" / "demo.toml")
    furnace = next(item for item in job.appliances if isinstance(item, Heater))
    fridge = next(item for item in job.appliances if isinstance(item, ColdBox))
    assert fridge.rated_wh_day == 420  # from the profile
    assert furnace.day_c == pytest.approx((66 - 32) / 1.8)  # overridden, in deg F
    assert furnace.heat_watts == 4000
    assert [trip.name for trip in job.trips] == [
        "January, high desert",
        "July, mountains and coast",
    ]
    assert job.trips[0].stops[0].place.label == "Page, Arizona, US"
    assert job.trips[0].leave_at == 600
    assert job.trip("July, mountains and coast") is job.trips[1]
    with pytest.raises(KeyError):
        job.trip("August")


def test_a_path_may_be_text(small_job: str, write_job: Write) -> None:
    assert load_job(str(write_job(small_job))).title == "Test van"


def test_windows_line_ends_and_byte_order_mark(
    small_job: str, tmp_path: Path, faults_in: FaultsIn
) -> None:
    plain, odd = tmp_path / "plain.toml", tmp_path / "odd.toml"
    plain.write_bytes(small_job.encode())
    odd.write_bytes(b"\xef\xbb\xbf" + small_job.replace("\n", "\r\n").encode())
    assert load_job(odd) == load_job(plain)
    odd.write_bytes(
        b"\xef\xbb\xbf" + small_job.replace("= 2", "= x").replace("\n", "\r\n").encode()
    )
    assert faults_in(odd) == [
        "odd.toml, line 11: column 9: a value is missing, or cannot be read; text must be in quotes"
    ]


@pytest.mark.parametrize(
    ("entry", "metres"),
    [
        ("length_ft = 9", 9 * 0.3048),
        ("length_in = 100", 100 * 0.0254),
        ("length_cm = 270", 2.7),
        ("length_mm = 2700", 2.7),
        ("length_m = 3", 3.0),
    ],
)
def test_lengths_in_any_unit(entry: str, metres: float, changed: Changed, write_job: Write) -> None:
    text = changed('use = "small-van"', f'use = "small-van"\n{entry}')
    assert load_job(write_job(text)).van.length_m == pytest.approx(metres, rel=1e-12)


@pytest.mark.parametrize("feet", [5, 49.2])
def test_the_rounded_bounds_of_another_unit_are_themselves_allowed(
    feet: float, changed: Changed, write_job: Write
) -> None:
    text = changed('use = "small-van"', f'use = "small-van"\nlength_ft = {feet}')
    assert load_job(write_job(text)).van.length_m == pytest.approx(feet * 0.3048)


def test_the_same_job_written_in_other_toml(small_job: str, write_job: Write) -> None:
    other = """
        title = 'Test van'
        van.use = "small-van"
        living = { use = "weekend-away" }
        panels = [{ use = "rigid-170", count = 2, controller_amps = 30 }]
        "battery".use = "lifepo4-100"
        appliances = [
            { use = "fridge-dc" },  # one
        ]
        trips = [
            { name = "Weekend", depart = "2027-05-07", stops = [
                { place = "38.57, -109.55", nights = 2 },
            ] },
        ]
    """
    assert load_job(write_job(other)) == load_job(write_job(small_job))


def test_weather_files_are_named_from_the_job_files_folder(
    small_job: str, write_job: Write, tmp_path: Path
) -> None:
    (tmp_path / "here.csv").write_text("x")
    text = small_job + 'weather = "here.csv"\n[settings]\nweather = "clear"\n'
    job = load_job(write_job(text))
    assert job.settings.weather == "clear"
    assert job.trips[0].stops[0].weather == str(tmp_path.resolve() / "here.csv")


def test_a_link_does_not_lead_a_weather_file_out_of_the_folder(
    small_job: str,
    faults_of: FaultsOf,
    write_job: Write,
    tmp_path: Path,
    tmp_path_factory: pytest.TempPathFactory,
) -> None:
    elsewhere = tmp_path_factory.mktemp("elsewhere") / "there.csv"
    elsewhere.write_text("x")
    (tmp_path / "link.csv").symlink_to(elsewhere)
    (fault,) = faults_of(small_job + 'weather = "link.csv"\n')
    assert "leads out of the job file's folder" in fault
    (tmp_path / "own.csv").write_text("x")
    (tmp_path / "near.csv").symlink_to(tmp_path / "own.csv")
    job = load_job(write_job(small_job + 'weather = "near.csv"\n'))
    assert job.trips[0].stops[0].weather == str(tmp_path.resolve() / "near.csv")


def test_faults_stand_in_the_order_of_the_file(small_job: str, faults_of: FaultsOf) -> None:
    text = small_job.replace("count = 2", 'count = "two"').replace("fridge-dc", "frige-dc") + (
        """
[[trips]]
name = "Second"  # a ] and a "quote" in a comment, and '''
depart = "2027-02-30"

[[trips.stops]]
place = "38.57, -109.55"
nights = 1

[[trips.stops]]
place = "95, -109"
nights = -1
colour = "red"

[settings]
draws = 0
"""
    )
    assert faults_of(text) == [
        'job.toml, line 11: panels[1].count = "two": must be a whole number from 0 to 60, without '
        "quotes or a unit",
        'job.toml, line 18: appliances[1].use = "frige-dc": no such profile in appliances; did '
        "you mean fridge-dc, freezer-dc or fridge-freezer-ac?",
        'job.toml, line 30: trips[2].depart = "2027-02-30": must be a date of the calendar as '
        "year-month-day, such as 2027-01-09",
        'job.toml, line 37: trips[2].stops[2].place = "95, -109": latitude 95 is out of range: it '
        "goes from -90 to 90",
        "job.toml, line 38: trips[2].stops[2].nights = -1: must be a whole number from 0 to 366",
        'job.toml, line 39: trips[2].stops[2].colour = "red": no such key here',
        "job.toml, line 42: settings.draws = 0: must be a whole number from 1 to 5000",
    ]


def test_lines_within_inline_tables_dotted_keys_long_texts_and_lists(faults_of: FaultsOf) -> None:
    text = '''\
title = """
[van]
use = "not a key" \\
"""
van.use = "small-van"
van . length_ft = 90
living = { use = "weekend-away", people = 0 }
appliances = [
    { use = "fridge-dc" },
    # { use = "nothing" },
    { use = "laptop", at = [
        "09:00-12:00",
        "late",
    ] },
]

[battery]
use = "lifepo4-100"
"nominal_v" = 120

[[trips]]
name = "One"
depart = 2027-05-07
stops = [
    { place = "38.57, -109.55", nights = 2 }, { place = "38.57, -109.55", nights = 1.5 },
    { nights = 3 },
]
'''
    assert faults_of(text) == [
        'job.toml, line 1: title = "[van]\\nuse = "not a key" ": must be one line of text, without '
        "tabs or control characters",
        "job.toml, line 6: van.length_ft = 90: must be a number from 5 to 49.2",
        "job.toml, line 7: living.people = 0: must be a whole number from 1 to 12",
        'job.toml, line 13: appliances[2].at[2] = "late": write a part of the day as "18:00-22:30"',
        "job.toml, line 19: battery.nominal_v = 120: must be a number from 6 to 60",
        "job.toml, line 25: trips[1].stops[2].nights = 1.5: must be a whole number from 0 to 366",
        "job.toml, line 26: trips[1].stops[3].place: this key is missing; give a town such as "
        '"Moab, UT" or a coordinate such as "38.57, -109.55"',
    ]


def test_an_unknown_profile_hides_no_other_fault(changed: Changed, faults_of: FaultsOf) -> None:
    text = changed('use = "lifepo4-100"', 'use = "lifepo"\ncount = 99\ncolour = "red"')
    assert faults_of(text) == [
        'job.toml, line 15: battery.use = "lifepo": no such profile in batteries; did you mean '
        "lifepo4-300, lifepo4-200 or lifepo4-100?",
        "job.toml, line 16: battery.count = 99: must be a whole number from 1 to 40",
        'job.toml, line 17: battery.colour = "red": no such key here',
    ]


def test_faults_carry_their_parts(changed: Changed, write_job: Write) -> None:
    path = write_job(changed("count = 2", "count = -2"))
    with pytest.raises(JobError) as caught:
        load_job(path)
    (fault,) = caught.value.faults
    assert (fault.file, fault.line, fault.key, fault.value, fault.rule) == (
        str(path),
        11,
        "panels[1].count",
        -2,
        "must be a whole number from 0 to 60",
    )
