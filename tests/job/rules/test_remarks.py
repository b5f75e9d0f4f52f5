"""What is legal but odd: each found where it stands, and nothing where all is well."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable

import pytest

from sim.job.model.job import Job
from sim.job.rules.remarks import Remark, remarks
from sim.resources import profiles_dir

Edited = Callable[..., Job]
ALARM = '\n[[appliances]]\nuse = "gas-and-co-alarm"\n'
INVERTER = "\n[inverter]\nwatts = 20000\nidle_watts = 10\n"
WATER = '[water]\nfresh_l = 80\n[[water.grey]]\nname = "Grey"\ncapacity_l = 40\ntakes = ["basin"]\n'
ODD = {
    "a lorry": (('use = "small-van"', 'use = "small-van"\nlength_m = 14'), "", "14 m long"),
    "an inverter beyond its bank": (
        ('use = "lifepo4-100"', 'use = "lifepo4-100"\ncount = 2'),
        INVERTER,
        r"gives at most 2,\d+ watts",
    ),
    "a charger for months": (
        ('use = "lifepo4-100"', 'use = "lifepo4-100"\ncount = 10'),
        "\n[shore]\ncharger_amps = 10\ninlet_volts = 120\ninlet_amps = 15\n",
        r"shore\.charger_amps = 10\.0: the bank of 1000 Ah would take 100 hours on the plug",
    ),
    "panels below the bank's voltage": (
        ('use = "lifepo4-100"', 'use = "lifepo4-100"\nnominal_v = 25.6\ncharging_v = 27.2'),
        "",
        r"panels\[1\]\.vmp_v = 19\.0: .* 26\.0 V at -20 .* starts at 30\.6 V .* give nothing; "
        "put 2 panels in series",
    ),
    "hot panels below the bank's voltage": (
        (
            'use = "lifepo4-100"',
            'use = "lifepo4-100"\nnominal_v = 25.6\ncharging_v = 27.2\n[[panels]]\nuse = '
            '"rigid-400"\ncount = 1\ncontroller_amps = 30',
        ),
        "",
        r"26\.\d V at 70 degrees C when hot, and the controller needs 27\.7 V",
    ),
    "panels above a boost controller": (
        ("count = 2", 'count = 2\nseries = 2\ncontroller = "boost"'),
        "",
        r"44\.2 V at -20 degrees C, a boost controller wants less than 13\.4 V",
    ),
    "12 V appliances on a bank of 24 V": (
        ('use = "lifepo4-100"', 'use = "lifepo4-100"\nnominal_v = 25.6\ncharging_v = 27.2'),
        "",
        r"nominal_v = 25\.6: the DC appliances are taken .* add a \[converter\]",
    ),
    "panels of unknown voltage": (
        ('use = "rigid-170"', "watts = 170\ntemp_coeff_pct_c = -0.3"),
        "",
        r"panels\[1\]\.vmp_v: not given, so nothing checks",
    ),
    "panels above their controller": (
        ("count = 2", "count = 2\nseries = 2\ncontroller_max_v = 50"),
        "",
        r"controller_max_v = 50\.0: the open string reaches 52\.0 V at -20 degrees C",
    ),
    "nothing charges": (("count = 2", "count = 0"), "", "nothing charges it"),
    "two cooks for every meal": (
        None,
        '\n[[appliances]]\nuse = "propane-stove"\n[[appliances]]\nuse = "induction-hob"\nsupply = '
        '"dc"\n[propane]\ntank_l = 20\n' + ALARM,
        "Propane stove and Induction hob.* 200 %",
    ),
    "a flame and no alarm": (
        None,
        '\n[[appliances]]\nuse = "propane-stove"\n[propane]\ntank_l = 20\n',
        "no carbon monoxide alarm",
    ),
    "propane without a tank": (
        None,
        '\n[[appliances]]\nuse = "propane-stove"\n' + ALARM,
        r"Propane stove needs propane; without \[propane\] its tank is not followed",
    ),
    "a pump without a tank": (
        None,
        '\n[[appliances]]\nuse = "water-pump"\n',
        r"Water pump needs water; without \[water\] its tanks are not followed",
    ),
    "drains to the ground": (None, "\n" + WATER, "kitchen and the shower drain"),
    "a tap for no tank": (("nights = 2", 'nights = 2\nservices = ["water"]'), "", "offer water"),
    "a namesake": (
        ("depart = 2027-05-07", 'depart = 2027-05-07\nstart = "45.52, -122.68"'),
        "drive_hours = 16\n",
        r"1,\d+ km .* in a straight line",
    ),
    "frost without a heater": (
        (
            '2027-05-07\n\n[[trips.stops]]\nplace = "38.57, -109.55"',
            '2027-01-07\n\n[[trips.stops]]\nplace = "38.57, -109.55, 1230 m"',
        ),
        "",
        r"nights near -\d+ degrees C .* no heater",
    ),
    "a build heavier than the van may carry": (
        ('use = "small-van"', 'use = "small-van"\npayload_kg = 100'),
        "\n[propane]\ntank_l = 200\n",
        r"van\.payload_kg = 100\.0: panels, battery, full tanks and weighed items are 1\d\d kg "
        r"\(\d+ lb\), \d+ kg \(\d+ lb\) more than the van may carry",
    ),
    "a build that leaves no payload for people": (
        ('use = "small-van"', 'use = "small-van"\npayload_kg = 100'),
        "",
        r"which leaves \d+ kg \(\d+ lb\) for 2 people and all they bring",
    ),
    "panels heavier than the roof may carry": (
        None,
        "\n[roof]\nlength_m = 3\nwidth_m = 1.7\ncarries_kg = 15\n",
        r"roof\.carries_kg = 15\.0: the panels on it weigh 24 kg \(53 lb\), their racks",
    ),
    "few draws": (None, "\n[settings]\ndraws = 20\n", "rough odds"),
    "a date gone by": (("2027-05-07", "2025-05-07"), "", "lies in the past"),
}


@pytest.mark.parametrize("case", ODD)
def test_what_is_odd_is_said_once(case: str, small_job: str, edited: Edited) -> None:
    change, end, says = ODD[case]
    job = edited(small_job, *([change] if change else []), end=end)
    found = [str(x) for x in remarks(job, dt.date(2026, 11, 1)) if re.search(says, str(x))]
    assert len(found) == 1


@pytest.mark.parametrize("case", ODD)
def test_a_client_reads_it_without_the_key(case: str, small_job: str, edited: Edited) -> None:
    """A whole sentence by itself: no key, no section, nothing that only follows a key."""
    change, end, _ = ODD[case]
    job = edited(small_job, *([change] if change else []), end=end)
    for remark in remarks(job, dt.date(2026, 11, 1)):
        said = remark.sentence
        assert not re.search(r"[_=\[\]]", said)
        assert re.match(r"[A-Z0-9][^:]* [^:]*(: [^:]+)?[.?]$", said)
        assert not said.startswith(("Not given", "This ", "It ", "So few", "Nothing charges it"))


def test_what_follows_a_key_is_named_where_none_stands(small_job: str, edited: Edited) -> None:
    jobs = (
        edited(small_job, ("count = 2", "count = 0")),
        edited(small_job, ("depart = 2027-05-07", 'depart = 2027-05-07\nstart = "45.52, -122.68"')),
    )
    said = [remark.sentence for job in jobs for remark in remarks(job)]
    assert "Nothing charges the battery: no panels, no engine, no plug." in said
    assert any(re.match(r"38\.57.* is 1,\d+ km .* from 45\.52.* meant\?$", x) for x in said)


def test_an_ordinary_job_has_nothing_odd(job: Job) -> None:
    assert remarks(job, dt.date(2026, 11, 1)) == ()


def test_the_demo_has_nothing_odd() -> None:
    from sim.job.reading.load import load_job

    assert remarks(load_job(profiles_dir() / "jobs" / "demo.toml")) == ()


def test_nobody_looks_for_the_past_without_a_date(small_job: str, edited: Edited) -> None:
    assert remarks(edited(small_job, ("2027-05-07", "2001-05-07"))) == ()


def test_positions_count_from_one() -> None:
    assert str(Remark(("trips", 0, "depart"), 5, "odd")) == "trips[1].depart = 5: odd"
    assert str(Remark((), None, "odd")) == "odd"


def test_fuel_offered_to_no_generator_is_odd(small_job: str, edited: Edited) -> None:
    job = edited(small_job, ("nights = 2", 'nights = 2\nservices = ["fuel"]'))
    assert any("offer fuel" in str(x) for x in remarks(job))


def test_frost_is_looked_for_in_the_months_of_the_stay(small_job: str, edited: Edited) -> None:
    """A stay that ends in November is as cold as November, whenever the trip departs; one that
    is over in October is not."""
    high = 'place = "38.57, -109.55, 1900 m"'
    change = 'depart = 2027-05-07\n\n[[trips.stops]]\nplace = "38.57, -109.55"'
    found = {}
    for nights in (5, 60):
        first = f"depart = 2027-10-01\n\n[[trips.stops]]\n{high}\nnights = {nights}"
        job = edited(small_job, (change + "\nnights = 2", first))
        found[nights] = [x for x in remarks(job) if "no heater" in x.says]
    assert found[5] == []
    assert len(found[60]) == 1
