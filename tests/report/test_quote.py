"""The quote: each sum is that of the lines above it, as they stand on the paper."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest

import sim
from sim.decide.designs import DesignDecision
from sim.job.model.changes import with_values
from sim.job.model.designs import DesignEntry, PriceItem
from sim.job.model.job import Job, Prices
from sim.job.weights import Load, Weight
from sim.ledger.results import Result
from sim.report.page.quote_page import render_quote
from sim.report.words.by_locale import Writing
from sim.report.words.design_words import trip_cell, weight_cell
from sim.report.words.quote_words import MOST_TRIPS, WORDS, QuotePage, quote_page

WRITTEN = dt.date(2027, 3, 1)
PRICES = Prices(
    panel=190.335,
    battery=850.0,
    dcdc=320.0,
    controller=120.1,
    shore=300.0,
    inverter=280.55,
    tax_pct=8.25,
    items=(PriceItem(name="Work <b>", price=1234.567, count=3, weight_kg=2.0),),
)


def priced(job: Job, **changes: Any) -> Job:
    return with_values(job, {"prices": PRICES, **changes})


@pytest.fixture(scope="module")
def found(small_result: Result) -> DesignDecision:
    return sim.decide.designs(priced(small_result.job))


def page_of(found: DesignDecision, number: int = 0) -> QuotePage:
    return quote_page(found.options[number], Writing.of(found.job))


def dollars(text: str) -> Decimal:
    return Decimal(re.sub(r"[$,]", "", text))


def test_the_lines_add_up_to_the_sum_as_printed(found: DesignDecision) -> None:
    page = page_of(found)
    for count, _, each, amount in page.lines:
        assert int(count) * dollars(each) == dollars(amount)
    (_, subtotal), (tax, tax_amount), (_, total) = page.sums
    assert sum(dollars(amount) for *_, amount in page.lines) == dollars(subtotal)
    assert dollars(subtotal) + dollars(tax_amount) == dollars(total)
    assert tax == "Tax, 8.25\xa0%"
    # three times 1,234.57, a panel of 190.34, and the rest
    assert dollars(subtotal) == Decimal("5764.70")
    assert dollars(tax_amount) == Decimal("475.59")
    assert page.notes == ()


def test_what_has_no_price_is_named_and_no_tax_is_said(small_result: Result) -> None:
    job = with_values(small_result.job, {"prices": Prices(panel=190.0)})
    page = page_of(sim.decide.designs(with_values(job, {"trips": job.trips[1:]})))
    assert [amount for *_, amount in page.lines].count("–") == 5
    assert page.sums == (("Total", "$190.00"),)
    assert page.notes == (
        "Without a price and not in the sum: solar controller, battery, DC-DC charger, shore "
        "power and inverter.",
        "No tax is named in this sum.",
    )
    bare = with_values(job, {"prices": None, "trips": job.trips[1:]})
    page = page_of(sim.decide.designs(bare))
    assert page.sums == ()
    assert page.notes == (WORDS["no_price"],)


def test_one_price_for_the_whole_stands_without_prices_of_parts(small_result: Result) -> None:
    entries = (DesignEntry(name="A"), DesignEntry(name="B", price=9000.0))
    job = priced(small_result.job, designs=entries, trips=small_result.job.trips[1:])
    page = page_of(sim.decide.designs(job), 1)
    assert {(each, amount) for _, _, each, amount in page.lines} == {("", "")}
    assert page.sums == (
        (WORDS["whole"], "$9,000.00"),
        ("Tax, 8.25\xa0%", "$742.50"),
        ("Total", "$9,742.50"),
    )


def test_how_surely_it_carries_each_trip(found: DesignDecision) -> None:
    page = page_of(found)
    for answer, (verdict, name, _, holds, essentials, _) in zip(
        found.options[0].trips, page.trips, strict=True
    ):
        assert (verdict, name) == (answer.verdict, answer.trip)
        assert holds == f"{answer.all_held} of {answer.draws} simulated trips"
        assert essentials == f"{answer.essentials_held} of {answer.draws}"


def test_of_many_trips_the_least_sure_are_shown(found: DesignDecision) -> None:
    from dataclasses import replace

    (option,) = found.options
    first = option.trips[0]
    trips = tuple(
        replace(first, trip=f"T{n}", all_held=12 - n, draws=12) for n in range(MOST_TRIPS + 3)
    )
    planned = tuple(with_values(found.job.trips[0], {"name": trip.trip}) for trip in trips)
    job = with_values(found.job, {"trips": planned})
    page = quote_page(replace(option, trips=trips, job=job), Writing.of(job))
    assert [row[1] for row in page.trips] == [f"T{n}" for n in range(3, MOST_TRIPS + 3)]
    assert page.trips_notes[0] == "And 3 trips that it carries more surely than these."
    assert "something falls behind in 8" in page.not_promised[0]
    assert "“T8”" in page.not_promised[0]


def test_what_is_not_promised_comes_from_the_job(small_result: Result) -> None:
    job = small_result.job
    panels = (with_values(job.panels[0], {"weight_kg": None}),)
    settings = with_values(job.settings, {"weather": "clear"})
    changed = priced(job, panels=panels, settings=settings, trips=job.trips[1:])
    text = " ".join(page_of(sim.decide.designs(changed)).not_promised)
    assert "1 panel of 170 W is not known" in text
    assert WORDS["bound"] in text
    assert "2 people" in text
    plain = " ".join(page_of(sim.decide.designs(priced(job, trips=job.trips[1:]))).not_promised)
    assert WORDS["bound"] not in plain
    assert "not known" not in plain


def test_another_locale_writes_the_money(small_result: Result) -> None:
    settings = with_values(small_result.job.settings, {"locale": "de_DE"})
    prices = with_values(PRICES, {"currency": "EUR"})
    job = priced(
        small_result.job, settings=settings, prices=prices, trips=small_result.job.trips[1:]
    )
    found = sim.decide.designs(job)
    assert page_of(found).sums[0][1] == "5.764,70\xa0€"
    html = render_quote(found, written=WRITTEN, version="1")
    assert "1 March 2027" in html


def test_the_page_is_sealed_escaped_dated_and_signed(found: DesignDecision) -> None:
    page = render_quote(found, written=WRITTEN, version="1.2.3", valid_until=dt.date(2027, 3, 31))
    assert "Work <b>" not in page
    assert "Work &lt;b&gt;" in page
    assert "script-src 'none'" in page
    assert "March 1, 2027" in page
    assert "Valid until March 31, 2027." in page
    assert "Nightledger 1.2.3" in page
    for key in ("sign_customer", "sign_workshop", "sign_place"):
        assert page.count(f"<p>{WORDS[key]}</p>") == 1
    assert page == render_quote(
        found, written=WRITTEN, version="1.2.3", valid_until=dt.date(2027, 3, 31)
    )
    assert "Valid" not in render_quote(found, written=WRITTEN, version="1")


def test_sums_of_weight_are_marked_and_nothing_else(found: DesignDecision) -> None:
    page = render_quote(found, written=WRITTEN, version="1")
    marked = re.findall(r'<div class="sum"><dt dir="auto">(.*?)</dt>', page)
    due = [
        name
        for number in range(len(found.options))
        for name, _ in page_of(found, number).weights
        if name in (WORDS["together"], WORDS["left"])
    ]
    assert marked == due
    assert marked.count(WORDS["together"]) == len(found.options)


def test_paper_and_screen_say_the_same_of_a_design(found: DesignDecision) -> None:
    """The weight together, and the lowest charge, which is that of the bad case everywhere."""
    option, writing = found.options[0], Writing.of(found.job)
    page = page_of(found)
    assert weight_cell(option.load, writing) == dict(page.weights)[WORDS["together"]]
    # Each part is rounded before it is added: what is on paper adds up.
    halves = Load(tuple(Weight("panels", n, 0.5 + 1e-6) for n in range(3)), None)
    assert weight_cell(halves, Writing("en_GB", "metric")) == "3\xa0kg"
    for answer, (*_, lowest) in zip(option.trips, page.trips, strict=True):
        assert lowest == writing.percent(answer.bad.lowest_soc)
        assert lowest.split("%")[0].strip() in trip_cell(answer).split("lowest")[1]


def test_a_medical_device_that_may_go_without_stands_above_the_signature(
    found: DesignDecision,
) -> None:
    option = found.options[0]
    assert "alarm" not in rendered(found).split("</style>")[-1]
    ill = replace(option.trips[0], medical=("Breathing aid",), medical_dark=3)
    one = replace(found, options=(replace(option, trips=(ill, *option.trips[1:])),))
    page = rendered(one)
    said = f'<strong class="alarm">With this, Breathing aid may go without in 3 of {ill.draws} '
    plain = page.translate(dict.fromkeys((0x2068, 0x2069)))
    assert said in plain
    assert plain.index(said) < plain.index(WORDS["sign_customer"])


def rendered(found: DesignDecision) -> str:
    return render_quote(found, written=WRITTEN, version="1", valid_until=dt.date(2027, 4, 1))
