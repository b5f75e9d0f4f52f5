"""Decisions in the terminal and as JSON, with stable keys."""

from __future__ import annotations

from collections.abc import Sequence
from math import inf
from typing import Any

from rich.console import Console
from rich.table import Table

from sim.decide.calendar import Calendar
from sim.decide.figures import MONTHS, TripFigures, between, percent
from sim.decide.levers.effects import LeverDecision, LeverEffect, TripEffect
from sim.decide.living_rules import NIGHTS, LivingRules
from sim.decide.panels.counts import PanelDecision, PanelOption
from sim.decide.panels.roof_packing import Layout, Rect
from sim.decide.what_if import Grid
from sim.report.terminal.answer import plain
from sim.units import KG_PER_POUND

# So many trips have a column of their own beside the levers.
_TRIPS_BESIDE = 2


def weight(kg: float | None, us_units: bool) -> str:
    """``46 kg`` or ``101 lb``; a dash where it is not known."""
    if kg is None:
        return "–"
    return f"{kg / KG_PER_POUND:.0f} lb" if us_units else f"{kg:.0f} kg"


def price(value: float | None, currency: str) -> str:
    """``USD 570``; a dash where it is not known."""
    return "–" if value is None else f"{currency} {value:,.0f}".strip()


def share(trip: TripFigures) -> str:
    """``97.5 % (94 to 99 %)``: the share of draws that held, and where the true one lies."""
    return f"{percent(trip.ample_share, trip.draws)} ({between(trip.interval)})"


def print_panels(found: PanelDecision, console: Console, *, us_units: bool) -> None:
    """The counts, trip by trip, and the recommendation."""
    console.print(plain(found.title), style="bold")
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
    for index, trip in enumerate(found.options[0].trips):
        console.print()
        console.print(plain(trip.name), style="bold")
        console.print(_panels_of_trip(found, index))
    console.print()
    for text in (found.reason, found.next_panel, found.helps, found.doubt):
        if text:
            console.print(plain(text, 1000))
    if found.fit.note:
        console.print(plain(f"Roof: {found.fit.note}.", 300))


def _panels_of_trip(found: PanelDecision, index: int) -> Table:
    table = _table(
        "Panels", "Verdict", "Weathers without a dark hour", "Lowest", "Dark", "Sun left"
    )
    for option in found.options:
        trip = option.trips[index]
        table.add_row(
            _count(option, found),
            trip.verdict,
            share(trip),
            percent(trip.lowest_soc_p10, 1),
            f"{trip.dark_hours_mean:.1f} h",
            f"{trip.unharvested_wh_per_day:,.0f} Wh/day",
        )
    return table


def _count(option: PanelOption, found: PanelDecision) -> str:
    mark = " <" if option.count == found.recommended else ""
    return f"{option.count}{' (job)' if option.count == found.job_count else ''}{mark}"


def _fits(option: PanelOption) -> str:
    return {True: "yes", False: "no", None: "?"}[option.fits]


def print_levers(found: LeverDecision, console: Console) -> None:
    """The levers by effect, then by effect per money, the best pair, and those without a place."""
    console.print(plain(found.title), style="bold")
    for trip in found.base:
        told = f"As it is: {trip.name}: {trip.verdict}, {share(trip)}, lowest "
        console.print(plain(told + percent(trip.lowest_soc_p10, 1), 400))
    console.print()
    names = [trip.name for trip in found.base]
    if len(names) > _TRIPS_BESIDE:
        names = ["Worst trip"]
    table = _table("Lever", "Price", *names, no_wrap=False)
    for effect in found.effects:
        table.add_row(plain(effect.name), price(effect.price, found.currency), *_cells(effect))
    console.print(table)
    if found.by_price:
        console.print()
        table = _table("By effect per money", "Price", "Worst trip", no_wrap=False)
        for effect in found.by_price:
            cost = price(effect.price, found.currency)
            table.add_row(plain(effect.name), cost, _gain(effect))
        console.print(table)
    console.print()
    if found.best_pair is not None:
        pair = found.best_pair
        told = ", ".join(
            f"{trip.figures.name} {percent(trip.figures.ample_share, trip.figures.draws)}"
            for trip in pair.trips
        )
        cost = f", {price(pair.price, found.currency)}" if pair.price is not None else ""
        console.print(plain(f"Best two together: {pair.name}: {told}{cost}.", 1000))
    for name, why in found.left:
        console.print(plain(f"Not tried: {name}: {why}.", 300))


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
    now = trip.figures
    sure = "" if abs(trip.share_gain) > trip.gain_error else "~"
    return (
        f"{percent(now.ample_share, now.draws)} ({sure}{100 * trip.share_gain:+z.1f})\n"
        f"lowest {percent(trip.figures.lowest_soc_p10, 1)} ({100 * trip.lowest_gain:+z.0f})"
    )


def _gain(effect: LeverEffect) -> str:
    held, lowest = 100 * effect.share_gain, 100 * effect.lowest_gain
    told = f"{held:+z.1f} points held, {lowest:+z.0f} points lowest"
    fewer = sum(trip.dark_gain for trip in effect.trips)
    # Where no share moves, the dark hours of all trips are what ranks it.
    return told if effect.share_gain or not fewer else f"{told}, {-fewer:+z.1f} h dark in all"


def print_calendar(found: Calendar, console: Console) -> None:
    """Month by month the worst start, by number of panels."""
    console.print(plain(f"{found.title}: {found.trip}, started in every week"), style="bold")
    console.print(
        f"Share of {found.draws} weathers without a dark hour at the month's worst start, by "
        f"number of {found.panel} panels."
    )
    heads = [f"{n}{' (job)' if n == found.job_count else ''}" for n in found.counts]
    table = _table("Month", "The build", *heads, "Ample with")
    for month in found.months:
        worst = found.month_share(month.month)
        table.add_row(
            month.name,
            month.verdict,
            *(percent(value, 1) for value in worst),
            "more" if month.panels is None else str(month.panels),
        )
    console.print(table)
    for verdict in ("ample", "tight", "short"):
        names = [month.name for month in found.months if month.verdict == verdict]
        if names:
            console.print(f"{verdict.capitalize()}: {', '.join(names)}.")


def panels_json(found: PanelDecision) -> dict[str, Any]:
    """The panel decision as plain data."""
    return {
        "title": found.title,
        "panel": found.panel,
        "job_count": found.job_count,
        "currency": found.currency or None,
        "options": [
            {
                "count": option.count,
                "fits": option.fits,
                "price": option.price,
                "weight_kg": option.weight_kg,
                "controller_amps": option.controller_amps,
                "trips": [_figures(trip) for trip in option.trips],
            }
            for option in found.options
        ],
        "recommended": found.recommended,
        "runner_up": found.runner_up,
        "reason": found.reason,
        "next_panel": found.next_panel or None,
        "doubt": found.doubt or None,
        "helps": found.helps or None,
        "roof": {
            "most": found.fit.most,
            "note": found.fit.note or None,
            "panels": _rects(found.fit.layout.panels) if found.fit.layout else [],
            "others": _rects(found.fit.others),
            "walkway": _walkway(found.fit.layout),
        },
    }


def _figures(trip: TripFigures) -> dict[str, Any]:
    return {
        "name": trip.name,
        "verdict": trip.verdict,
        "ample_share": trip.ample_share,
        "ample_share_interval": [trip.interval.low, trip.interval.high],
        "lowest_soc_p10": trip.lowest_soc_p10,
        "dark_hours_mean": trip.dark_hours_mean,
        "unharvested_wh_per_day": trip.unharvested_wh_per_day,
    }


def _rects(rects: Sequence[Rect]) -> list[dict[str, Any]]:
    return [
        {
            "name": rect.name,
            "x_m": round(rect.x_m, 4),
            "y_m": round(rect.y_m, 4),
            "length_m": round(rect.length_m, 4),
            "width_m": round(rect.width_m, 4),
        }
        for rect in rects
    ]


def _walkway(layout: Layout | None) -> dict[str, Any] | None:
    return _rects([layout.walkway])[0] if layout and layout.walkway else None


def levers_json(found: LeverDecision) -> dict[str, Any]:
    """The levers as plain data, by effect; `by_price` holds names."""
    return {
        "title": found.title,
        "currency": found.currency or None,
        "base": [_figures(trip) for trip in found.base],
        "levers": [_effect(effect) for effect in found.effects],
        "by_price": [effect.name for effect in found.by_price],
        "best_pair": _effect(found.best_pair) if found.best_pair else None,
        "not_tried": [{"name": name, "why": why} for name, why in found.left],
    }


def _effect(effect: LeverEffect) -> dict[str, Any]:
    per_price = effect.gain_per_price
    return {
        "name": effect.name,
        "own": effect.is_own,
        "price": effect.price,
        "weight_kg": effect.weight_kg,
        "changes_nothing": effect.changes_nothing,
        "fault": effect.fault or None,
        "ample_share_gain": effect.share_gain,
        "lowest_soc_p10_gain": effect.lowest_gain,
        # Free levers have no finite gain per price.
        "gain_per_100": None if per_price is None or per_price == inf else per_price,
        "trips": [
            {
                **_figures(trip.figures),
                "ample_share_gain": trip.share_gain,
                "ample_share_gain_error": trip.gain_error,
                "lowest_soc_p10_gain": trip.lowest_gain,
                "dark_hours_fewer": trip.dark_gain,
            }
            for trip in effect.trips
        ],
    }


def calendar_json(found: Calendar) -> dict[str, Any]:
    """The calendar as plain data."""
    return {
        "title": found.title,
        "trip": found.trip,
        "panel": found.panel,
        "job_count": found.job_count,
        "draws": found.draws,
        "counts": list(found.counts),
        "weeks": [
            {
                "depart": day.isoformat(),
                "ample_share": [float(value) for value in found.ample_share[week]],
                "lowest_soc_p10": [float(value) for value in found.lowest_soc_p10[week]],
                "verdict": [found.verdict(week, k) for k in range(len(found.counts))],
            }
            for week, day in enumerate(found.departs)
        ],
        "months": [
            {
                "month": month.month,
                "verdict": month.verdict,
                "ample_share": month.ample_share,
                "ample_share_interval": [month.interval.low, month.interval.high],
                "panels_for_ample": month.panels,
            }
            for month in found.months
        ],
    }


def living_json(found: LivingRules) -> dict[str, Any]:
    """The living rules as plain data."""
    return {
        "title": found.title,
        "stays": [
            {
                "trip": stay.trip,
                "place": stay.place,
                "month": MONTHS[stay.month - 1],
                "driving_hours_per_day": stay.driving_hours,
                "sentences": list(stay.sentences()),
                "nights": list(NIGHTS),
                "soc_at_sunset": [
                    {
                        "month": rule.month,
                        "parked": list(rule.parked),
                        "driving": list(rule.driving),
                    }
                    for rule in stay.nights
                ],
                "dull_day": [
                    {
                        "month": dull.month,
                        "missing_wh": dull.missing_wh,
                        "drive_hours": dull.drive_hours,
                        "plug_hours": dull.plug_hours,
                    }
                    for dull in stay.dull_days
                ],
            }
            for stay in found.stays
        ],
        "habits": [
            {"name": habit.name, "saving_wh_per_day": habit.saving_wh, "trip": habit.trip}
            for habit in found.habits
        ],
    }


def _table(*heads: str, no_wrap: bool = True) -> Table:
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="bold")
    for index, head in enumerate(heads):
        table.add_column(plain(head, 60), no_wrap=no_wrap and index == 0, overflow="fold")
    return table


def grid_json(found: Grid) -> dict[str, Any]:
    """The what-if grid as plain data: a row for each trip and design, without its charge."""
    cells = [
        {"panels": panels, "batteries": batteries, "more_driving_hours_per_day": hours}
        for panels in found.panels
        for batteries in found.batteries
        for hours in found.driving_hours
    ]
    return {
        "trips": [
            {
                "name": trip.name,
                "designs": [
                    {
                        **cell,
                        "verdict": answer.verdict,
                        "ample_share": answer.ample_share,
                        "lowest_soc_p10": answer.lowest_soc.p10,
                        "dark_hours_mean": float(answer.dark_hours.mean()),
                    }
                    for cell, answer in zip(cells, trip.answers, strict=True)
                ],
            }
            for trip in found.trips
        ]
    }
