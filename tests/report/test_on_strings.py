"""Strings beside the bank's voltage and the converter, in words and in a trip's answer."""

from __future__ import annotations

import io
from collections.abc import Callable

from rich.console import Console

from sim.job.model.job import Job
from sim.ledger.simulate import simulate
from sim.report.terminal.answer import print_result
from sim.report.words.numbers import GAP, Manner
from sim.report.words.on_strings import converter_sentences, unharvested_strings

Edited = Callable[..., Job]
ON_24_V = ('use = "lifepo4-100"', 'use = "lifepo4-100"\nnominal_v = 25.6\ncharging_v = 27.2')


def told(job: Job) -> list[str]:
    return [
        x.replace(GAP, " ").replace("\N{MINUS SIGN}", "-")
        for x in unharvested_strings(job, Manner("metric"))
    ]


def test_nothing_is_said_where_all_is_well(job: Job) -> None:
    assert told(job) == []
    assert converter_sentences(job) == ()


def test_what_a_string_lacks(small_job: str, edited: Edited) -> None:
    assert told(edited(small_job, ON_24_V)) == [
        "2 × 170 W: an open string reaches 26 V at -20 °C, and the controller starts at 31 V on "
        "this battery. These panels give nothing."
    ]
    large = ("count = 2", "count = 2\nvmp_v = 31\nvoc_v = 37")
    assert told(edited(small_job, ON_24_V, large)) == [
        "2 × 170 W: a string has 26 V at 70 °C, and the controller needs 28 V on this battery. "
        "While they are hot these panels give less or nothing."
    ]
    boost = ("count = 2", 'count = 2\nseries = 2\ncontroller = "boost"')
    assert told(edited(small_job, boost)) == [
        "2 × 170 W: a string has 44 V at -20 °C, above the 13 V that a controller that steps up "
        "can take."
    ]
    (unknown,) = told(edited(small_job, ('use = "rigid-170"', "watts = 170\ntemp_coeff_pct_c = 0")))
    assert "was not checked" in unknown


def test_a_trip_shows_panels_that_give_nothing(small_job: str, edited: Edited) -> None:
    """No watt-hour of sun is taken, and the answer says why."""
    result = simulate(edited(small_job, ON_24_V, end='\n[settings]\nweather = "clear"\n'))
    assert result.trips[0].energy.taken["sun"] == 0.0
    out = io.StringIO()
    print_result(result, Console(file=out, width=200, color_system=None, _environ={}))
    assert "These panels give nothing." in out.getvalue()


def test_the_converter_in_words(small_job: str, edited: Edited) -> None:
    change = (ON_24_V[0], f"{ON_24_V[1]}\n[converter]\namps = 30\nvolts = 12")
    (said,) = converter_sentences(edited(small_job, change))
    assert said.replace(GAP, " ") == (
        "DC appliances run behind a converter of 360 W: 90 % of what it takes reaches them, and "
        "it draws 3 W day and night."
    )
