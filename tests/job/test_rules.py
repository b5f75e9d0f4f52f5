"""What must hold between the keys of a job: the sentence on each slip."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from sim.job.reading.load import load_job

Changed = Callable[[str, str], str]
FaultsOf = Callable[[str], list[str]]
Write = Callable[[str], Path]

STOP = 'place = "38.57, -109.55"\nnights = 2\n'
BANK = 'use = "lifepo4-100"'
FRIDGE = 'use = "fridge-dc"'
NO_WEATHER = 'no such weather file beside the job file; "climate" and "clear" need none'

RULES = {
    # battery
    "floors out of order": (
        BANK,
        f"{BANK}\ncutoff_soc = 0.1\nreserve_soc = 0.05",
        "job.toml, line 17: battery.reserve_soc = 0.05: must not be below cutoff_soc, which is 0.1",
    ),
    "floor above one left out": (
        BANK,
        f"{BANK}\nreserve_soc = 0.5",
        "job.toml, line 14: battery.extras_soc = 0.25: taken when left out; must not be below "
        "reserve_soc, which is 0.5",
    ),
    "no charge at which loads come back": (
        BANK,
        f"{BANK}\nextras_soc = 0.8\nreconnect_above_soc = 0.3",
        "job.toml, line 16: battery.extras_soc = 0.8: with reconnect_above_soc this leaves no "
        "charge at which loads come back; their sum must be at most 0.95",
    ),
    "charging below the nominal voltage": (
        BANK,
        f"{BANK}\nnominal_v = 25.6",
        "job.toml, line 14: battery.charging_v = 13.4: from the profile lifepo4-100; must not be "
        "below nominal_v, which is 25.6",
    ),
    "tail above the charge limit": (
        BANK,
        f"{BANK}\ntail_c = 0.6",
        "job.toml, line 16: battery.tail_c = 0.6: must not be above max_charge_c, which is 0.5",
    ),
    "resistance that eats the charge": (
        BANK,
        f"{BANK}\nresistance_mohm = 80",
        "job.toml, line 16: battery.resistance_mohm = 80: too high for max_charge_c: at that "
        "current a unit of this size may have at most 64.0 milliohm",
    ),
    # living
    "awake for no time": (
        'use = "weekend-away"',
        'use = "weekend-away"\nwake_at = "22:30"',
        'job.toml, line 6: living.sleep_at = "22:30": from the profile weekend-away; must not be '
        'the time of wake_at; awake all day is "00:00" to "24:00"',
    ),
    # appliances
    "alternating current without an inverter": (
        FRIDGE,
        'use = "television"',
        'job.toml, line 17: appliances[1].supply = "ac": from the profile television; '
        "Television needs AC, but the job has no [inverter]; add one or take a DC type",
    ),
    "appliance too large for the inverter": (
        FRIDGE,
        'use = "induction-hob"\n[inverter]\nwatts = 1000\nidle_watts = 10',
        "job.toml, line 17: appliances[1].watts = 1500: from the profile induction-hob; Induction "
        "hob draws 1500 watts, more than the inverter gives, which is 1000 watts",
    ),
    "cold box rated in the cold": (
        FRIDGE,
        f"{FRIDGE}\ninside_f = 45\nrated_ambient_f = 50",
        "job.toml, line 20: appliances[1].rated_ambient_f = 50: must be 5 degrees C (9 degrees F) "
        "or more above the inside, which has 7.2 degrees C (45.0 degrees F)",
    ),
    "compressor too weak for its rating": (
        FRIDGE,
        f"{FRIDGE}\nrated_wh_day = 5000",
        "job.toml, line 19: appliances[1].rated_wh_day = 5000: max_watts, which is 50, brings no "
        "more than 1200 in a day",
    ),
    # panels
    "tilted without tilt": (
        "count = 2",
        'count = 2\nmount = "tilted"',
        'job.toml, line 12: panels[1].mount = "tilted": a tilted group needs tilt_deg too, such '
        "as 30",
    ),
    "tilt on the flat roof": (
        "count = 2",
        "count = 2\ntilt_deg = 30",
        "job.toml, line 12: panels[1].tilt_deg = 30: a flat group has none; write mount = "
        '"tilted", or leave it out',
    ),
    "facing on the flat roof": (
        "count = 2",
        "count = 2\nfacing_deg = 180",
        "job.toml, line 12: panels[1].facing_deg = 180: a flat group has none; write mount = "
        '"tilted", or leave it out',
    ),
    # trips
    "trip of more than 366 days": (
        STOP,
        STOP.replace("2", "300") + "\n[[trips.stops]]\n" + STOP.replace("2", "67"),
        "job.toml, line 20: trips[1]: nights and driving add up to 367.0 days; a trip may last at "
        "most 366, so split it",
    ),
    "trip of no time": (
        "nights = 2",
        "nights = 0",
        "job.toml, line 20: trips[1]: no nights and no driving; give a stop some nights",
    ),
    "two trips of one name": (
        STOP,
        f'{STOP}\n[[trips]]\nname = " Weekend "\ndepart = 2027-06-01\n\n[[trips.stops]]\n{STOP}',
        'job.toml, line 29: trips[2].name = "Weekend": another trip has this name; tell them apart',
    ),
    "idling without a charger on the engine": (
        STOP,
        f"{STOP}idle_hours = 1\n",
        "job.toml, line 27: trips[1].stops[1].idle_hours = 1: the job has no [alternator] to "
        "charge from; add it, or leave this out",
    ),
    "drives without hours": (
        STOP,
        f"{STOP}local_drives = 3\n",
        "job.toml, line 27: trips[1].stops[1].local_drives = 3: splits local_drive_hours, which "
        "is left out; give both",
    ),
    "a pause without a drive": (
        STOP,
        f"{STOP}pause_hours = 1\n",
        "job.toml, line 27: trips[1].stops[1].pause_hours = 1: a pause is one of the drive to "
        "this stop; give drive_hours, or leave this out",
    ),
    "plug without an inlet": (
        STOP,
        f'{STOP}plug_in = "nights"\n',
        'job.toml, line 27: trips[1].stops[1].plug_in = "nights": the job has no [shore] section; '
        "add it",
    ),
    "no drive over the sea": (
        STOP,
        f'{STOP}\n[[trips.stops]]\nplace = "Honolulu"\nnights = 1\n',
        "job.toml, line 28: trips[1].stops[2].drive_hours: this key is missing: Honolulu, Hawaii, "
        "US is 4968 km (3087 miles) in a straight line from 38.57, -109.55, with the sea between; "
        "give the hours at the wheel, 0 where a ferry does it all",
    ),
    "too far for one leg": (
        STOP,
        f'{STOP}\n[[trips.stops]]\nplace = "Panama City, Panama"\nnights = 1\n',
        "job.toml, line 28: trips[1].stops[2].drive_hours: this key is missing: Panama City, "
        "Panamá, PA is 4448 km (2764 miles) in a straight line from 38.57, -109.55, about 74 hours "
        "by road; put stops between",
    ),
    "drive at the speed of an aircraft": (
        STOP,
        f'{STOP}\n[[trips.stops]]\nplace = "36.91, -111.46"\nnights = 1\ndrive_hours = 1\n',
        "job.toml, line 31: trips[1].stops[2].drive_hours = 1: too short: 36.91, -111.46 is 250 km "
        "(155 miles) in a straight line from 38.57, -109.55; at least 2.0",
    ),
    # settings and weather
    "too many draws for a long trip": (
        "nights = 2\n",
        "nights = 366\n[settings]\ndraws = 5000\nstep_minutes = 5\n",
        "job.toml, line 28: settings.draws = 5000: too many for Weekend at 5 minutes a step; take "
        "at most 189, or longer steps",
    ),
    "missing weather file": (
        STOP,
        f'{STOP}\n[settings]\nweather = "none.csv"\n',
        f'job.toml, line 29: settings.weather = "none.csv": {NO_WEATHER}',
    ),
    "missing weather file of a stop": (
        STOP,
        f'{STOP}weather = "none.csv"\n',
        f'job.toml, line 27: trips[1].stops[1].weather = "none.csv": {NO_WEATHER}',
    ),
    "folder for a weather file": (
        STOP,
        f'{STOP}weather = "."\n',
        f'job.toml, line 27: trips[1].stops[1].weather = ".": {NO_WEATHER}',
    ),
    "weather file with a name that is none": (
        STOP,
        f'{STOP}weather = "a\\u0000b"\n',
        f'job.toml, line 27: trips[1].stops[1].weather = "a\\x00b": {NO_WEATHER}',
    ),
    "capital letters": (
        STOP,
        f'{STOP}\n[settings]\nweather = "Climate"\n',
        'job.toml, line 29: settings.weather = "Climate": did you mean "climate"?',
    ),
}


@pytest.mark.parametrize("name", RULES)
def test_one_slip_one_sentence(name: str, changed: Changed, faults_of: FaultsOf) -> None:
    old, new, message = RULES[name]
    assert faults_of(changed(old, new)) == [message]


def test_a_stop_without_nights_has_no_time_for_anything(
    small_job: str, faults_of: FaultsOf
) -> None:
    text = f"""{small_job}
[[trips.stops]]
place = "38.57, -109.55"
nights = 0
leave_at = "10:00"
local_drive_hours = 2
plug_in = "always"
"""
    stop = "trips[1].stops[2]"
    assert faults_of(text) == [
        f'job.toml, line 31: {stop}.leave_at = "10:00": a stop without nights is left on arrival; '
        "give it nights, or leave this out",
        f"job.toml, line 32: {stop}.local_drive_hours = 2: a stop without nights has no days; add "
        "this to drive_hours of the leg",
        f'job.toml, line 33: {stop}.plug_in = "always": a stop without nights has no time to plug '
        "in; give it nights, or leave this out",
    ]


def test_what_just_keeps_the_rules_loads(changed: Changed, write_job: Write) -> None:
    text = changed(BANK, f"{BANK}\ncutoff_soc = 0.2\nreserve_soc = 0.2\nextras_soc = 0.2")
    text = text.replace('use = "weekend-away"', 'use = "weekend-away"\nwake_at = "00:00"')
    text = text.replace('wake_at = "00:00"', 'wake_at = "00:00"\nsleep_at = "24:00"')
    text = text.replace("nights = 2", "nights = 366")
    job = load_job(write_job(text))
    assert (job.living.wake_at, job.living.sleep_at) == (0, 1440)
    assert job.trips[0].stops[0].nights == 366


def test_a_ferry_moves_the_van_without_driving(small_job: str, write_job: Write) -> None:
    text = small_job + '\n[[trips.stops]]\nplace = "36.91, -111.46"\nnights = 1\ndrive_hours = 0\n'
    assert load_job(write_job(text)).trips[0].stops[1].drive_hours == 0


def test_a_heater_that_is_not_fitted_does_not_count(changed: Changed, write_job: Write) -> None:
    text = changed(
        FRIDGE,
        'use = "furnace-propane"\ncount = 0\n\n[[appliances]]\nuse = "air-heater-fuel"',
    )
    assert [item.count for item in load_job(write_job(text)).appliances] == [0, 1]


@pytest.mark.parametrize("name", ["../w.csv", "/w.csv", "a/../../w.csv", "~/w.csv"])
def test_a_weather_file_lies_beside_the_job(
    name: str,
    small_job: str,
    write_job: Callable[[str], Path],
    faults_in: Callable[[Path], list[str]],
) -> None:
    """What lies outside the job file's folder is not read, be it there or not."""
    path = write_job(small_job + f'[settings]\nweather = "{name}"\n')
    (path.parent.parent / "w.csv").write_text("")
    (fault,) = faults_in(path)
    assert "must lie in the job file's folder" in fault or "no such weather file" in fault
    assert ("no such weather file" in fault) == name.startswith("~")


def test_a_weather_file_below_the_jobs_folder(
    small_job: str, write_job: Callable[[str], Path]
) -> None:
    path = write_job(small_job + '[settings]\nweather = "x/../years/w.csv"\n')
    (path.parent / "years").mkdir()
    (path.parent / "years" / "w.csv").write_text("")
    assert load_job(path).settings.weather == str(path.parent.resolve() / "years" / "w.csv")
