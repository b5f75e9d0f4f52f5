"""What the report says of the inverter."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

import pytest

import sim
from sim.job.model.job import Job
from sim.report.data.export import trip_json
from sim.report.terminal.answer import trip_table
from sim.report.words.assumptions import assumptions
from sim.report.words.numbers import GAP, Manner
from sim.report.words.on_ac import inverter_sentences, overload_words

JOB = """\
title = "On AC"

[van]
use = "medium-roof"

[living]
people = 2

[battery]
use = "lifepo4-200"
count = 10

[inverter]
watts = 2000
idle_watts = 12
{inverter}

[[appliances]]
name = "Kettle"
kind = "timed"
watts = 1500
at = ["07:10-07:20"]
supply = "ac"

[[appliances]]
name = "Hob"
kind = "timed"
watts = 1200
at = ["{hob}"]
supply = "ac"
{fridge}

[[trips]]
name = "Days"
depart = 2027-06-10

[[trips.stops]]
place = "38.57, -109.55"
nights = 3

[settings]
draws = 2
seed = 4
"""
FRIDGE = """
[[appliances]]
use = "fridge-freezer-ac"
name = "Refrigerator"
"""


@pytest.fixture
def words(edited: Callable[..., Job]) -> Callable[..., str]:
    def made(inverter: str = "", hob: str = "07:30-07:40", fridge: str = "") -> str:
        result = sim.simulate(edited(JOB.format(inverter=inverter, hob=hob, fridge=fridge)))
        return " ".join(inverter_sentences(result, Manner("si"))).replace(GAP, " ")

    return made


Words = Callable[..., str]


def test_its_losses(words: Words) -> None:
    text = words("efficiency = 0.93")
    assert "draws 12 W while it is on" in text
    assert "93 % at its best and 87 % at full load" in text


@pytest.mark.parametrize(
    ("inverter", "fridge", "said"),
    [
        ('runs = "always"', "", "It is on all the time."),
        ("", "", "People switch it on for what they use"),
        ("", FRIDGE, "on all the time, because Refrigerator starts by itself"),
        ('runs = "search"', "", "draws 3 W"),
        ('runs = "search"\nsearch_watts = 1.5', "", "draws 1.5 W"),
        ('runs = "by hand"\nat = ["06:00-22:30"]', FRIDGE, "by hand from 06:00 to 22:30."),
        ('runs = "by hand"\nat = ["06:00-22:30"]', FRIDGE, "Refrigerator"),
    ],
)
def test_when_it_is_on(words: Words, inverter: str, fridge: str, said: str) -> None:
    assert said in words(inverter, fridge=fridge)


def test_what_may_run_at_once(words: Words) -> None:
    apart, together = words(), words(hob="07:15-07:40")
    assert "Up to 1,500 W may run on it at once" in apart
    assert "exceeded" not in apart
    assert "Up to 2,700 W may run on it at once" in together
    assert "rated for 2,000 W, which may be exceeded in 3 hours" in together
    assert "compressor" not in together
    assert "start of a compressor" in words(fridge=FRIDGE)


def test_terminal_json_and_page_say_it_too(edited: Callable[..., Job]) -> None:
    result = sim.simulate(edited(JOB.format(inverter="", hob="07:15-07:40", fridge="")))
    (trip,) = result.trips
    assert overload_words(trip) == "2,700 W may meet 2,000 W in 3 h: Kettle, Hob"
    labels = [row[0] for row in trip_table((trip,), "si")[1]]
    assert "Too much on AC" in labels
    topics = dict(assumptions(result, dt.date(2027, 1, 1), "0", Manner("si")))
    assert topics["On AC"] == inverter_sentences(result, Manner("si"))
    at_once = trip_json(result)["trips"][0]["ac_at_once"]
    assert at_once["most_w"] == 2700.0
    assert at_once["names"] == ["Kettle", "Hob"]
    assert at_once["hours_above_rating_mean"] == 3.0
