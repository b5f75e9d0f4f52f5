"""What is fitted in a design: its parts and what they cost.

What is not known stays unknown: a part without a price is named and is in no sum.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from typing import Literal

from sim.job.model.designs import DesignEntry, PriceItem
from sim.job.model.job import Job, Prices

PartKind = Literal[
    "panels", "controller", "battery", "dcdc", "shore", "generator", "converter", "inverter",
    "water", "propane", "item",
]  # fmt: skip


@dataclass(frozen=True)
class Part:
    """One line of what is fitted.

    Attributes
    ----------
    kind : str
    index : int
        Which of its kind in the job: the group of panels, the plug, the item.
    count : int
    each : Decimal or None
        What one costs; None where that is not known.
    amount : Decimal or None
        What all of them cost, in whole units of the smallest coin.
    item : PriceItem or None
        Of the kind "item".
    """

    kind: PartKind
    index: int
    count: int
    each: Decimal | None
    amount: Decimal | None
    item: PriceItem | None = None


@dataclass(frozen=True)
class Cost:
    """What a design costs.

    Attributes
    ----------
    currency : str
        Empty where the job names no prices.
    parts : tuple of Part
    whole : Decimal or None
        The price of the design as one, where the job gives it; no part's price counts then.
    subtotal, tax, total : Decimal or None
        Before tax, tax, and both; None where no price is known, tax also where none is named.
    tax_pct : float or None
    """

    currency: str
    parts: tuple[Part, ...]
    whole: Decimal | None
    subtotal: Decimal | None
    tax: Decimal | None
    total: Decimal | None
    tax_pct: float | None

    @property
    def unpriced(self) -> tuple[Part, ...]:
        """Parts that are fitted and in no sum."""
        if self.whole is not None:
            return ()
        return tuple(part for part in self.parts if part.amount is None)


def cost_of(job: Job, design: Job, entry: DesignEntry | None = None) -> Cost:
    """What a design costs.

    Parameters
    ----------
    job : Job
        As it is: its `[prices]` are those of its own panels and battery units.
    design : Job
        The job with the design's changes made.
    entry : DesignEntry, optional
        With a price of its own, and items.
    """
    prices = job.prices or Prices()
    unit = smallest_coin(prices.currency)
    items = (*prices.items, *(entry.items if entry is not None else ()))
    parts = tuple(_parts(job, design, prices, items, unit))
    whole = None if entry is None or entry.price is None else _money(entry.price, unit)
    known = [part.amount for part in parts if part.amount is not None]
    subtotal = whole if whole is not None else sum(known, Decimal(0)) if known else None
    tax = None
    if subtotal is not None and prices.tax_pct is not None:
        tax = (subtotal * Decimal(str(prices.tax_pct)) / 100).quantize(unit, ROUND_HALF_UP)
    total = None if subtotal is None else subtotal + (tax or Decimal(0))
    currency = job.prices.currency if job.prices else ""
    if whole is not None and not currency:
        currency = prices.currency
    return Cost(currency, parts, whole, subtotal, tax, total, prices.tax_pct)


def smallest_coin(currency: str) -> Decimal:
    """The step in which a currency is paid: 0.01 for most, 1 for the yen."""
    from babel.numbers import get_currency_precision

    return Decimal(1).scaleb(-get_currency_precision(currency.upper()))


def _money(value: float, unit: Decimal) -> Decimal:
    return Decimal(str(value)).quantize(unit, ROUND_HALF_UP)


def _parts(
    job: Job, design: Job, prices: Prices, items: tuple[PriceItem, ...], unit: Decimal
) -> Iterator[Part]:
    def part(
        kind: PartKind, index: int, count: int, price: float | None, item: PriceItem | None = None
    ) -> Part:
        each = None if price is None else _money(price, unit)
        return Part(kind, index, count, each, None if each is None else each * count, item)

    for index, group in enumerate(design.panels):
        if group.count:
            own = any(group.watts == known.watts for known in job.panels)
            yield part("panels", index, group.count, prices.panel if own else None)
            yield part("controller", index, 1, prices.controller)
    bank, known = design.battery, job.battery
    same = (bank.chemistry, bank.capacity_ah, bank.nominal_v) == (
        known.chemistry, known.capacity_ah, known.nominal_v,
    )  # fmt: skip
    yield part("battery", 0, bank.count, prices.battery if same else None)
    for index in range(len(design.alternator)):
        yield part("dcdc", index, 1, prices.dcdc)
    for index in range(len(design.shore)):
        yield part("shore", index, 1, prices.shore)
    single: tuple[tuple[PartKind, object, float | None], ...] = (
        ("generator", design.generator, prices.generator),
        ("converter", design.converter, prices.converter),
        ("inverter", design.inverter, prices.inverter),
        ("water", design.water, prices.water),
        ("propane", design.propane, prices.propane_system),
    )
    for kind, section, price in single:
        if section is not None:
            yield part(kind, 0, 1, price)
    for index, item in enumerate(items):
        yield part("item", index, item.count, item.price, item)
