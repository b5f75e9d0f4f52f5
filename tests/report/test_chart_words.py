"""What the charts say: numbers of the result, and the bad case that the verdict turns on."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sim.ledger.answer import Answer, answer_of
from sim.ledger.results import Result, TripResult
from sim.ledger.verdict import Spread, bad_draw
from sim.report.charts import chart_data
from sim.report.charts.chart_data import ChargePoints
from sim.report.words import chart_words
from sim.report.words.numbers import Manner

US = Manner("us")
PLACES = ("Here", "There")


def plain(text: str) -> str:
    return text.replace("\u00a0", " ").replace("\u2068", "").replace("\u2069", "")


def shown(trip: TripResult, hours_off: dict[int, int]) -> tuple[TripResult, ChargePoints, Answer]:
    """The trip with some draws dark from an hour on, for one hour; its points and answer."""
    unserved = np.zeros_like(trip.unserved_w)
    for draw, hour in hours_off.items():
        unserved[2, hour, draw] = 5.0
    dark = replace(trip, unserved_w=unserved)
    answer = answer_of(dark)
    bad = bad_draw(dark.dark_hours, dark.lowest, dark.ample_share)
    return dark, chart_data.charge_points(dark, "hour", bad), answer


def test_the_caption_holds_the_numbers(small_result: Result) -> None:
    trip, points, answer = shown(small_result.trips[0], {})
    caption = plain(chart_words.chart_caption(trip, points, answer, PLACES, US))
    middle = np.quantile(trip.soc, 0.5, axis=1).min()
    bad = points.bad.min()
    assert "The middle line is lowest on" in caption
    assert f"at {100 * middle:.0f} %. The bad case" in caption
    # A trip's own low is no point of the middle line: where they differ both are said.
    lower = replace(answer, lowest_soc=Spread(0.1, 0.31, 0.9))
    said = plain(chart_words.chart_caption(trip, points, lower, PLACES, US))
    assert f"at {100 * middle:.0f} %. Each trip has its low at a time of its own: half of " in said
    assert "half of them fall to 31 % or lower. The bad case" in said
    assert f"at {100 * bad:.0f} %. Nothing goes off in it." in caption
    brought = plain(chart_words.sources_caption(trip))
    assert f"the sun {trip.energy.taken['sun']:,.0f} Wh" in brought
    assert f"take {trip.energy.served:,.0f} Wh" in brought


def test_a_trip_that_is_not_ample_has_its_dark_hour_told_and_marked(small_result: Result) -> None:
    # two of twelve: the bad case of nineteen in twenty is one of them
    trip, points, answer = shown(small_result.trips[0], {3: 20, 7: 30})
    assert answer.verdict == "tight"
    caption = plain(chart_words.chart_caption(trip, points, answer, PLACES, US))
    moment = plain(US.moment(points.times[20 if points.bad_dark[20] else 30]))
    assert f"On {moment} (Here) the extras go off first" in caption
    first, lowest = chart_words.bad_marks(trip, points, answer, PLACES, US)
    assert (first.short, first.is_dark) == ("extras off", True)
    assert plain(first.long) == f"{moment}, Here"
    assert points.bad[lowest.index] == pytest.approx(points.bad.min(), abs=0.01)
    assert plain(lowest.short) == f"low {100 * points.bad.min():.0f} %"


def test_a_trip_short_of_something_else_is_not_put_down_to_the_battery(
    small_result: Result,
) -> None:
    trip, points, answer = shown(small_result.trips[0], {})
    caption = plain(
        chart_words.chart_caption(trip, points, replace(answer, verdict="short"), PLACES, US)
    )
    assert "Nothing goes off in it: what makes the trip short is not the battery." in caption


def test_an_ample_trip_has_its_lowest_hour_marked_only(small_result: Result) -> None:
    trip, points, answer = shown(small_result.trips[0], {})
    (lowest,) = chart_words.bad_marks(trip, points, answer, PLACES, US)
    assert not lowest.is_dark


def test_the_first_dark_hour_may_be_the_lowest_too(small_result: Result) -> None:
    trip = small_result.trips[0]
    lowest = int(np.argmin(trip.soc[:-1, 3]))
    trip, points, answer = shown(trip, {3: lowest})
    points = replace(points, bad=trip.soc[:, 3], bad_dark=trip.dark[:, 3])
    (mark,) = chart_words.bad_marks(trip, points, answer, PLACES, US)
    assert mark.is_dark


@pytest.mark.parametrize(
    ("ample", "name"),
    [(0.95, "bad case (1 in 20)"), (0.9, "bad case (1 in 10)"), (1.0, "worst case"),
     (0.93, "bad case")],
)  # fmt: skip
def test_the_bad_case_is_named_by_the_bound(small_result: Result, ample: float, name: str) -> None:
    trip = replace(small_result.trips[0], ample_share=ample)
    assert chart_words.bad_name(trip) == name


def test_a_lead_battery_that_goes_dark_above_its_floors_is_explained(small_result: Result) -> None:
    trip, points, answer = shown(small_result.trips[0], {9: 3})

    def explained(lowest: float, chemistry: str = "agm", draw: int = 9) -> bool:
        least = np.full(12, 0.9)
        least[draw] = lowest
        lead = replace(trip, lowest=least, chemistry=chemistry, floors=(0.5, 0.55, 0.6))
        return "lead-acid" in chart_words.chart_caption(lead, points, answer, PLACES, US)

    assert explained(0.7)
    assert not explained(0.58)
    assert not explained(0.7, "lifepo4")
    # the draw that runs low is not the dark one
    assert explained(0.3, draw=2)


def test_a_point_names_what_comes_in(small_result: Result) -> None:
    trip, points, _ = shown(small_result.trips[0], {})
    says = [plain(x) for x in chart_words.point_sentences(trip, points, PLACES, US)]
    sun = points.taken_w["sun"]
    lit, dark = int(np.argmax(sun)), int(np.argmin(sum(points.taken_w.values())))
    assert f". In: sun {sun[lit]:,.0f} W. Out: " in says[lit]
    assert "In: nothing. Out: " in says[dark]


def test_a_point_tells_its_hour(small_result: Result) -> None:
    trip, points, _ = shown(small_result.trips[0], {0: 5, 1: 5, 2: 5})
    says = [plain(x) for x in chart_words.point_sentences(trip, points, PLACES, US)]
    assert says[0].startswith("Mon, Jan 4, 10:00 am, on the way to Here: charge 100 %")
    assert says[5].startswith("Mon, Jan 4, 3:00 pm, Here: charge ")
    assert f"in the bad case {100 * points.bad[5]:.0f} %" in says[5]
    assert f"Out: {trip.served_w[5].mean():,.0f} W." in says[5]
    inside = 1.8 * trip.cabin_c[5].mean() + 32
    assert f"inside {inside:.0f} °F." in says[5]
    assert says[5].endswith("Something is off in 3 of 12 simulated trips.")
    assert "off" not in says[6]
