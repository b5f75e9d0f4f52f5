"""Dates, numbers and money as a locale writes them, in English words."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest

from sim.job.model.changes import with_values
from sim.job.model.job import Job, Prices
from sim.report.words.by_locale import Writing, locale_of
from sim.report.words.numbers import percent

DAY = dt.date(2027, 1, 9)


@pytest.mark.parametrize(
    ("locale", "date", "money", "number"),
    [
        ("en_US", "January 9, 2027", "$1,234.50", "1,234.5"),
        ("en_GB", "9 January 2027", "US$1,234.50", "1,234.5"),
        # Words are English: a date keeps to the country, not to its language.
        ("de_AT", "9 January 2027", "$ 1.234,50", "1.234,5"),
        ("fr_FR", "9 January 2027", "1 234,50 $US", "1 234,5"),
    ],
)
def test_each_locale_writes_in_its_way(locale: str, date: str, money: str, number: str) -> None:
    writing = Writing(locale, "metric")

    def plain(text: str) -> str:
        return text.replace("\xa0", " ").replace("\u202f", " ")

    assert plain(writing.date(DAY)) == date
    assert plain(writing.money(Decimal("1234.50"), "USD")) == money
    # Austria parts thousands by a point or a gap, as the table of the day has it.
    assert plain(writing.number(1234.5, 1)) in (number, number.replace(".", " "))


@pytest.mark.parametrize(
    ("units", "currency", "locale"),
    [
        ("us", "USD", "en_US"),
        ("metric", "EUR", "en_IE"),
        ("metric", "GBP", "en_GB"),
        ("us", "CAD", "en_CA"),
        ("metric", "USD", "en_001"),
    ],
)
def test_units_and_currency_suggest_one(job: Job, units: str, currency: str, locale: str) -> None:
    settings = with_values(job.settings, {"units": units})
    changed = with_values(job, {"settings": settings, "prices": Prices(currency=currency)})
    assert locale_of(changed) == locale
    own = with_values(changed, {"settings": with_values(settings, {"locale": "de-CH"})})
    assert locale_of(own) == "de_CH"


def test_a_currency_nobody_knows_is_written_out() -> None:
    assert Writing("en_US", "us").money(Decimal(20), "Shells") == "Shells\xa020.00"
    assert Writing("ja_JP", "metric").money(Decimal(2000), "JPY").endswith("2,000")


def test_no_minus_before_nothing() -> None:
    assert Writing("en_US", "us").number(-0.2) == "0"


def test_weights_add_up_as_they_are_written() -> None:
    kgs = [23.6, 22.9, 136.3, 75.7, 45.4, 12.4, 3.3]
    for units, unit in (("metric", "kg"), ("us", "lb")):
        writing = Writing("en_US", units)
        shown = sum(int(writing.weight(kg).split("\xa0")[0]) for kg in kgs)
        assert writing.weights(kgs) == f"{shown}\xa0{unit}"
    assert Writing("en_US", "metric").weights(kgs) != Writing("en_US", "metric").weight(sum(kgs))


@pytest.mark.parametrize("locale", ["en_US", "de_AT", "fr_FR", "en_IE"])
def test_a_percent_keeps_its_sign_on_the_line_behind_a_gap_everywhere(locale: str) -> None:
    """As on the page and in the terminal, whatever the locale's own table says."""
    assert Writing(locale, "metric").percent(0.454) == "45\N{NO-BREAK SPACE}%" == percent(0.454)
    assert Writing(locale, "metric").percent(0.0) == "0\N{NO-BREAK SPACE}%"
