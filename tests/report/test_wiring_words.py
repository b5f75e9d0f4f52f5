"""The wording table: every subject has its words, and each template its figures."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from string import Formatter
from typing import get_args

import pytest

from sim.decide.wiring.rows import Check, CurrentRule, FusePlace, Subject
from sim.report.words import wiring_table
from sim.report.words.wiring_table import CURRENT_RULES, FUSE_PLACES, WORDINGS, Text
from sim.report.words.wiring_words import (
    amps,
    cable_text,
    check_text,
    length,
    percent,
    volts,
    watts,
)
from sim.van.conductors import Cable

UNITS = {"", "A", "V", "W", "%", "C", "m", "g", "cable", "carries", "place", ",.0f"}


def templates(text: Text) -> Iterator[str]:
    yield from [text] if isinstance(text, str) else text.values()


def test_every_subject_rule_and_place_has_its_words() -> None:
    assert set(WORDINGS) == set(get_args(Subject))
    assert set(CURRENT_RULES) == set(get_args(CurrentRule))
    assert set(FUSE_PLACES) == set(get_args(FusePlace))
    parts = (wiring_table._RUNS, wiring_table._PANELS, wiring_table._PARTS, wiring_table._TICKS)
    assert sum(map(len, parts)) == len(WORDINGS)


@pytest.mark.parametrize("subject", get_args(Subject))
def test_templates_name_units_that_are_known(subject: Subject) -> None:
    wording = WORDINGS[subject]
    for text in (wording.value, wording.limit, wording.basis, wording.advice):
        for template in templates(text):
            for _, name, unit, _ in Formatter().parse(template):
                assert name is None or unit in UNITS, template


def test_a_check_in_both_systems() -> None:
    figures = {
        "may_pct": 3.0, "volts": 12.8, "key": "wiring.dcdc", "drop_v": 0.3456, "drop_pct": 2.71,
        "length_m": 3.048,
    }  # fmt: skip
    check = Check("DC-DC charger to battery", "drop", "pass", "", figures)
    assert check_text(check, "us").value == "0.35 V, 2.7 % over 10 ft"
    assert check_text(check, "metric").value == "0.35 V, 2.7 % over 3 m"
    assert check_text(check, "us").limit == "3 % of 12.8 V"
    assert check_text(check, "us").advice == ""
    asked = Check(
        "Pump {x}", "drop", "say", "no length of load", {**figures, "key": "wiring.loads"}
    )
    assert check_text(asked, "metric").advice == (
        'say how long the run is: length_m under [[wiring.loads]] with name = "Pump {x}"'
    )


def test_a_cable_that_no_table_lists_carries_no_amps() -> None:
    figures = {
        "cable": Cable(6), "carries_a": 55.0, "ambient_c": 30.0, "fuse_a": 60.0, "best_a": 50.0,
    }  # fmt: skip
    listed = Check("DC-DC charger to battery", "ampacity", "pass", "", figures, "105")
    assert check_text(listed, "metric").value == "6 AWG (16 mm²): 55 A at 30 °C"
    unlisted = replace(listed, figures={**figures, "carries_a": 0.0})
    assert "not in the table for this use, at 30" in check_text(unlisted, "metric").value


def test_a_case_without_words_is_an_error() -> None:
    with pytest.raises(KeyError, match="no words for short circuit, 'odd'"):
        check_text(
            Check("Battery", "short circuit", "say", "odd", {"short_a": 1, "cuts_a": 2}), "us"
        )


def test_figures_are_written_short() -> None:
    assert (amps(17.46), amps(60.0), amps(1234.0)) == ("17.5 A", "60 A", "1,234 A")
    assert (volts(0.348), volts(54.18), percent(2.94)) == ("0.35 V", "54.2 V", "2.9 %")
    assert (watts(2044.6), length(4.572, "us"), length(4.572, "metric")) == (
        "2,045 W", "15 ft", "4.6 m",
    )  # fmt: skip
    assert cable_text(Cable(6)) == "6 AWG (16 mm²)"
    assert cable_text(Cable(-1, parallel=2)).startswith("2 x 2/0 AWG (2 x ")
