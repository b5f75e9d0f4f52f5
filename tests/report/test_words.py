"""Sentences: right numbers, right grammar, in the reader's units."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from sim.job.model.changes import with_values
from sim.ledger.answer import answer_of
from sim.ledger.results import Result, TripResult
from sim.places.lookup import find_place
from sim.report.words import assumptions, numbers, sentences
from sim.report.words.cautions import cautions
from sim.report.words.numbers import GAP, Manner
from sim.trip.cabin import Chill


def plain(text: str) -> str:
    return text.replace(GAP, " ")


def with_dark(trip: TripResult, hours: list[int], group: int = 2) -> TripResult:
    """The trip with so many dark hours in each of its draws."""
    draws = len(hours)
    unserved = np.zeros((3, len(trip.timeline), draws))
    for draw, count in enumerate(hours):
        unserved[group, :count, draw] = 10.0
    return replace(
        trip,
        unserved_w=unserved,
        soc=np.resize(trip.soc, (len(trip.soc), draws)),
        lowest=np.resize(trip.lowest, draws),
        cut_off_h=np.full(draws, np.inf),
        stores=(),
        chill=Chill(np.zeros(draws), np.zeros(draws), np.full(draws, np.inf)),
    )


def test_dates_clocks_and_temperatures_by_units() -> None:
    us, metric = Manner("us"), Manner("metric")
    noon, night = dt.datetime(2027, 1, 9, 12, 5), dt.datetime(2027, 1, 9, 0, 30)
    assert plain(us.moment(noon)) == "Sat, Jan 9, 12:05 pm"
    assert plain(us.clock(night)) == "12:30 am"
    assert plain(metric.moment(night)) == "Sat 9 Jan, 00:30"
    assert plain(us.full_date(noon.date())) == "Jan 9, 2027"
    assert plain(us.dated(noon.date())) == "Sat, Jan 9, 2027"
    assert plain(metric.dated(noon.date())) == "Sat 9 Jan 2027"
    assert plain(metric.full_date(noon.date())) == "9 Jan 2027"
    assert plain(us.temperature(0.0)) == "32 °F"
    assert plain(metric.temperature(-40.0)) == "−40 °C"


@pytest.mark.parametrize(
    ("value", "text"),
    [(0.0, "none"), (0.01, "under 0.1 hours"), (1.0, "1 hour"), (1.04, "1 hour"),
     (2.44, "2.4 hours"), (214.06, "214 hours"), (1200.0, "1,200 hours")],
)  # fmt: skip
def test_hours(value: float, text: str) -> None:
    assert plain(numbers.hours(value)) == text


def test_numbers() -> None:
    assert plain(numbers.percent(0.436)) == "44 %"
    assert plain(numbers.watt_hours(1234.5)) == "1,234 Wh"
    assert plain(numbers.watt_hours(-0.2)) == "0 Wh"
    assert plain(numbers.watt_hours(-1234.0)) == "−1,234 Wh"
    assert plain(numbers.kilowatt_hours(2560.0)) == "2.6 kWh"
    assert plain(numbers.amps(40.0)) == "40 A"
    assert plain(numbers.amps(12.5)) == "12.5 A"


def test_lists() -> None:
    assert numbers.listed([]) == ""
    assert numbers.listed(["a"]) == "a"
    assert numbers.listed(["a", "b", "c"]) == "a, b and c"


def test_what_goes_dark_first(small_result: Result) -> None:
    trip = small_result.trips[0]
    manner = Manner("us")

    def told(shown: TripResult) -> tuple[str, str]:
        moment, rest = sentences.first_dark(answer_of(shown), shown, ["Here", "There"], manner)
        return plain(moment), plain(rest)

    assert told(with_dark(trip, [0] * 4)) == ("none", "")
    # the coffee is wanted from the second day on
    worst = with_dark(trip, [0] * 12)
    worst.unserved_w[2, 30:33, 6] = 10.0
    later = plain(manner.moment(trip.local_times()[30]))
    # one of twelve may be dark, so the bad case holds
    worst = replace(worst, ample_share=0.9)
    assert told(worst) == (f"{later}, Here", "in the worst trip: the extras (=SUM(A1))")
    bad = with_dark(trip, [0, 0, 0, 0, 0, 1, 0, 0, 0, 0, 0, 4])
    bad.unserved_w[0, 30:32, 6] = 10.0
    bad = replace(bad, ample_share=0.9)
    moment, rest = told(bad)
    assert moment == f"{later}, Here"
    assert rest.startswith("in the bad case: the essentials (")
    # of two groups that go off together the one that is shed first is named
    bad.unserved_w[2, 30, 6] = 1.0
    bad = replace(bad)  # what it had worked out is forgotten
    assert told(bad)[1].startswith("in the bad case: the extras (")


def test_names_in_a_sentence(small_result: Result) -> None:
    trip = small_result.trips[0]
    line = trip.loads[0]
    many = replace(
        trip,
        loads=tuple(
            replace(line, name=f"Load {i}", priority="extra", wanted_wh=np.full(2, 10.0 * i))
            for i in range(5)
        ),
    )
    assert sentences.named_loads(many.loads, "extra") == "Load 4, Load 3 and 3 more"
    assert sentences.named_loads(many.loads, "comfort") == "the inverter"
    assert numbers.shortened("x" * 10_000, 40) == "x" * 39 + "…"


def test_text_that_turns_the_writing_is_set_apart() -> None:
    assert numbers.isolated("Van, 12 V") == "Van, 12 V"
    for text in ("\u202eevil", "שלום", "مرحبا", "\u2067x"):
        assert numbers.isolated(text) == f"\u2068{text}\u2069"


def test_the_ledger_names_the_hungriest_line(small_result: Result) -> None:
    assert "Refrigerator" in sentences.ledger_caption(small_result.trips)


def test_build_line_leaves_out_what_is_not_there(small_result: Result) -> None:
    job = small_result.job
    assert [plain(part) for part in sentences.build_line(job)] == [
        "170 W of panels",
        "1.3 kWh battery",
        "20 A DC-DC charger",
        "20 A shore charger (120 V, 15 A)",
        "1,000 W inverter",
    ]
    bare = with_values(job, {"panels": (), "alternator": (), "shore": (), "inverter": None})
    assert [plain(part) for part in sentences.build_line(bare)] == ["no panels", "1.3 kWh battery"]


def test_cautions_follow_the_build(small_result: Result) -> None:
    job = small_result.job
    topics = [topic for topic, _ in cautions(job, Manner("us"))]
    assert {"Battery", "Wiring", "Shore power", "Alarms", "Roof", "Codes and trades"} <= set(topics)
    assert "Burning fuel" not in topics
    bare = with_values(job, {"shore": (), "panels": ()})
    less = [topic for topic, _ in cautions(bare, Manner("us"))]
    assert "Shore power" not in less
    assert "Roof" not in less
    assert "32 °F" in plain(cautions(job, Manner("us"))[0][1])


def test_assumptions_name_sources_and_settings(small_result: Result) -> None:
    topics = dict(assumptions.assumptions(small_result, dt.date(2027, 3, 1), "9.8.7", Manner("us")))
    said = " ".join(topics["Sun and temperature"])
    # A line of one trip alone is said with its name.
    assert all(line in said for line in small_result.trips[0].about)
    verdict = plain(" ".join(topics["What the verdict means"]))
    assert "propane or fresh water they need, hold in fewer than 95 %" in verdict
    assert "warmth hold in fewer than 95 %" in verdict
    origin = plain(topics["This report"][0])
    assert "Nightledger 9.8.7" in origin
    assert "12 simulated trips for each trip" in origin
    assert "seed 3" in origin
    panel = small_result.job.panels[0]
    assert f"{panel.soiling_pct:g} % to dirt" in plain(topics["Between panel and battery"][0])


def test_assumptions_name_what_is_lost_not_what_is_left(small_result: Result) -> None:
    job = small_result.job
    panel = with_values(job.panels[0], {"controller_efficiency": 0.96})
    battery = with_values(job.battery, {"health_pct": 85})
    changed = replace(small_result, job=with_values(job, {"panels": (panel,), "battery": battery}))
    said = dict(assumptions.assumptions(changed, dt.date(2027, 3, 1), "1", Manner("us")))
    assert "4 % in the solar controller of 20 A" in plain(said["Between panel and battery"][0])
    text = plain(" ".join(line for lines in said.values() for line in lines))
    assert "1,088 Wh from full to empty, at 85 % of the capacity" in text
    lost = 100.0 * (1.0 - job.battery.charge_efficiency)
    assert 1.0 < lost < 9.5
    assert f"and {lost:.2g} % of what goes in is lost" in text


def test_assumptions_name_the_drives_that_were_estimated(small_result: Result) -> None:
    def topics(result: Result) -> dict[str, tuple[str, ...]]:
        return dict(assumptions.assumptions(result, dt.date(2027, 3, 1), "1", Manner("us")))

    job = small_result.job
    first = job.trips[0]
    away = first.stops[0].model_copy(update={"place": find_place("Bend, OR"), "drive_hours": None})
    trip = first.model_copy(update={"start": find_place("Portland, OR"), "stops": (away,)})
    changed = job.model_copy(update={"trips": (trip, *job.trips[1:])})
    (said,) = topics(replace(small_result, job=changed))["Hours of driving"]
    assert "Portland, Oregon, US to Bend, Oregon, US: " in said
    assert "Hours of driving" not in topics(small_result)


def test_assumptions_end_with_what_is_odd(small_result: Result) -> None:
    """The dates of the trips lie in the past for a report written later; the small job has few
    simulated trips."""
    later = max(trip.depart for trip in small_result.job.trips) + dt.timedelta(days=1)
    topics = dict(assumptions.assumptions(small_result, later, "1", Manner("us")))
    said = topics["For the builder: odd in the job"]
    assert any("lies in the past" in line for line in said)
    assert any("rough odds" in line for line in said)
    # The page is the client's: no keys of the job file.
    assert not any("settings" in line or "depart =" in line for line in said)


def test_a_source_of_one_trip_is_named_for_it(small_result: Result) -> None:
    first, second = small_result.trips
    result = replace(small_result, trips=(first, replace(second, about=("A file.",))))
    topics = dict(assumptions.assumptions(result, dt.date(2027, 3, 1), "1", Manner("us")))
    assert "Summer: A file." in topics["Sun and temperature"]


@pytest.mark.parametrize(
    ("count", "said"),
    [(0, "the inverter"), (2, "B and A"), (3, "C, B and A"), (4, "D, C and 2 more")],
)
def test_loads_are_named_the_hungriest_first(count: int, said: str) -> None:
    loads = [
        SimpleNamespace(name=name, priority="comfort", supply="dc", wanted_wh=np.array([1.0 + k]))
        for k, name in enumerate("ABCD"[:count])
    ]
    other = SimpleNamespace(name="X", priority="extra", supply="dc", wanted_wh=np.array([9.0]))
    named = sentences.named_loads([*loads, other], "comfort", 3)  # type: ignore[list-item]
    assert named.replace("\u2068", "").replace("\u2069", "") == said


@pytest.mark.parametrize(
    ("name", "most", "kept"),
    [
        ("July, mountains and coast", 25, "July, mountains and coast"),
        ("July, mountains and coast", 24, "July, mountains and…"),
        ("July, mountains and coast", 20, "July, mountains and…"),
        ("July, mountains and coast", 19, "July, mountains…"),
        ("Refrigeratorfreezer", 10, "Refrigera…"),
        ("A Refrigeratorfreezer", 12, "A Refrigera…"),
    ],
)
def test_a_name_is_cut_behind_a_word_where_one_ends_late_enough(
    name: str, most: int, kept: str
) -> None:
    assert numbers.shortened(name, most) == kept
    assert len(kept) <= most
