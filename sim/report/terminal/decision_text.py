"""Decisions in the terminal: the answer, then a table of counts; with `full` what experts ask."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Console

from sim.decide.calendar import Calendar
from sim.decide.levers.effect import LeverDecision, LeverEffect
from sim.decide.panels.choice import PanelOption
from sim.decide.panels.counts import PanelDecision
from sim.ledger.answer import Answer
from sim.report.terminal.answer import STYLES, print_alarm
from sim.report.terminal.grid import print_table
from sim.report.terminal.lines import plain, print_prose
from sim.report.words import calendar_words, lever_words, panel_words
from sim.report.words.answer_words import counts_cell, counts_legend, held_briefly, sure_words
from sim.report.words.numbers import (
    cost_words,
    drawn_share,
    month_name,
    price,
    shortened,
    weight,
)

# So many trips have a column of their own.
_TRIPS_BESIDE = 2
# Changes that help less are listed with --full.
_MOST_LEVERS = 10
_NAME = 26


def print_panels(
    found: PanelDecision, console: Console, *, us_units: bool, full: bool = False
) -> None:
    """The recommendation; then the counts of panels with what holds on each trip."""
    console.print(plain(found.title), style="bold")
    print_alarm([panel_words.medical(found)], console)
    texts = panel_words.panel_sentences(found)
    note = panel_words.roof_note(found.fit)
    print_prose((*texts, *((f"Roof: {note}.",) if note else ())), console)
    console.print()
    answers = found.options[0].trips
    print_prose([counts_legend([x for o in found.options for x in o.trips])], console)
    several = len(answers) > _TRIPS_BESIDE
    names = ["Worst trip"] if several else [shortened(x.trip, _NAME) for x in answers]
    rows = []
    for option in found.options:
        shown = [option.worst] if several else option.trips
        cells = [f"{answer.verdict} {counts_cell(answer)}" for answer in shown]
        cost = price(option.price, found.currency), weight(option.weight_kg, us_units)
        rows.append((_count(option, found), _fits(option), *cost, *cells))
    print_table((f"Panels of {found.panel}", "Fits", "Price", "Weight", *names), rows, console)
    if not full:
        return
    console.print()
    print_prose(panel_words.sure_sentences(found), console)
    print_table(
        ("Panels", "Controller"),
        [(_count(option, found), f"{option.controller_amps:g} A") for option in found.options],
        console,
    )
    for index, answer in enumerate(answers):
        console.print()
        console.print(plain(answer.trip), style="bold")
        _print_panels_of_trip(found, index, console)


def _print_panels_of_trip(found: PanelDecision, index: int, console: Console) -> None:
    rows = []
    for option in found.options:
        answer = option.trips[index]
        rows.append(
            (
                _count(option, found),
                sure_words(answer),
                drawn_share(answer.bad.lowest_soc, 1),
                f"{answer.dark_hours.mean:.1f} h",
                f"{answer.unharvested_wh_per_day:,.0f} Wh/day",
            )
        )
    heads = ("Panels", "Without a dark hour", "Lowest", "Dark", "Sun left over")
    print_table(heads, rows, console)


def _count(option: PanelOption, found: PanelDecision) -> str:
    mark = " <" if option.count == found.recommended else ""
    return f"{option.count}{' (job)' if option.count == found.job_count else ''}{mark}"


def _fits(option: PanelOption) -> str:
    return {True: "yes", False: "no", None: "?"}[option.fits]


def print_levers(
    found: LeverDecision, console: Console, *, us_units: bool, full: bool = False
) -> None:
    """What is enough or comes nearest; the trips as they are; then the changes, the best first."""
    console.print(plain(found.title), style="bold")
    print_alarm([lever_words.medical(found)], console)
    print_prose(lever_words.lever_sentences(found), console)
    console.print()
    _print_trips(found.base, console)
    useful = [x for x in found.effects if x.trips and not x.changes_nothing]
    shown = found.effects if full else useful[:_MOST_LEVERS]
    if shown:
        console.print()
        print_prose([counts_legend([x.answer for e in shown for x in e.trips] or found.base)],
                     console)  # fmt: skip
        _print_levers_table(found, shown, console, us_units=us_units)
    left = len(found.effects) - len(shown)
    if left:
        print_prose([f"{left} more that help less, or not at all: --full."], console)
    if full:
        _print_levers_in_full(found, console)


def _print_levers_table(
    found: LeverDecision, shown: Sequence[LeverEffect], console: Console, *, us_units: bool
) -> None:
    several = len(found.base) > _TRIPS_BESIDE
    names = ["Worst trip"] if several else [shortened(x.trip, _NAME) for x in found.base]
    rows = []
    for effect in shown:
        cells = _cells(effect, several=several)
        # What cannot be done says so once.
        cells += [""] * (len(names) - len(cells))
        heavy = weight(effect.weight_kg, us_units)
        rows.append((effect.name, cost_words(effect.price, found.currency), heavy, *cells))
    print_table(("One change", "Price", "Weight", *names), rows, console)


def _cells(effect: LeverEffect, *, several: bool) -> list[str]:
    if effect.fault:
        return [f"cannot be done: {effect.fault}"]
    if effect.changes_nothing:
        return ["changes nothing here"]
    if not several:
        return [lever_words.trip_cell(trip) for trip in effect.trips]
    worst = min(effect.trips, key=lambda x: x.answer.rank)
    spoilt = [shortened(x.answer.trip, _NAME) for x in effect.trips if x.is_worse]
    cell = lever_words.trip_cell(worst)
    return [f"{cell}\nmakes worse: {', '.join(spoilt)}" if spoilt else cell]


def _print_levers_in_full(found: LeverDecision, console: Console) -> None:
    console.print()
    print_prose(lever_words.sure_sentences(found), console)
    console.print()
    if len(found.base) <= _TRIPS_BESIDE:
        print_table(
            ("Without a dark hour", *(shortened(x.trip, _NAME) for x in found.base)),
            [
                (effect.name, *map(lever_words.full_cell, effect.trips))
                for effect in found.effects
                if effect.trips and not effect.changes_nothing
            ],
            console,
        )
        console.print()
    if found.by_price:
        print_table(
            ("By effect per money", "Price"),
            [(x.name, cost_words(x.price, found.currency)) for x in found.by_price],
            console,
        )
        console.print()
    print_prose(
        (f"Not tried: {name}: {lever_words.why_not(why)}." for name, why in found.not_tried),
        console,
    )


def _print_trips(answers: Sequence[Answer], console: Console) -> None:
    console.print("As it is:")
    for answer in answers:
        name = shortened(answer.trip, 28)
        text = f"{answer.verdict.upper()}  {name}: {held_briefly(answer)}"
        print_prose([text], console, first="  ", later="  ", style=STYLES[answer.verdict])


def print_calendar(found: Calendar, console: Console, *, full: bool = False) -> None:
    """Month by month the worst start of the build; with `full` by number of panels."""
    console.print(plain(f"{found.title}: {shortened(found.trip)}"), style="bold")
    print_alarm([calendar_words.medical(found)], console)
    print_prose(calendar_words.calendar_sentences(found), console)
    console.print()
    print_prose([calendar_words.calendar_legend(found)], console)
    rows = []
    for month in found.months:
        worst = month.worst
        held = map(str, (worst.essentials_held, worst.comforts_held, worst.all_held))
        name, needed = month_name(month.month), calendar_words.panels_needed(month, found)
        rows.append((name, month.verdict, *held, needed))
    heads = ("Month", "Verdict", "Essentials", "Comforts", "Everything", "Panels needed")
    print_table(heads, rows, console)
    if not full:
        return
    console.print()
    print_prose(calendar_words.sure_sentences(found), console)
    console.print()
    print_prose(
        [
            f"Of {found.draws:,}, without a dark hour at the month's worst start, by number of "
            f"{f'{found.panel} panels' if found.panel else 'panels'}:"
        ],
        console,
    )
    counts = (f"{n}{' (job)' if n == found.job_count else ''}" for n in found.counts)
    rows = [
        (month_name(month.month), *map(str, found.month_held(month.month)))
        for month in found.months
    ]
    print_table(("Month", *counts), rows, console)
