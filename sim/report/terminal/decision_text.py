"""Decisions in the terminal."""

from __future__ import annotations

from rich.console import Console
from rich.table import Table

from sim.decide.calendar import Calendar
from sim.decide.levers.effects import LeverDecision, LeverEffect, TripEffect
from sim.decide.panels.choice import PanelOption
from sim.decide.panels.counts import PanelDecision
from sim.report.terminal.answer import plain
from sim.report.words.lever_words import calendar_sentences, lever_sentences, why_not
from sim.report.words.numbers import (
    drawn_share,
    gain_told,
    held_share,
    month_name,
    price,
    sure_share,
    weight,
)
from sim.report.words.panel_words import panel_sentences, roof_note

# So many trips have a column of their own beside the levers.
_TRIPS_BESIDE = 2


def print_panels(found: PanelDecision, console: Console, *, us_units: bool) -> None:
    """The recommendation; then the counts, trip by trip."""
    console.print(plain(found.title), style="bold")
    for text in panel_sentences(found):
        console.print(plain(text, 1000))
    if note := roof_note(found.fit):
        console.print(plain(f"Roof: {note}.", 300))
    console.print()
    table = _table(
        f"Panels of {found.panel}", "Fits", "Controller", "On the roof", "Price", "Worst"
    )
    for option in found.options:
        table.add_row(
            _count(option, found),
            _fits(option),
            f"{option.controller_amps:g} A",
            weight(option.weight_kg, us_units),
            price(option.price, found.currency),
            option.verdict.upper(),
        )
    console.print(table)
    for index, answer in enumerate(found.options[0].trips):
        console.print()
        console.print(plain(answer.trip), style="bold")
        console.print(_panels_of_trip(found, index))


def _panels_of_trip(found: PanelDecision, index: int) -> Table:
    table = _table(
        "Panels", "Verdict", "Weathers without a dark hour", "Lowest", "Dark", "Sun left"
    )
    for option in found.options:
        answer = option.trips[index]
        table.add_row(
            _count(option, found),
            answer.verdict,
            sure_share(answer),
            drawn_share(answer.lowest_soc.p10, 1),
            f"{answer.dark_hours.mean:.1f} h",
            f"{answer.unharvested_wh_per_day:,.0f} Wh/day",
        )
    return table


def _count(option: PanelOption, found: PanelDecision) -> str:
    mark = " <" if option.count == found.recommended else ""
    return f"{option.count}{' (job)' if option.count == found.job_count else ''}{mark}"


def _fits(option: PanelOption) -> str:
    return {True: "yes", False: "no", None: "?"}[option.fits]


def print_levers(found: LeverDecision, console: Console, *, us_units: bool) -> None:
    """What helps most, what for the money, the best pair; then all levers by effect and by effect
    per money, and those without a place."""
    console.print(plain(found.title), style="bold")
    for text in lever_sentences(found):
        console.print(plain(text, 1000))
    for answer in found.base:
        lowest = drawn_share(answer.lowest_soc.p10, 1)
        text = f"As it is: {answer.trip}: {answer.verdict}, {sure_share(answer)}, lowest {lowest}"
        console.print(plain(text, 400))
    console.print()
    names = [answer.trip for answer in found.base]
    if len(names) > _TRIPS_BESIDE:
        names = ["Worst trip"]
    table = _table("Lever", "Price", "Weight", *names, no_wrap=False)
    for effect in found.effects:
        cost = price(effect.price, found.currency)
        heavy = weight(effect.weight_kg, us_units)
        table.add_row(plain(effect.name), cost, heavy, *_cells(effect))
    console.print(table)
    if found.by_price:
        console.print()
        table = _table("By effect per money", "Price", "Worst trip", no_wrap=False)
        for effect in found.by_price:
            cost = price(effect.price, found.currency)
            table.add_row(plain(effect.name), cost, _gain(effect))
        console.print(table)
    console.print()
    for name, why in found.not_tried:
        console.print(plain(f"Not tried: {name}: {why_not(why)}.", 300))


def _cells(effect: LeverEffect) -> list[str]:
    if effect.fault:
        return [f"cannot be done: {effect.fault}"]
    if effect.changes_nothing:
        return ["changes nothing here"]
    if len(effect.trips) > _TRIPS_BESIDE:
        return [_gain(effect)]
    return [_trip_cell(trip) for trip in effect.trips]


def _trip_cell(trip: TripEffect) -> str:
    """``97.5 % (+13)`` over ``lowest 43 % (+19)``; a gain inside the sampling error has a ~."""
    now = trip.answer
    sure = "" if abs(trip.share_gain) > trip.gain_error else "~"
    return (
        f"{held_share(now)} ({sure}{gain_told(trip.share_gain, now.draws)})\n"
        f"lowest {drawn_share(now.lowest_soc.p10, 1)} ({100 * trip.lowest_gain:+z.0f})"
    )


def _gain(effect: LeverEffect) -> str:
    held, lowest = 100 * effect.share_gain, 100 * effect.lowest_gain
    text = f"{held:+z.1f} points held, {lowest:+z.0f} points lowest"
    fewer = sum(trip.dark_gain for trip in effect.trips)
    # Where no share moves, the dark hours of all trips are what ranks it.
    return text if effect.share_gain or not fewer else f"{text}, {-fewer:+z.1f} h dark in all"


def print_calendar(found: Calendar, console: Console) -> None:
    """Month by month the worst start, by number of panels."""
    console.print(plain(f"{found.title}: {found.trip}, started in every week"), style="bold")
    for text in calendar_sentences(found):
        console.print(plain(text, 1000))
    console.print(
        f"Share of {found.draws} weathers without a dark hour at the month's worst start, by "
        f"number of {found.panel} panels."
    )
    heads = [f"{n}{' (job)' if n == found.job_count else ''}" for n in found.counts]
    table = _table("Month", "The build", *heads, "Ample with")
    for month in found.months:
        worst = found.month_share(month.month)
        table.add_row(
            month_name(month.month),
            month.verdict,
            *(drawn_share(value, 1) for value in worst),
            "more" if month.panels is None else str(month.panels),
        )
    console.print(table)


def _table(*heads: str, no_wrap: bool = True) -> Table:
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="bold")
    for index, head in enumerate(heads):
        table.add_column(plain(head, 60), no_wrap=no_wrap and index == 0, overflow="fold")
    return table
