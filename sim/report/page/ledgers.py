"""Decisions as ledgers: rows of a table with a bar for each trip, and the year in squares."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup

from sim.decide.calendar import Calendar
from sim.decide.levers.effects import LeverDecision
from sim.decide.panels.counts import PanelDecision
from sim.ledger.answer import Answer
from sim.ledger.verdict import Verdict
from sim.report.words.numbers import counted, drawn_share, month_name, percent, price, weight

# More changes than these are a list nobody reads on a phone.
_MOST_LEVERS = 14


@dataclass(frozen=True)
class Bar:
    """A share of all draws as a bar, with the line that holds the true share in 95 of 100 cases.

    Attributes
    ----------
    text, note : str
        ``168 of 200``, and what else is worth a word.
    share, low, high : float
        0 to 1.
    bounds : (float, float)
        Of ample and tight.
    before : float or None
        The share before a change.
    """

    text: str
    note: str
    share: float
    low: float
    high: float
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
        parts.append(f'<rect class="f-charge" y="4" width="{100 * self.share:.1f}%" height="6"/>')
        ends = f'x1="{100 * self.low:.1f}%" x2="{100 * self.high:.1f}%"'
        parts.append(f'<line class="s-paper" stroke-width="4" {ends} y1="7" y2="7"/>')
        parts.append(f'<line class="s-ink" stroke-width="1.4" {ends} y1="7" y2="7"/>')
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
    """

    caption: str
    head: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]
    chosen: int | None = None


def panels_ledger(found: PanelDecision, bounds: tuple[float, float], us_units: bool) -> Ledger:
    """Each number of panels on every trip; the smallest that fits and is ample is underlined."""
    rows: list[tuple[Cell, ...]] = []
    for option in found.options:
        fits = "" if option.fits is not False else ", more than fit"
        own = ", as planned" if option.count == found.job_count else ""
        what = f"{counted(option.count, 'panel')}{fits}{own}"
        cost = price(option.price, found.currency), weight(option.weight_kg, us_units)
        rows.append((what, *cost, *(_bar(trip, bounds) for trip in option.trips)))
    names = [answer.trip for answer in found.options[0].trips]
    counts = [option.count for option in found.options]
    chosen = None if found.recommended is None else counts.index(found.recommended)
    caption = (
        "Simulated trips in which nothing goes dark. The thin line holds the true share in 95 "
        "cases of 100; broken lines are the bounds of ample and tight"
    )
    return Ledger(caption, ("Panels", "Price", "Weight", *names), tuple(rows), chosen)


def levers_ledger(found: LeverDecision, bounds: tuple[float, float], us_units: bool) -> Ledger:
    """Each change on every trip, the best first; the cheapest that makes all ample underlined."""
    shown = [x for x in found.effects if x.trips and not x.changes_nothing][:_MOST_LEVERS]
    rows: list[tuple[Cell, ...]] = []
    for effect in shown:
        bars = [
            _bar(trip.answer, bounds, before.ample_share)
            for trip, before in zip(effect.trips, found.base, strict=True)
        ]
        cost = price(effect.price, found.currency), weight(effect.weight_kg, us_units)
        rows.append((effect.name, *cost, *bars))
    enough = [
        (effect.price, index)
        for index, effect in enumerate(shown)
        if effect.price is not None and all(t.answer.verdict == "ample" for t in effect.trips)
    ]
    caption = (
        "Simulated trips in which nothing goes dark with each change, one at a time; the upright "
        "line is the build as planned"
    )
    head = ("Change", "Price", "Weight", *(answer.trip for answer in found.base))
    return Ledger(caption, head, tuple(rows), min(enough)[1] if enough else None)


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
            tuple(found.verdict(week, column) for week in starts),
            starts.index(own) if own in starts else None,
        )
        text = drawn_share(month.ample_share, found.draws)
        low, high = month.interval.low, month.interval.high
        bar = Bar(text, "", month.ample_share, low, high, found.bounds)
        enough = "more" if month.panels is None else str(month.panels)
        rows.append((month_name(month.month), month.verdict, squares, bar, enough))
    caption = (
        f"{found.trip} with {counted(found.job_count, 'panel')}, started in every week of the "
        "year. Full square: ample; half: tight; empty: short; the triangle is the planned start"
    )
    head = ("Month", "Judged", "Its weeks", "Worst start", "Panels for ample")
    return Ledger(caption, head, tuple(rows))


def _days_apart(found: Calendar, week: int, own_start: Sequence[int]) -> int:
    month, day = own_start
    start = found.departs[week]
    own = start.replace(month=month, day=min(day, 28))
    days = abs((start - own).days)
    return min(days, 365 - days)


def _bar(answer: Answer, bounds: tuple[float, float], before: float | None = None) -> Bar:
    interval = answer.interval
    return Bar(
        text=f"{answer.held} of {answer.draws}",
        note=f"low {percent(answer.lowest_soc.p10)}",
        share=answer.ample_share,
        low=interval.low,
        high=interval.high,
        bounds=bounds,
        before=before,
    )


def _drawing(kind: str, parts: Sequence[str]) -> Markup:
    body = Markup("".join(parts))
    return Markup('<svg class="{}" aria-hidden="true" focusable="false">{}</svg>').format(
        kind, body
    )
