"""A job with keys changed: what changes, what is refused and in which words."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from sim.errors import JobError
from sim.job.model.job import Job
from sim.job.overrides import overridden
from sim.job.reading.load import load_job

TWO_TRIPS = """
[[trips]]
name = "Second"
depart = 2027-06-07
[[trips.stops]]
place = "38.57, -109.55"
nights = 1
[[trips.stops]]
place = "38.57, -109.55"
nights = 0
"""


def test_keys_dotted_nested_in_lists_and_in_other_units(job: Job) -> None:
    changed = overridden(
        job,
        {
            "battery": {"count": 3},
            "van.length_ft": 10,
            "panels[1].count": 4,
            "appliances[Refrigerator, 12 V compressor].count": 0,
            "trips[*].stops[*].local_drive_hours": 1.5,
            "living.wake_at": "06:30",
        },
    )
    assert changed.battery.count == 3
    assert changed.van.length_m == pytest.approx(3.048)
    assert changed.panels[0].count == 4
    assert changed.appliances[0].count == 0
    assert changed.trips[0].stops[0].local_drive_hours == 1.5
    assert changed.living.wake_at == 390
    assert job.battery.count == 1


def test_a_profile_and_a_section_that_was_not_there(job: Job) -> None:
    assert overridden(job, {"battery.use": "lifepo4-300"}).battery.capacity_ah == 300
    both = overridden(job, {"battery.use": "lifepo4-300", "battery.count": 2}).battery
    assert (both.capacity_ah, both.count) == (300, 2)
    shore = {"charger_amps": 20.0, "inlet_volts": 120.0, "inlet_amps": 15.0}
    made = overridden(job, {"shore": shore}).plug
    assert made is not None
    assert made.charger_amps == 20.0


def test_a_new_section_in_other_units(job: Job) -> None:
    made = overridden(job, {"propane.tank_gal": 5, "propane.start_pct": 50}).propane
    assert made is not None
    assert made.tank_l == pytest.approx(18.927, abs=1e-3)
    assert made.start_pct == 50
    drains = ["kitchen", "basin", "shower"]
    water = overridden(job, {"water": {"fresh_gal": 5, "open_drains": drains}}).water
    assert water is not None
    assert water.fresh_l == pytest.approx(18.927, abs=1e-3)


def test_another_unit_takes_the_place_of_the_profiles(job: Job) -> None:
    van = overridden(job, {"van.use": "medium-roof", "van.length_ft": 10}).van
    assert van.length_m == pytest.approx(3.048)


def test_stars_pass_stops_without_nights(write_job: Callable[[str], Path], small_job: str) -> None:
    job = load_job(write_job(small_job + TWO_TRIPS))
    changed = overridden(job, {"trips[*].stops[*].local_drive_hours": 1.0})
    assert [[s.local_drive_hours for s in t.stops] for t in changed.trips] == [[1.0], [1.0, 0.0]]
    one = overridden(job, {"trips[Second].depart": "2027-07-01"})
    assert one.trips[0] == job.trips[0]
    assert one.trips[1].depart.month == 7


REFUSED: dict[str, tuple[dict[str, Any], str]] = {
    "misspelled": ({"battery.coutn": 2}, "battery.coutn: no such key; did you mean count?"),
    "a position without brackets": (
        {"panels.1.count": 2},
        'panels[1].1: no such section; one of a list is in brackets, as in "panels[1].count"',
    ),
    "no section": ({"batery.count": 2}, "batery: no such section; did you mean battery?"),
    "out of range": (
        {"battery.count": 0},
        "battery.count = 0: must be a whole number from 1 to 40",
    ),
    "text for a number": (
        {"battery.count": "two"},
        'battery.count = "two": must be a whole number from 1 to 40',
    ),
    "which one": (
        {"appliances[Kettle].count": 1},
        "appliances: say which: [Refrigerator, 12 V compressor] or [*] for all",
    ),
    "settings": (
        {"settings.seed": 2},
        "settings.seed: a change sets a key of what is built or of a trip, such as battery.count",
    ),
    "no key": ({"battery": 2}, "a change sets a key"),
    "no profile": ({"battery.use": "lifepo"}, "no such profile in batteries"),
    "half a section": (
        {"shore": {"charger_amps": 20.0}},
        "shore.inlet_volts: the job has no [shore] so far: this key is missing",
    ),
    "against a rule": (
        {"panels.mount": "tilted"},
        "panels[1].mount: a tilted group needs tilt_deg too, such as 30",
    ),
    "both units": (
        {"van": {"length_m": 3.0, "length_ft": 10}},
        "van.length_ft: give length_m or length_ft, not both",
    ),
    "a new section, misspelled": (
        {"propane.tank_gall": 5},
        "propane.tank_gall: no such key; did you mean tank_l?",
    ),
    "inside a section that is not there": (
        {"water.grey.capacity_gal": 5},
        "water: the job has no [water] so far; set its own keys first",
    ),
    "a tank of nothing": ({"propane.tank_gal": 0}, "propane.tank_l: the job has no [propane] so"),
    "no place": (
        {"trips[1].stops[1].place": "Nowhere at all"},
        'trips[1].stops[1].place = "Nowhere at all": no place called',
    ),
    "a place with keys": (
        {"trips[1].stops[1].place": {"name": "x"}},
        "trips[1].stops[1].place: this is no section with keys",
    ),
    "a list with keys": (
        {"living": {"out": {"a": 1}}},
        "living.out: this is a list and has no keys; set it whole",
    ),
    "meals with keys": ({"living.meals_at": {"x": {"y": 1}}}, "living.meals_at: this is a list"),
    "showers with keys": ({"living.shower_at[1].x": 1}, "living.shower_at: this is a list"),
    "services with keys": ({"trips[1].stops[1].services": {"b": 2}}, "services: this is a list"),
    "a word for a list": (
        {"living.shower_at": "x"},
        'living.shower_at = "x": must be a list such as ["18:00-22:30"]',
    ),
    "no stops": (
        {"trips[1].stops": []},
        "trips[1].stops: must be a list of sections with their keys",
    ),
    "the weather": (
        {"trips[1].stops[1].weather": "clear"},
        "trips[1].stops[1].weather: a change sets a key of what is built or of a trip",
    ),
    "next to nothing": (
        {"panels.obstructed_pct": 5e-324},
        "obstructed_pct = 5e-324: is next to nothing; give 0, or at least 0.001",
    ),
    "too deep": ({"battery.count.more": 2}, "battery.count: this is no section with keys"),
    "brackets": ({"battery[": 2}, 'battery[: write a key as "battery.count"'),
}


def test_a_stop_may_be_elsewhere(job: Job) -> None:
    moved = overridden(job, {"trips[1].stops[1].place": "48.2, 16.4"})
    assert moved.trips[0].stops[0].place.latitude == 48.2


@pytest.mark.parametrize("name", REFUSED)
def test_what_is_refused_is_told(job: Job, name: str) -> None:
    changes, said = REFUSED[name]
    with pytest.raises(JobError) as caught:
        overridden(job, changes)
    assert said in str(caught.value.faults[0])


def test_levers_of_a_file_are_checked_with_their_line(
    faults_of: Callable[[str], list[str]], small_job: str
) -> None:
    text = small_job + (
        '\n[[levers]]\nname = "A"\nset = { battery.count = 2 }\n'
        '\n[[levers]]\nname = "A"\n[levers.set]\nbattery.coutn = 2\n'
    )
    assert faults_of(text) == [
        'job.toml, line 33: levers[2].name = "A": another lever has this name; tell them apart',
        "job.toml, line 34: levers[2].set: A: battery.coutn: no such key; did you mean count?",
    ]


def test_a_job_with_weather_of_its_own_has_levers_too(
    write_job: Callable[[str], Path], small_job: str
) -> None:
    """Its file is found from the job's folder, wherever the program was started."""
    path = write_job(
        small_job
        + 'weather = "w.csv"\n[settings]\nweather = "w.csv"\n'
        + '[[levers]]\nname = "More"\nset = { "battery.count" = 2 }\n'
    )
    (path.parent / "w.csv").write_text("")
    job = load_job(path)
    changed = overridden(job, job.levers[0].set)
    assert changed.trips[0].stops[0].weather == job.settings.weather == str(path.parent / "w.csv")


ROOF = '\n[roof]\nlength_m = 3\nwidth_m = 1.6\n\n[[roof.obstacles]]\nname = "Fan"\n{}\n'


@pytest.mark.parametrize(
    ("obstacle", "said"),
    [
        (
            "x_m = 2.8\ny_m = 0\nlength_m = 0.4\nwidth_m = 0.4",
            "roof.obstacles[1].x_m = 2.8: Fan ends 3.20 m along, beyond the roof, whose length_m "
            "is 3",
        ),
        (
            "x_m = 0\ny_m = 1.4\nlength_m = 0.4\nwidth_m = 0.4",
            "roof.obstacles[1].y_m = 1.4: Fan ends 1.80 m along, beyond the roof, whose width_m "
            "is 1.6",
        ),
    ],
)
def test_obstacles_stand_on_the_roof(
    faults_of: Callable[[str], list[str]], small_job: str, obstacle: str, said: str
) -> None:
    (fault,) = faults_of(small_job + ROOF.format(obstacle))
    assert fault.endswith(said)


def test_a_panel_has_both_sizes(
    faults_of: Callable[[str], list[str]], changed: Callable[[str, str], str]
) -> None:
    text = changed("count = 2\n", "count = 2\nlength_m = 1.4\n").replace(
        'use = "rigid-170"', "watts = 170\ntemp_coeff_pct_c = -0.36"
    )
    (fault,) = faults_of(text)
    assert fault.endswith("panels[1].width_m: length and width of a panel go together; give both")
