"""For each fault of a job file, the one sentence that the builder reads."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

KINDS = (
    '"steady", "timed", "lights", "cold box", "heater", "fan", "air conditioner", "cooking", '
    '"hot water", "pump" or "device charging"'
)

PLACE = 'give a town such as "Moab, UT" or a coordinate such as "38.57, -109.55"'
LATITUDE_FIRST = "coordinates are decimal degrees, latitude first, such as 38.57, -109.55"
X60 = '"' + "x" * 57 + '…"'

FAULTS = {
    # sections
    "no trips": (
        '[[trips]]\nname = "Weekend"\ndepart = 2027-05-07\n\n[[trips.stops]]\n'
        'place = "38.57, -109.55"\nnights = 2\n',
        "",
        "job.toml: trips: the job has no trip; add a [[trips]] section with name, depart and "
        "[[trips.stops]]",
    ),
    "no stops": (
        '[[trips.stops]]\nplace = "38.57, -109.55"\nnights = 2\n',
        "",
        "job.toml, line 20: trips[1].stops: this trip has no stop; add a [[trips.stops]] section "
        "with place and nights",
    ),
    "empty list of stops": (
        '[[trips.stops]]\nplace = "38.57, -109.55"\nnights = 2\n',
        "stops = []\n",
        "job.toml, line 24: trips[1].stops: this trip has no stop; add a [[trips.stops]] section "
        "with place and nights",
    ),
    "single brackets": (
        "[[panels]]",
        "[panels]",
        "job.toml, line 9: panels: must be a section of its own: write [[panels]], in double "
        "brackets, once for each",
    ),
    "single brackets below": (
        "[[trips.stops]]",
        "[trips.stops]",
        "job.toml, line 24: trips[1].stops: must be a section of its own: write [[trips.stops]], "
        "in double brackets, once for each",
    ),
    "double brackets": (
        "[van]",
        "[[van]]",
        "job.toml, line 3: van: must be a section: write [van], in single brackets, once, and its "
        "keys below it",
    ),
    "text for a section": (
        '[[appliances]]\nuse = "fridge-dc"',
        'appliances = "fridge-dc"',
        # Below [battery] every key is the battery's.
        'job.toml, line 17: battery.appliances = "fridge-dc": no such key here; [[appliances]] is '
        "a section of its own",
    ),
    "misspelled section": (
        "[battery]",
        "[batery]",
        "job.toml, line 14: batery: no such section here; did you mean [battery]?",
    ),
    "misspelled list of sections": (
        "[[appliances]]",
        "[[appliance]]",
        "job.toml, line 17: appliance: no such section here; did you mean [[appliances]]?",
    ),
    # keys
    "misspelled key": (
        "count = 2",
        "cuont = 2",
        "job.toml, line 11: panels[1].cuont = 2: no such key here; did you mean count?",
    ),
    "misspelled key in another unit": (
        'use = "small-van"',
        'use = "small-van"\nlenght_ft = 9',
        "job.toml, line 5: van.lenght_ft = 9: no such key here; did you mean length_ft?",
    ),
    "dashes and capitals": (
        "controller_amps",
        "Controller-Amps",
        "job.toml, line 12: panels[1].Controller-Amps = 30: no such key here; did you mean "
        "controller_amps?",
    ),
    "unknown key": (
        "count = 2",
        'count = 2\ncolour = "red"',
        'job.toml, line 12: panels[1].colour = "red": no such key here',
    ),
    "key of another section": (
        'use = "small-van"',
        'use = "small-van"\ndraws = 3',
        "job.toml, line 5: van.draws = 3: no such key here; it belongs into [settings]",
    ),
    "key of a stop in its trip": (
        'name = "Weekend"',
        'name = "Weekend"\nshade_pct = 30',
        "job.toml, line 22: trips[1].shade_pct = 30: no such key here; it belongs into "
        "[[trips.stops]]",
    ),
    "title below a section": (
        'title = "Test van"\n\n[van]',
        '[van]\ntitle = "Test van"',
        'job.toml, line 2: van.title = "Test van": no such key here; title belongs at the top of '
        "the file, above the first [section]",
    ),
    "key of another kind of appliance": (
        'use = "fridge-dc"',
        'use = "fridge-dc"\nblower_watts = 3',
        "job.toml, line 19: appliances[1].blower_watts = 3: no such key here",
    ),
    "a rate has no degrees": (
        'use = "lifepo4-100"',
        'use = "lifepo4-100"\nmax_charge_f = 3',
        "job.toml, line 16: battery.max_charge_f = 3: no such key here; did you mean max_charge_c?",
    ),
    "control characters in a key": (
        "count = 2",
        'count = 2\n"a\\u001b\\nb" = 2',
        'job.toml, line 12: panels[1]."a\\x1b\\nb" = 2: no such key here',
    ),
    "very long key": (
        "count = 2",
        f"count = 2\n{'k' * 10_000} = 2",
        f'job.toml, line 12: panels[1]."{"k" * 37}…" = 2: no such key here',
    ),
    "missing key": (
        "controller_amps = 30\n",
        "",
        "job.toml, line 9: panels[1].controller_amps: this key is missing; give a number from 1 "
        "to 500",
    ),
    "missing place": (
        'place = "38.57, -109.55"\n',
        "",
        f"job.toml, line 24: trips[1].stops[1].place: this key is missing; {PLACE}",
    ),
    "missing date": (
        "depart = 2027-05-07\n",
        "",
        "job.toml, line 20: trips[1].depart: this key is missing; give a date such as 2027-01-09",
    ),
    # profiles
    "unknown profile": (
        "fridge-dc",
        "fridge",
        'job.toml, line 18: appliances[1].use = "fridge": no such profile in appliances; did you '
        "mean fridge-dc or fridge-freezer-ac?",
    ),
    "profile with capitals and spaces": (
        "small-van",
        "Small van",
        'job.toml, line 4: van.use = "Small van": no such profile in vans; did you mean small-van?',
    ),
    "unknown profile, none near": (
        "lifepo4-100",
        "lead",
        'job.toml, line 15: battery.use = "lead": no such profile in batteries; take agm-100, '
        "agm-200, flooded-225, lifepo4-100, lifepo4-200 or lifepo4-300",
    ),
    "unknown profile in a long section": (
        "fridge-dc",
        "zzz",
        'job.toml, line 18: appliances[1].use = "zzz": no such profile in appliances; nightledger '
        "shelf lists them",
    ),
    "profile of another section": (
        "fridge-dc",
        "lifepo4-100",
        'job.toml, line 18: appliances[1].use = "lifepo4-100": no such profile in appliances; it '
        "is in batteries",
    ),
    "number for a profile": (
        '"fridge-dc"',
        "5",
        "job.toml, line 18: appliances[1].use = 5: must be the name of a profile in quotes",
    ),
    "very long profile": (
        "fridge-dc",
        "x" * 10_000,
        f"job.toml, line 18: appliances[1].use = {X60}: no such profile in appliances; "
        "nightledger shelf lists them",
    ),
    "another kind than the profile's": (
        'use = "fridge-dc"',
        'use = "fridge-dc"\nkind = "steady"',
        'job.toml, line 19: appliances[1].kind = "steady": the profile fridge-dc is a "cold box"; '
        "leave kind out, or use another profile",
    ),
    "no profile and no kind": (
        'use = "fridge-dc"',
        'name = "Fridge"',
        "job.toml, line 17: appliances[1]: say what it is: use = with a profile, such as "
        f'"fridge-dc", or kind = with one of {KINDS}',
    ),
    "unknown kind": (
        'use = "fridge-dc"',
        'name = "Fridge"\nkind = "cooler"',
        f'job.toml, line 19: appliances[1].kind = "cooler": must be {KINDS}',
    ),
    "a section without its profile": (
        'use = "rigid-170"\n',
        "watts = 170\n",
        "job.toml, line 9: panels[1].temp_coeff_pct_c: this key is missing; give a number from -1 "
        "to 0",
    ),
    "a section without most of its keys": (
        'use = "small-van"',
        "length_ft = 9",
        "job.toml, line 3: van: width_m, height_m, shell_u_w_m2k, skin_absorptance, glass_m2, "
        "thermal_mass_kj_k are missing: give them, or take a profile with use = "
        '"long-high-roof", "medium-roof" or "small-van"',
    ),
    # numbers
    "text for a number": (
        "controller_amps = 30",
        'controller_amps = "30 A"',
        'job.toml, line 12: panels[1].controller_amps = "30 A": must be a number from 1 to 500, '
        "without quotes or a unit",
    ),
    "text for a whole number": (
        "count = 2",
        'count = "two"',
        'job.toml, line 11: panels[1].count = "two": must be a whole number from 0 to 60, without '
        "quotes or a unit",
    ),
    "negative": (
        "count = 2",
        "count = -2",
        "job.toml, line 11: panels[1].count = -2: must be a whole number from 0 to 60",
    ),
    "absurd": (
        'use = "lifepo4-100"',
        'use = "lifepo4-100"\ncapacity_ah = 1e9',
        "job.toml, line 16: battery.capacity_ah = 1000000000.0: must be a number from 5 to 5000",
    ),
    "zero where there is none": (
        'use = "lifepo4-100"',
        'use = "lifepo4-100"\nmax_charge_c = 0',
        "job.toml, line 16: battery.max_charge_c = 0: must be a number from 0.01 to 5",
    ),
    "next to nothing": (
        "controller_amps = 30",
        "controller_amps = 30\nsoiling_pct = 1e-300",
        "job.toml, line 13: panels[1].soiling_pct = 1e-300: is next to nothing; give 0, or at "
        "least 0.001",
    ),
    "broken number": (
        "count = 2",
        "count = 2.5",
        "job.toml, line 11: panels[1].count = 2.5: must be a whole number from 0 to 60",
    ),
    "true for a number": (
        "count = 2",
        "count = true",
        "job.toml, line 11: panels[1].count = true: must be a whole number from 0 to 60",
    ),
    "nan": (
        "controller_amps = 30",
        "controller_amps = nan",
        "job.toml, line 12: panels[1].controller_amps = nan: must be a number from 1 to 500",
    ),
    "inf": (
        "controller_amps = 30",
        "controller_amps = -inf",
        "job.toml, line 12: panels[1].controller_amps = -inf: must be a number from 1 to 500",
    ),
    "larger than a float": (
        "controller_amps = 30",
        "controller_amps = 1e400",
        "job.toml, line 12: panels[1].controller_amps = inf: must be a number from 1 to 500",
    ),
    "whole number of 400 digits": (
        "controller_amps = 30",
        f"controller_amps = 1{'0' * 400}",
        "job.toml, line 12: panels[1].controller_amps: this number is far too large",
    ),
    "whole number of 5,000 digits": (
        "controller_amps = 30",
        f"controller_amps = 1{'0' * 5000}",
        "job.toml, line 12: a number is far too long",
    ),
    "hexadecimal number of 9,000 digits": (
        "controller_amps = 30",
        f"controller_amps = 0x{'f' * 9000}",
        "job.toml, line 12: panels[1].controller_amps: this number is far too large",
    ),
    "list for a number": (
        "controller_amps = 30",
        "controller_amps = [30]",
        "job.toml, line 12: panels[1].controller_amps: must be a number from 1 to 500, not a list",
    ),
    "table for a number": (
        "controller_amps = 30",
        "controller_amps = { maximum = 30 }",
        "job.toml, line 12: panels[1].controller_amps: must be a number from 1 to 500, not a "
        "section",
    ),
    "percent for a share": (
        'use = "lifepo4-100"',
        'use = "lifepo4-100"\nreserve_soc = 15',
        "job.toml, line 16: battery.reserve_soc = 15: must be a number from 0 to 1; 15 % is 0.15",
    ),
    "bounds in the unit of the entry": (
        'use = "small-van"',
        'use = "small-van"\nlength_ft = 60',
        "job.toml, line 5: van.length_ft = 60: must be a number from 5 to 49.2",
    ),
    "bounds in degrees F": (
        'use = "lifepo4-100"',
        'use = "lifepo4-100"\ncharge_above_f = 320',
        "job.toml, line 16: battery.charge_above_f = 320: must be a number from -40 to 68",
    ),
    "nan in feet": (
        'use = "small-van"',
        'use = "small-van"\nlength_ft = nan',
        "job.toml, line 5: van.length_ft = nan: must be a number from 5 to 49.2",
    ),
    "text for feet": (
        'use = "small-van"',
        'use = "small-van"\nlength_ft = "9 ft"',
        'job.toml, line 5: van.length_ft = "9 ft": must be a number from 5 to 49.2, without '
        "quotes or a unit",
    ),
    "metres and feet": (
        'use = "small-van"',
        'use = "small-van"\nlength_ft = 9\nlength_m = 3',
        "job.toml, line 5: van.length_ft = 9: give length_m or length_ft, not both",
    ),
    "feet and inches": (
        'use = "small-van"',
        'use = "small-van"\nlength_ft = 9\nlength_in = 3',
        "job.toml, line 6: van.length_in = 3: give length_ft or length_in, not both",
    ),
    # words
    "number for text": (
        '"Test van"',
        "42",
        "job.toml, line 1: title = 42: must be text in quotes",
    ),
    "list for text": (
        '"Test van"',
        '["Test van"]',
        "job.toml, line 1: title: must be text in quotes, not a list",
    ),
    "empty text": ('"Test van"', '" "', 'job.toml, line 1: title = " ": must not be empty'),
    "very long text": (
        "Test van",
        "x" * 10_000,
        f"job.toml, line 1: title = {X60}: must have at most 200 characters",
    ),
    "control characters": (
        "Test van",
        "red \\u001b[31m",
        'job.toml, line 1: title = "red \\x1b[31m": must be one line of text, without tabs or '
        "control characters",
    ),
    "two lines": (
        '"Test van"',
        '"""Test\nvan"""',
        'job.toml, line 1: title = "Test\\nvan": must be one line of text, without tabs or control '
        "characters",
    ),
    "another word": (
        "count = 2",
        'count = 2\nmount = "roof"',
        'job.toml, line 12: panels[1].mount = "roof": must be "flat", "tilted" or "portable"',
    ),
    # dates and times
    "quoted date that is none": (
        "2027-05-07",
        '"2027-02-30"',
        'job.toml, line 22: trips[1].depart = "2027-02-30": must be a date of the calendar as '
        "year-month-day, such as 2027-01-09",
    ),
    "date the other way round": (
        "2027-05-07",
        '"5/7/2027"',
        'job.toml, line 22: trips[1].depart = "5/7/2027": must be a date of the calendar as '
        "year-month-day, such as 2027-01-09",
    ),
    "number for a date": (
        "2027-05-07",
        "2027",
        "job.toml, line 22: trips[1].depart = 2027: must be a date of the calendar as "
        "year-month-day, such as 2027-01-09",
    ),
    "date with a time": (
        "2027-05-07",
        "2027-05-07T10:00:00",
        "job.toml, line 22: trips[1].depart = 2027-05-07 10:00:00: give the date alone, such as "
        "2027-01-09; the time of day goes into leave_at",
    ),
    "year far off": (
        "2027-05-07",
        "9999-12-31",
        "job.toml, line 22: trips[1].depart = 9999-12-31: must be a date in the years 2000 to 2099",
    ),
    "number for a time": (
        "2027-05-07",
        "2027-05-07\nleave_at = 7",
        "job.toml, line 23: trips[1].leave_at = 7: write the time of day in quotes, such as "
        '"07:00"',
    ),
    "twelve hours": (
        "2027-05-07",
        '2027-05-07\nleave_at = "7:30 pm"',
        'job.toml, line 23: trips[1].leave_at = "7:30 pm": write the time of day from 0 to 24 '
        'hours: "19:30"',
    ),
    "no such time": (
        "2027-05-07",
        '2027-05-07\nleave_at = "24:01"',
        'job.toml, line 23: trips[1].leave_at = "24:01": write a local time of day from "00:00" to '
        '"24:00", such as "07:30"',
    ),
    "seconds": (
        "2027-05-07",
        "2027-05-07\nleave_at = 10:00:30",
        "job.toml, line 23: trips[1].leave_at = 10:00:30: write a local time of day from "
        '"00:00" to "24:00", such as "07:30"',
    ),
    "one part of the day, not a list": (
        'use = "fridge-dc"',
        'use = "laptop"\nat = "07:00-08:00"',
        'job.toml, line 19: appliances[1].at = "07:00-08:00": must be a list such as '
        '["18:00-22:30"]',
    ),
    "no part of the day": (
        'use = "fridge-dc"',
        'use = "laptop"\nat = []',
        "job.toml, line 19: appliances[1].at: must have an entry",
    ),
    "part of the day that is none": (
        'use = "fridge-dc"',
        'use = "laptop"\nat = ["07:00-08:00", "noon"]',
        'job.toml, line 19: appliances[1].at[2] = "noon": write a part of the day as "18:00-22:30"',
    ),
    "part of the day that is nothing": (
        'use = "fridge-dc"',
        'use = "laptop"\nat = ["07:00-07:00"]',
        'job.toml, line 19: appliances[1].at[1] = "07:00-07:00": starts when it ends; the whole '
        'day is "00:00-24:00"',
    ),
    # places
    "latitude out of range": (
        "38.57, -109.55",
        "95, -109.55",
        'job.toml, line 25: trips[1].stops[1].place = "95, -109.55": latitude 95 is out of range: '
        "it goes from -90 to 90",
    ),
    "unknown place": (
        "38.57, -109.55",
        "Moabb, UT",
        'job.toml, line 25: trips[1].stops[1].place = "Moabb, UT": no place called "Moabb" is '
        f"known in UT; did you mean Moab, Utah, US? ({LATITUDE_FIRST})",
    ),
    "list for a place": (
        '"38.57, -109.55"',
        "[38.57, -109.55]",
        'job.toml, line 25: trips[1].stops[1].place: write a town such as "Moab, UT" or a '
        'coordinate such as "38.57, -109.55"',
    ),
    "number for a place": (
        '"38.57, -109.55"',
        "38.57",
        'job.toml, line 25: trips[1].stops[1].place = 38.57: write a town such as "Moab, UT" or a '
        'coordinate such as "38.57, -109.55"',
    ),
    "very long place": (
        "38.57, -109.55",
        "x" * 10_000,
        f"job.toml, line 25: trips[1].stops[1].place = {X60}: {X60[:28]}"
        '…" is too long for a place: 10000 characters, at most 100',
    ),
    "control characters in a place": (
        "38.57, -109.55",
        "Mo\\u001b[31mab",
        'job.toml, line 25: trips[1].stops[1].place = "Mo\\x1b[31mab": "Mo\\x1b[31mab" holds '
        "characters that cannot be printed; retype the place",
    ),
    # sections within sections
    "single brackets in the wiring": (
        "nights = 2\n",
        'nights = 2\n[wiring]\ninsulation_c = 90\n[wiring.loads]\nname = "Refrigerator"\n',
        "job.toml, line 29: wiring.loads: must be a section of its own: write [[wiring.loads]], "
        "in double brackets, once for each",
    ),
    "key of the wiring's cable": (
        "nights = 2\n",
        "nights = 2\n[wiring.roof]\nlength_ft = 1000\n",
        "job.toml, line 28: wiring.roof.length_ft = 1000: must be a number from 0.2 to 98.4",
    ),
    # settings
    "step that does not divide the hour": (
        "nights = 2\n",
        "nights = 2\n[settings]\nstep_minutes = 7\n",
        "job.toml, line 28: settings.step_minutes = 7: must be 5, 6, 10, 12, 15, 20, 30 or 60",
    ),
    "bound without exponent": (
        "nights = 2\n",
        "nights = 2\n[settings]\nseed = -1\n",
        "job.toml, line 28: settings.seed = -1: must be a whole number from 0 to 2147483647",
    ),
    "quoted true": (
        "nights = 2\n",
        'nights = 2\n[settings]\nprudent = "true"\n',
        'job.toml, line 28: settings.prudent = "true": must be true or false, without quotes or a '
        "unit",
    ),
}


@pytest.mark.parametrize("name", FAULTS)
def test_one_fault_one_sentence(
    name: str, changed: Callable[[str, str], str], faults_of: Callable[[str], list[str]]
) -> None:
    old, new, message = FAULTS[name]
    assert faults_of(changed(old, new)) == [message]


def test_nobody_is_told_more_than_can_be_read(
    small_job: str, faults_of: Callable[[str], list[str]]
) -> None:
    """Unknown places and keys by the hundred: the first of them, quickly."""
    stops = "".join(
        f'[[trips.stops]]\nplace = "Nowhere {i}"\nnights = 1\nnihgts = 2\n' for i in range(300)
    )
    found = faults_of(small_job + stops)
    assert len(found) == 101
    assert found[-1] == "job.toml: there are more; mend these first"
    assert "did you mean nights?" in found[1]
    searched = [fault for fault in found if 'no place called "Nowhere' in fault]
    assert len(searched) == 10
    assert sum("not looked up: too many places" in fault for fault in found) == 40


def test_a_file_name_cannot_steer_the_terminal(
    tmp_path: Path, faults_in: Callable[[Path], list[str]]
) -> None:
    (fault,) = faults_in(tmp_path / "\x1b[31mjob.toml")
    assert fault == "\ufffd[31mjob.toml: there is no such file"
