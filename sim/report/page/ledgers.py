"""Decisions as ledgers: rows of a table with a bar for each trip, and the year in squares."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup

from sim.decide.calendar import Calendar
from sim.decide.levers.effect import LeverDecision, TripEffect
from sim.decide.panels.counts import PanelDecision
from sim.ledger.answer import Answer
from sim.ledger.verdict import Verdict
from sim.report.words.answer_words import counts_cell, counts_legend
from sim.report.words.calendar_words import panels_aboard, panels_needed
from sim.report.words.numbers import (
    GAP,
    called,
    cost_words,
    counted,
    month_name,
    percent,
    price,
    shortened,
    weight,
)

# More changes than these are a list nobody reads on a phone.
_MOST_LEVERS = 14


@dataclass(frozen=True)
class Bar:
    """Shares of all draws as a bar: everything over the essentials.

    Attributes
    ----------
    text, note : str
        ``tight 200/168``, and what else is worth a word.
    share, essentials : float
        Draws in which everything, and in which the essentials hold. 0 to 1
    bounds : (float, float)
        Of ample and tight.
    before : float or None
        The share in which everything held before a change.
    """

    text: str
    note: str
    share: float
    essentials: float
    bounds: tuple[float, float]
    before: float | None = None

    @property
    def drawing(self) -> Markup:
        """The bar, between broken lines at the bounds."""
        parts = [
            f'<line class="s-floor" stroke-dasharray="2 2" x1="{100 * x:.1f}%" x2="{100 * x:.1f}%" '
            'y1="0" y2="100%"/>'
            for x in self.bounds
        ]
        for look, share in (("f-band", self.essentials), ("f-charge", self.share)):
            parts.append(f'<rect class="{look}" y="4" width="{100 * share:.1f}%" height="6"/>')
        if self.before is not None:
            at = f'x1="{100 * self.before:.1f}%" x2="{100 * self.before:.1f}%"'
            parts.append(f'<line class="s-bad" stroke-width="2" {at} y1="0" y2="100%"/>')
        return _drawing("odds", parts)


@dataclass(frozen=True)
class Weeks:
    """The starts of a month as squares: full for ample, half for tight, empty for short."""

    verdicts: tuple[Verdict, ...]
    own: int | None

    @property
    def drawing(self) -> Markup:
        """One square a week; the trip's own has a mark under it."""
        parts = []
        for place, verdict in enumerate(self.verdicts):
            x = 15 * place + 1
            parts.append(f'<rect class="f-clear s-charge" x="{x}" y="1" width="11" height="11"/>')
            if verdict != "short":
                y, height = (1, 11) if verdict == "ample" else (6.5, 5.5)
                box = f'x="{x}" y="{y}" width="11" height="{height}"'
                parts.append(f'<rect class="f-charge" {box}/>')
            if place == self.own:
                parts.append(f'<path class="f-ink" d="M{x + 5.5} 13.5l3.5 4.5h-7z"/>')
        return _drawing("weeks", parts)


Cell = str | Bar | Weeks


@dataclass(frozen=True)
class Ledger:
    """A table with drawings in it.

    Attributes
    ----------
    caption : str
    head : tuple of str
    rows : tuple of tuples of str, Bar or Weeks
        The first cell is the row's head.
    chosen : int or None
        The row that is underlined.
    asides : int
        So many columns after the first go under its words where the page is narrow.
    """

    caption: str
    head: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]
    chosen: int | None = None
    asides: int = 0

    def aside(self, row: int) -> str:
        """What goes under the first cell of a row: ``USD 570, 79 lb``."""
        cells = self.rows[row][1 : 1 + self.asides]
        return ", ".join(str(cell).replace(" ", GAP) for cell in cells if cell != "–")


def panels_ledger(found: PanelDecision, bounds: tuple[float, float], us_units: bool) -> Ledger:
    """Each number of panels on every trip; the smallest that fits and is ample is underlined."""
    rows: list[tuple[Cell, ...]] = []
    for option in found.options:
        fits = "" if option.fits is not False else ", more than fit"
        own = ", as planned" if option.count == found.job_count else ""
        what = f"{counted(option.count, 'panel')}{fits}{own}"
        cost = price(option.price, found.currency), weight(option.weight_kg, us_units)
        rows.append((what, *cost, *(_bar(trip, bounds) for trip in option.trips)))
    names = [shortened(answer.trip) for answer in found.options[0].trips]
    counts = [option.count for option in found.options]
    chosen = None if found.recommended is None else counts.index(found.recommended)
    every = [trip for option in found.options for trip in option.trips]
    caption = (
        f"{counts_legend(every)} The pale bar is the essentials, the dark one everything; broken "
        "lines are the bounds of ample and tight"
    )
    return Ledger(caption, ("Panels", "Price", "Weight", *names), tuple(rows), chosen, asides=2)


def levers_ledger(found: LeverDecision, bounds: tuple[float, float], us_units: bool) -> Ledger:
    """Each change on every trip, the best first; the one that is enough underlined."""
    shown = [x for x in found.effects if x.trips and not x.changes_nothing][:_MOST_LEVERS]
    rows: list[tuple[Cell, ...]] = []
    for effect in shown:
        bars = [
            _bar(trip.answer, bounds, before.all_held / before.draws, _spoilt(trip))
            for trip, before in zip(effect.trips, found.base, strict=True)
        ]
        cost = cost_words(effect.price, found.currency), weight(effect.weight_kg, us_units)
        rows.append((effect.name, *cost, *bars))
    # The one that the answer names, if it is among those shown.
    chosen = next((shown.index(x) for x in found.enough[:1] if x in shown), None)
    every = [trip.answer for effect in shown for trip in effect.trips] or found.base
    caption = (
        f"Each change by itself. {counts_legend(every)} The pale bar is the essentials, the dark "
        "one everything; the upright line is everything as planned"
    )
    head = ("Change", "Price", "Weight", *(shortened(answer.trip) for answer in found.base))
    return Ledger(caption, head, tuple(rows), chosen, asides=2)


def calendar_ledger(found: Calendar, own_start: Sequence[int]) -> Ledger:
    """The months: each start of the build as a square, its worst one as a bar.

    Parameters
    ----------
    found : Calendar
    own_start : (int, int)
        Month and day on which the trip itself is to start.
    """
    column = found.counts.index(found.job_count)
    weeks = range(len(found.departs))
    own = min(weeks, key=lambda week: _days_apart(found, week, own_start))
    rows: list[tuple[Cell, ...]] = []
    for month in found.months:
        starts = [week for week in weeks if found.departs[week].month == month.month]
        squares = Weeks(
            tuple(found.answers[week][column].verdict for week in starts),
            starts.index(own) if own in starts else None,
        )
        bar = _bar(month.worst, found.bounds)
        enough = panels_needed(month, found).replace(" ", GAP)
        rows.append((month_name(month.month), squares, bar, enough))
    caption = (
        f"{called(found.trip)} with {panels_aboard(found)}, started in every week of the year. "
        "Full square: ample; half: tight; empty: short; the triangle is the planned start. "
        f"{counts_legend([month.worst for month in found.months])} Panels needed: for the "
        "electricity."
    )
    head = ("Month", "Its weeks", "Worst start", "Panels needed")
    return Ledger(caption, head, tuple(rows))


def _days_apart(found: Calendar, week: int, own_start: Sequence[int]) -> int:
    month, day = own_start
    start = found.departs[week]
    own = start.replace(month=month, day=min(day, 28))
    days = abs((start - own).days)
    return min(days, 365 - days)


def _spoilt(trip: TripEffect) -> str:
    return "worse than planned" if trip.is_worse else "not used here" if trip.is_left else ""


def _bar(
    answer: Answer, bounds: tuple[float, float], before: float | None = None, note: str = ""
) -> Bar:
    low = f"low {percent(answer.bad.lowest_soc)}"
    return Bar(
        text=f"{answer.verdict} {counts_cell(answer)}",
        note=f"{low}, {note}" if note else low,
        share=answer.all_held / answer.draws,
        essentials=answer.essentials_held / answer.draws,
        bounds=bounds,
        before=before,
    )


def _drawing(kind: str, parts: Sequence[str]) -> Markup:
    body = Markup("".join(parts))
    return Markup('<svg class="{}" aria-hidden="true" focusable="false">{}</svg>').format(
        kind, body
    )
