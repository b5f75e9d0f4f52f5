"""The bad case is the draw on which ample turns; of one in ten it is said that it is one in ten."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sim.ledger.answer import BadCase, answers_from_totals
from sim.ledger.behind import Totals
from sim.ledger.results import Result
from sim.report.data.export import trip_json
from sim.report.page.trip_sections import living_sections
from sim.report.words.numbers import GAP, Manner
from sim.trip.cabin import Chill
from sim.trip.frost import NO_FROST, FrostSpot
from sim.trip.tanks import StoreLine
from sim.van.tanks import Levels

METRIC = Manner("metric")
# Eleven draws, so that a tenth of the way lies on one of them: 1 and 9.
DRAWS = np.arange(11.0)


@pytest.fixture(scope="module")
def spread(small_result: Result) -> Result:
    """A trip whose draws differ in everything that has a bad case."""
    trip = small_result.trips[0]
    spot = FrostSpot("Sink tank", "outside", DRAWS, -10.0 - DRAWS, 0.0, 10.0 * DRAWS)
    hours = len(trip.timeline)
    level = np.tile(DRAWS, (hours + 1, 1))
    missed = np.zeros((hours, 11))
    for draw in range(11):
        missed[:draw, draw] = 1.0
    levels = Levels(level, np.zeros((hours, 11)), missed, np.zeros((hours, 11)))
    fresh = StoreLine("Fresh", "fresh", "L", 20.0, levels, {}, 1.0)
    shown = replace(
        trip,
        soc=trip.soc[:, :11],
        lowest=trip.lowest[:11],
        unserved_w=trip.unserved_w[:, :, :11],
        chill=Chill(DRAWS, DRAWS, np.full(11, np.inf)),
        frost=replace(NO_FROST, spots=(spot,)),
        cut_off_h=np.full(11, np.inf),
        stores=(fresh, replace(fresh, name="Grey", kind="grey")),
    )
    return replace(small_result, trips=(shown,))


def test_on_the_page(spread: Result) -> None:
    sections = {section.key: section for section in living_sections(spread, METRIC)}
    said = " ".join(sections["warmth"].sentences).replace(GAP, " ")
    assert "for 5 hours on average, for 9 hours or more in one simulated trip of ten" in said
    assert "could freeze in 10 of 11 simulated trips, for 5.5 hours on average," in said
    assert "for 5.5 hours on average, down to −19 °C in one of ten." in said
    # Nine tenths of the needs of 0 to 100 W.
    assert "fit a pad of 90 W" in said


def test_in_the_json(spread: Result) -> None:
    (told,) = trip_json(spread)["trips"]
    assert told["hours_below_set_point"]["p90"] == 9.0
    (spot,) = told["frost"]["spots"]
    assert (spot["coldest_c_p10"], spot["needed_watts_p90"]) == (-19.0, 90.0)
    assert told["stores"][0]["short_hours"] == {"mean": 5.0, "p90": 9.0}
    level = told["stores"][0]["level"]
    assert (level["p10"][0], level["p50"][0], level["p90"][0]) == (1.0, 5.0, 9.0)


def test_in_the_answer() -> None:
    (found,) = answers_from_totals(
        "Trip",
        Totals(DRAWS[None], np.zeros((1, 11)), DRAWS[None] / 10.0, np.zeros(1), [()]),
        (0.95, 0.8),
    )
    assert (found.dark_hours.mean, found.dark_hours.p90) == (5.0, 9.0)
    assert (found.dark_hours.where_any, found.held) == (5.5, 1)
    # Of eleven draws nineteen in twenty are all: the last one decides.
    assert found.bad == BadCase(lowest_soc=1.0, dark_hours=10.0)
    lowest = found.lowest_soc
    assert (lowest.p10, lowest.p50, lowest.p90) == pytest.approx((0.1, 0.5, 0.9))
