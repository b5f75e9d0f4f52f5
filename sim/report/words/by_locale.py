"""Dates, numbers and money as a locale writes them, for the papers a customer signs or keeps.

Words are English so far. A date takes the order of the job's country and the month's name in
the language of the words; numbers and money are written as the job's locale says.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property

from babel import Locale, UnknownLocaleError
from babel.dates import format_date
from babel.numbers import (
    format_currency,
    format_decimal,
    is_currency,
)

from sim.job.model.job import Job
from sim.report.words.numbers import GAP
from sim.units import KG_PER_POUND, LITRES_PER_GALLON, celsius_to_fahrenheit

# In what the sentences are written.
LANGUAGE = "en"
# English wherever no country is known, and where the customer's has none of its own.
_ANYWHERE = "en_001"
# The country whose English goes with a currency.
_BY_CURRENCY = {
    "EUR": "en_IE", "GBP": "en_GB", "CAD": "en_CA", "AUD": "en_AU", "NZD": "en_NZ",
    "CHF": "en_CH", "SEK": "en_SE", "DKK": "en_DK", "ZAR": "en_ZA",
}  # fmt: skip


def locale_of(job: Job) -> str:
    """The job's locale; where it names none, what its currency and units suggest."""
    if job.settings.locale is not None:
        return job.settings.locale
    currency = job.prices.currency.upper() if job.prices else ""
    if currency in _BY_CURRENCY:
        return _BY_CURRENCY[currency]
    return "en_US" if job.settings.units == "us" else _ANYWHERE


@dataclass(frozen=True)
class Writing:
    """How a paper writes what is no word.

    Attributes
    ----------
    locale : str
        Such as ``de_AT``.
    units : str
        "us" or "metric".
    """

    locale: str
    units: str

    @classmethod
    def of(cls, job: Job) -> Writing:
        """As a job asks for it."""
        return cls(locale_of(job), job.settings.units)

    @cached_property
    def _dates(self) -> Locale:
        country = Locale.parse(self.locale).territory
        try:
            return Locale(LANGUAGE, country)
        except UnknownLocaleError:
            return Locale.parse(_ANYWHERE)

    def date(self, day: dt.date) -> str:
        """``January 9, 2027`` or ``9 January 2027``."""
        return format_date(day, "long", locale=self._dates)

    def short_date(self, day: dt.date) -> str:
        """``Jan 9, 2027`` or ``9 Jan 2027``, for tables."""
        return format_date(day, "medium", locale=self._dates)

    def month(self, day: dt.date) -> str:
        """``May 2032``."""
        return format_date(day, "MMMM y", locale=self._dates)

    def number(self, value: float, digits: int = 0) -> str:
        """``1,240`` or ``1.240``, with at most so many digits behind the point."""
        rounded = round(value, digits) + 0.0
        pattern = "#,##0" + ("." + "#" * digits if digits else "")
        return format_decimal(rounded, pattern, locale=self.locale)

    def percent(self, share: float) -> str:
        """``45 %`` of a share of 1: written as on page and screen, wherever the customer lives."""
        return f"{self.number(100.0 * share)}{GAP}%"

    def money(self, value: Decimal, currency: str) -> str:
        """``$1,240.00`` or ``1.240,00 €``; a currency that nobody knows is written out."""
        code = currency.upper()
        if is_currency(code):
            return format_currency(value, code, locale=self.locale)
        return f"{currency}{GAP}{format_decimal(value, '#,##0.00', locale=self.locale)}".strip()

    def weight(self, kg: float) -> str:
        """``46 kg`` or ``101 lb``."""
        us = self.units == "us"
        return f"{self.number(kg / KG_PER_POUND if us else kg)}{GAP}{'lb' if us else 'kg'}"

    def weights(self, kgs: Iterable[float]) -> str:
        """The sum of weights as each of them is written: so that whoever adds them up agrees."""
        us = self.units == "us"
        total = sum(round(kg / KG_PER_POUND if us else kg) for kg in kgs)
        return f"{self.number(total)}{GAP}{'lb' if us else 'kg'}"

    def volume(self, litres: float) -> str:
        """``136 L`` or ``36 gal``."""
        if self.units == "us":
            return f"{self.number(litres / LITRES_PER_GALLON, 1)}{GAP}gal"
        return f"{self.number(litres)}{GAP}L"

    def temperature(self, celsius: float) -> str:
        """``45 °F`` or ``7 °C``."""
        if self.units == "us":
            return f"{self.number(celsius_to_fahrenheit(celsius))}{GAP}°F"
        return f"{self.number(celsius)}{GAP}°C"

    def amount(self, value: float, unit: str, digits: int = 0) -> str:
        """``1,240 Wh``: a number that keeps its unit on the line."""
        return f"{self.number(value, digits)}{GAP}{unit}"
