"""The first screen's facts: the right quantile behind each name, nights counted by their dates."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from sim.ledger.answer import Answer, BadCase, answer_of
from sim.ledger.results import Result
from sim.ledger.verdict import Spread
from sim.report.charts.chart_data import Period, periods
from sim.report.page.trip_text import charge_table, facts, when
from sim.report.words.numbers import GAP, Manner
from sim.report.words.sentences import ledger_caption

METRIC = Manner("metric")


def test_each_fact_has_its_own_number(small_result: Result) -> None:
    trip = small_result.trips[0]
    own = answer_of(trip)
    answer = replace(
        own,
        lowest_soc=Spread(0.11, 0.52, 0.93),
        dark_hours=replace(own.dark_hours, mean=2.5),
        bad=BadCase(lowest_soc=0.09, dark_hours=7.0),
    )

    def values(answer: Answer) -> dict[str, str]:
        found = facts(answer, trip, ["A", "B"], METRIC)
        return {name: value.replace(GAP, " ") for name, value, _ in found}

    told = values(answer)
    assert told["Lowest charge, typical trip"] == "52 %"
    assert told["Lowest charge, bad case (1 in 20)"] == "9 %"
    assert told["Dark hours, on average"] == "2.5 hours"
    assert told["Dark hours, bad case (1 in 20)"] == "7 hours"
    # Dark for another reason than its charge, the bad case may lie above a typical trip.
    higher = replace(answer, bad=BadCase(lowest_soc=0.61, dark_hours=7.0))
    for case, note in ((answer, ""), (higher, "bad by its dark hours, not by its charge")):
        found = facts(case, trip, ["A", "B"], METRIC)
        assert [text for name, _, text in found if "charge, bad" in name] == [note]
    told = values(replace(answer, draws=1))
    assert (told["Lowest charge"], told["Dark hours"]) == ("52 %", "2.5 hours")


def test_a_trip_is_told_with_its_days_and_nights(small_result: Result) -> None:
    """Three nights and two from Monday on, three from Monday on."""
    winter, summer = (when(trip, METRIC).replace(GAP, " ") for trip in small_result.trips)
    assert winter == "Mon 4 Jan to Sat 9 Jan 2027, 5 nights"
    assert summer == "Mon 5 Jul to Thu 8 Jul 2027, 3 nights"


def test_the_columns_of_the_charge_table(small_result: Result) -> None:
    (first, *_) = periods(small_result.trips[0])
    period: Period = replace(first, low_p10=0.11, low_p50=0.52, low_p90=0.93)
    table = charge_table([period], 12, METRIC)
    told = dict(zip(table.head, (cell.replace(GAP, " ") for cell in table.rows[0]), strict=True))
    assert told["Middle weather"] == "52 %"
    assert told["One in ten falls to"] == "11 %"
    assert told["One in ten stays above"] == "93 %"


def test_a_period_has_the_quantiles_of_its_lowest_charge(small_result: Result) -> None:
    trip = small_result.trips[0]
    first = periods(trip)[0]
    here = trip.soc[1:][trip.day_index == 0].min(axis=0)
    assert [first.low_p10, first.low_p50, first.low_p90] == list(np.quantile(here, (0.1, 0.5, 0.9)))


def test_a_trip_in_which_nothing_is_wanted_has_no_hungriest_line(small_result: Result) -> None:
    winter, summer = small_result.trips
    none = tuple(replace(load, wanted_wh=0.0 * load.wanted_wh) for load in summer.loads)
    idle = replace(summer, loads=none)
    assert ledger_caption((winter, idle)) == ledger_caption((winter,)) != ""
    assert ledger_caption((idle,)) == "Nothing aboard draws power."
