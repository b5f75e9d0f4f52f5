"""The sheet for the van: every line from the job or computed, none for what is not aboard."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import replace
from types import SimpleNamespace

import pytest

import sim
from sim.decide.handover import HandoverSheet
from sim.job.model.changes import with_values
from sim.job.model.handover import Handover, Service
from sim.job.model.job import Job
from sim.job.model.power import Generator
from sim.job.model.tanks import GreyTank, Propane, Water
from sim.ledger.results import Result
from sim.report.page.handover_page import render_handover
from sim.report.words import handover_words as words
from sim.report.words.by_locale import Writing
from sim.report.words.emergency_words import emergencies

WRITTEN = dt.date(2027, 3, 1)
HOSTILE = "<script>x</script> {y} [bold]"


@pytest.fixture(scope="module")
def sheet(small_result: Result) -> HandoverSheet:
    return sim.decide.handover(small_result.job)


@pytest.fixture(scope="module")
def full(small_result: Result) -> HandoverSheet:
    job = small_result.job
    tank = GreyTank(name=HOSTILE, capacity_l=40.0, takes=("kitchen",))
    notes = Handover(
        main_switch=HOSTILE,
        propane_valve="Rear door",
        extinguisher="By the door",
        winter=("Bleed it",),
        services=(
            Service(what="CO alarm", due=dt.date(2032, 5, 1)),
            Service(what="Filter", every_months=6),
            Service(what="Gas hose", due=dt.date(2030, 1, 1), every_months=120),
        ),
    )
    generator = Generator(watts=1000, charger_amps=20, tank_l=3, start_below_soc=0.2)
    values = {
        "water": Water(fresh_l=80.0, grey=(tank,)),
        "propane": Propane(tank_l=10.0),
        "generator": generator,
        "handover": notes,
    }
    return sim.decide.handover(with_values(job, values))


def metric(sheet: HandoverSheet) -> Writing:
    return Writing("en_GB", "metric")


def text_of(sheet: HandoverSheet) -> str:
    page = render_handover(sheet, written=WRITTEN, version="1.2.3")
    body = page.partition("<body>")[2]
    return " ".join(re.sub(r"<[^>]*>", " ", body).split())


def test_nothing_is_said_of_what_is_not_aboard(sheet: HandoverSheet) -> None:
    text = text_of(sheet).lower()
    for word in ("propane", "carbon monoxide", "generator", "tank", "tap", "trap", "pump", "flue"):
        assert word not in text, word
    assert "where things are" not in text
    assert "shore power" in text
    unplugged = with_values(sheet.job, {"shore": ()})
    assert "pedestal" not in text_of(replace(sheet, job=unplugged)).lower()


def test_what_is_aboard_has_its_lines(full: HandoverSheet) -> None:
    text = text_of(full)
    for part in (
        "Propane shut-off Rear door",
        "Shut the propane off, if that is safe: Rear door.",
        "The generator off too.",
        "Fire extinguisher: By the door.",
        "Bleed it",
        "Drain the fresh tank (21.1 gal, inside)",
        "Main switch of the battery",
        "CO alarm: May 2032",
        "Filter: every 6 months",
        "Gas hose: January 2030, then every 10 years",
        "test button of the carbon monoxide and propane alarm",
    ):
        assert part in text, part


def test_what_people_write_is_escaped_and_never_filled_in(full: HandoverSheet) -> None:
    page = render_handover(full, written=WRITTEN, version="1")
    assert "<script>x" not in page
    assert page.count("&lt;script&gt;x&lt;/script&gt; {y} [bold]") >= 3
    assert "script-src 'none'" in page


def test_the_charge_table_counts_draws(sheet: HandoverSheet) -> None:
    rows = list(words.charge_rows(sheet, metric(sheet)))
    winter, summer = sheet.seasons
    assert rows[0] == ("100\xa0%", *map(str, (winter.lasting[0], winter.essentials[0],
                                          summer.lasting[0], summer.essentials[0])))  # fmt: skip
    assert len(rows) == 10
    assert "of 12 simulated nights" in words.charge_caption(sheet)
    # Where nothing is on, nothing can last.
    bank = with_values(sheet.job.battery, {"cutoff_soc": 0.5, "reserve_soc": 0.5})
    lead = with_values(sheet.job, {"battery": bank})
    assert [row[0] for row in words.charge_rows(replace(sheet, job=lead), metric(sheet))] == [
        "100\xa0%", "90\xa0%", "80\xa0%", "70\xa0%", "60\xa0%",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("nights", "says"),
    [
        (
            (0.45, 0.7, None),
            "45\xa0% at sunset lasts until the next noon, 70\xa0% until noon after two",
        ),
        ((0.45, 0.7, 0.9), "70\xa0% until noon after two nights, 90\xa0% after three."),
        ((0.3, 0.3, 0.3), "30\xa0% at sunset lasts for one, two or three nights"),
        ((None, None, None), "even a full battery at sunset does not last until noon"),
    ],
)
def test_the_charge_for_more_nights(
    sheet: HandoverSheet, nights: tuple[float | None, ...], says: str
) -> None:
    winter = replace(sheet.seasons[0], nights=nights)
    changed = replace(sheet, seasons=(winter, sheet.seasons[1]))
    assert says in list(words.charge_sentences(changed, metric(sheet)))[1]


def test_a_dull_day_and_what_brings_it_back(sheet: HandoverSheet) -> None:
    winter, summer = sheet.seasons
    dull = replace(winter.dull, missing_wh=812.4, sun_hours=3.2, drive_hours=1.04, plug_hours=None)
    bright = replace(summer.dull, missing_wh=0.0)
    changed = replace(sheet, seasons=(replace(winter, dull=dull), replace(summer, dull=bright)))
    first, second = words.dull_sentences(changed, metric(sheet))
    assert first.replace("\xa0", " ") == (
        "Winter: one day in ten is dull enough to leave 812 Wh missing. What brings it back: 3.2 "
        "hours of bright midday sun or 1 hours of driving."
    ).replace("1 hours", "1 hour")
    assert second == "Summer: even a dull day gives what a day takes."


def test_tanks_of_one_trip_share_a_column(full: HandoverSheet) -> None:
    assert words.tank_head(full) == ("Tank", "Winter", "Summer")
    one = replace(
        full, seasons=(full.seasons[0], replace(full.seasons[1], trip=full.seasons[0].trip))
    )
    assert len(words.tank_head(one)) == 2
    rows = list(words.tank_rows(one, metric(full)))
    assert {len(row) for row in rows} == {2}
    names = [row[0].replace("\xa0", " ") for row in rows]
    assert names[:2] == ["Fresh water, 80 L", f"{HOSTILE}, 40 L, until full"]


def test_frost_on_the_way_is_named(sheet: HandoverSheet) -> None:
    assert words.frozen_sentence(replace(sheet, frozen=())) == ""
    told = words.frozen_sentence(replace(sheet, frozen=(("A", "Bend"), ("B", "Bend"))))
    assert told.endswith("on the way: Bend.")


@pytest.mark.parametrize(
    ("chemistry", "charge", "says"),
    [
        ("lifepo4", "60\xa0%", "Never charge it below 0"),
        ("agm", "100\xa0%", "A discharged one freezes."),
    ],
)
def test_how_the_battery_rests(
    sheet: HandoverSheet, chemistry: str, charge: str, says: str
) -> None:
    bank = with_values(sheet.job.battery, {"chemistry": chemistry, "charge_above_c": 0.0})
    changed = replace(sheet, job=with_values(sheet.job, {"battery": bank}))
    last = list(words.winter_lines(changed, metric(sheet)))[-1]
    assert f"Leave the battery at {charge}" in last
    assert says in last
    # 3 % a month of itself: a fifth in seven months
    assert "20\xa0% of its charge in about 7 months" in last


def test_emergencies_follow_the_chemistry(sheet: HandoverSheet) -> None:
    def steps(job: Job) -> str:
        return " ".join(emergencies(job)[0].steps)

    assert "catch fire again" in steps(sheet.job)
    lead = with_values(sheet.job, {"battery": with_values(sheet.job.battery, {"chemistry": "agm"})})
    assert "acid burns" in steps(lead)
    assert "catch fire again" not in steps(lead)


def test_another_locale_writes_its_numbers(full: HandoverSheet) -> None:
    writing = Writing("de_AT", "metric")
    (line,) = (x for x in words.service_lines(full, writing) if x.startswith("CO alarm"))
    assert line == "CO alarm: May 2032"
    dull = replace(full.seasons[0].dull, missing_wh=1812.4, sun_hours=3.25)
    changed = replace(full, seasons=(replace(full.seasons[0], dull=dull), full.seasons[1]))
    first = next(words.dull_sentences(changed, writing))
    assert "3,2 hours" in first


def test_parked_without_what_is_aboard_to_charge(sheet: HandoverSheet) -> None:
    job = sheet.job
    generator = Generator(watts=1000, charger_amps=20, tank_l=3, start_below_soc=0.2)
    none = {"shore": (), "alternator": (), "generator": None}
    for values, start in (
        (none, "Parked: of"),
        (none | {"alternator": job.alternator}, "Parked, without driving: of"),
        (none | {"generator": generator}, "Parked, without generator: of"),
        ({"generator": generator}, "Parked, without plug, driving or generator: of"),
    ):
        other = replace(sheet, job=with_values(job, values))
        assert words.charge_caption(other).startswith(start)


@pytest.mark.parametrize("more", [0, 1])
def test_stops_with_frost_are_named_up_to_a_few(more: int) -> None:
    places = [f"Town {k}" for k in range(words._NAMED + more)]
    sheet = SimpleNamespace(frozen=[(k, place) for k, place in enumerate([*places, places[0]])])
    said = words.frozen_sentence(sheet)  # type: ignore[arg-type]
    assert all(place in said for place in places) == (more == 0)
    assert ("2 more stops" in said) == (more == 1)


def test_a_tank_that_a_season_leaves_alone_is_not_used_then(full: HandoverSheet) -> None:
    winter, summer = full.seasons
    others = [None] * (len(full.tanks) - 1)
    seasons = (replace(winter, tanks=(None, *others)), replace(summer, tanks=(6, *others)))
    (row,) = words.tank_rows(replace(full, seasons=seasons), metric(full))
    assert row[1:] == (words.WORDS["unused"], "6")
