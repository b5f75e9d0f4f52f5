"""The short answer in the terminal."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from functools import partial

import numpy as np
from rich.console import Console
from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn
from rich.text import Text

from sim.decide.remedy import Remedy
from sim.job.rules.remarks import Remark
from sim.ledger.answer import Answer, answer_of
from sim.ledger.audit import Audit, audit
from sim.ledger.results import Result, TripResult
from sim.ledger.verdict import Verdict
from sim.report.terminal import cells
from sim.report.terminal.grid import Looks, print_table
from sim.report.terminal.lines import WIDTH, bare, columns, plain, print_prose, wrapped
from sim.report.words.answer_words import (
    bad_low,
    held_briefly,
    held_in_few_words,
    of_a_hundred,
    typical_low,
)
from sim.report.words.numbers import (
    Manner,
    amount,
    counted,
    night_of,
    shortened,
)
from sim.report.words.on_ac import is_overloaded, overload_words
from sim.report.words.on_strings import unharvested_strings
from sim.report.words.promise_words import medical, reasons, remedy_words
from sim.report.words.sentences import change_words, waited_words
from sim.report.words.sources import source_words
from sim.report.words.warmth import pipes_otherwise
from sim.trip.frost import FrostSpot
from sim.trip.tanks import StoreLine
from sim.units import LITRES_PER_GALLON

_Row = tuple[str, Callable[[TripResult], str]]

# So many trips stand side by side in 80 columns.
_SIDE_BY_SIDE = 2
# Below this width labels and cells of a trip do not stand beside one another.
_ROWS_BELOW = 56
# So many appliances are listed one by one, and so many changes between the seasons.
_MOST_ROWS = 16
_MOST_CHANGES = 4
# What the answer of a trip may take.
_ANSWER_LINES = 6
# So many medical devices that go without are named where more would take too much of it.
_NAMED_AT_LEAST = 1
STYLES: dict[Verdict, str] = {"short": "bold red", "tight": "bold yellow", "ample": "bold green"}
# What someone's health depends on comes first and is seen first.
ALARM = "bold white on red"
# What would last longer lasts for years.
_MOST_NIGHTS = 1000.0


def print_result(
    result: Result,
    console: Console,
    remedies: Sequence[Remedy | None] = (),
    *,
    full: bool = True,
) -> None:
    """First the answer of each trip in a few lines; then its figures; `full` with where the
    electricity goes."""
    console.print(plain(result.job.title), style="bold")
    trips = result.trips
    for number, trip in enumerate(trips):
        remedy = remedies[number] if remedies else None
        lines = answer_lines(trip, remedy, Manner(result.job.settings.units), columns(console))
        for line in alarmed(lines, _medical_in(lines, trip)):
            head = not line.plain.startswith(" ")
            console.print(line, style=STYLES[trip.verdict] if head else "")
    console.print()
    beside = _SIDE_BY_SIDE if console.width >= WIDTH else 1
    for first in range(0, len(trips), beside):
        heads, rows = trip_table(trips[first : first + beside], result.job.settings.units)
        print_table(heads, rows, console, Looks(rows_below=_ROWS_BELOW))
    for text in unharvested_strings(result.job, Manner(result.job.settings.units)):
        print_prose([text], console)
    if full:
        print_audit(audit(result), result.job.settings.units, console)


def answer_lines(
    trip: TripResult, remedy: Remedy | None, manner: Manner, width: int = WIDTH
) -> list[str]:
    """Verdict, what holds, why, and what mends it: at most six lines of 80 columns, or the same
    in more lines of fewer."""
    answer, verdict = answer_of(trip), trip.verdict.upper()
    head = f"{verdict}  {shortened(trip.name, 28)}: "
    lines = wrapped(head + held_briefly(answer))
    if len(lines) > 1 and answer.draws > 1:
        counts = held_in_few_words(answer)
        counts = counts if len(head + counts) <= WIDTH else counts.removesuffix(" trips")
        room = WIDTH - len(f"{verdict}  : {counts}")
        lines = [f"{verdict}  {shortened(trip.name, min(room, 28))}: {counts}"]
    why, mends = reasons(trip, manner), _indented(remedy_words(remedy))
    room = _ANSWER_LINES - len(lines) - len(mends)
    # What matters least goes where it is too much; who goes without, and when, as the last.
    few = medical(trip, _NAMED_AT_LEAST)
    ways = [why, *(why[:count] for count in range(len(why) - 1, bool(few), -1))]
    ways += [[few, *why[1:2]], [few]] if few else []
    said = next((way for way in ways if len(_indented(" ".join(way))) <= room), ways[-1])
    first, because = wrapped(" ".join(lines), width), _indented(" ".join(said), width)
    return [*first, *because, *_indented(remedy_words(remedy), width)]


def _medical_in(lines: Sequence[str], trip: TripResult) -> str:
    """What lines of an answer say of medical devices: all of them by name, or as few as fit."""
    said = " ".join(line.strip() for line in lines)
    every = medical(trip)
    return every if " ".join(wrapped(every)) in said else medical(trip, _NAMED_AT_LEAST)


def _indented(text: str, width: int = WIDTH) -> list[str]:
    return [f"  {line}" for line in wrapped(text, width - 2)]


def print_remarks(odd: Sequence[Remark], console: Console) -> None:
    """What is odd in the job, the last thing before the files; nothing where nothing is."""
    if odd:
        console.print("In order, but look at these:")
    print_prose(map(str, odd), console, first="  ", later="  ")


def print_alarm(texts: Iterable[str], console: Console) -> None:
    """On medical devices, before all else."""
    print_prose(texts, console, style=ALARM)


def alarmed(lines: Sequence[str], alarm: str) -> Iterator[Text]:
    """Wrapped lines of which the words of an alarm, wherever these are broken, are in its
    colour."""
    left = " ".join(wrapped(alarm))
    for line in lines:
        text, own = plain(line, 400), line.strip()
        if left and line.startswith(" "):
            length = len(own) if left.startswith(own) else len(left) * own.startswith(left)
            start = len(line) - len(line.lstrip())
            text.stylize(ALARM, start, start + length)
            left = left[length:].lstrip()
        yield text


def print_audit(found: Audit, units: str, console: Console) -> None:
    """Where the electricity goes, the largest first, and what the season changes."""
    lines = []
    for row in found.rows[:_MOST_ROWS]:
        supply = {"inverter": "AC", "converter": "DC"}.get(row.supply, row.supply.upper())
        lines.append((shortened(row.name), supply, *(f"{wh:,.0f}" for wh in row.wh_day)))
    rest = found.rows[_MOST_ROWS:]
    for label, rows in ((f"{len(rest)} smaller ones", rest), ("Together", found.rows)):
        if rows:
            sums = [sum(trip) for trip in zip(*(row.wh_day for row in rows), strict=True)]
            lines.append((label, "", *(f"{wh:,.0f}" for wh in sums)))
    console.print()
    heads = ("Wh a day", "", *(shortened(name) for name in found.trips))
    print_table(heads, lines, console, Looks(figures=range(2, len(heads))))
    if found.changes:
        console.print()
        print_prose([f"{found.warmest} against {found.coldest}:"], console)
    changed = (change_words(change, units) for change in found.changes[:_MOST_CHANGES])
    print_prose(changed, console, first="  ", later="    ")


def trip_table(
    trips: tuple[TripResult, ...], units: str
) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """Trips side by side: verdict, charge, dark hours, the ledger per day, and the tanks."""
    rows = [
        (label, *map(cell, trips))
        for label, cell in (*_ANSWER_ROWS, *_source_rows(trips[0]), *_ENERGY_ROWS)
    ]
    for label, cell, matters in _ROWS_AT_NEED:
        if any(matters(trip) for trip in trips):
            rows.append((label, *map(cell, trips)))
    # Every trip of a job has the same tanks.
    for number, line in enumerate(trips[0].stores):
        lines = [trip.stores[number] for trip in trips]
        size = amount(line, line.capacity, Manner(units))
        rows.append((f"{shortened(line.name, 24)}, {size}", *map(store_words, lines)))
    if any(trip.engine_fuel_l_day for trip in trips):
        rows.append(("From the van's own tank", *(_engine_fuel(x, units) for x in trips)))
    if trips[0].stores:
        rows.append(("First to run out", *map(first_words, trips)))
    heads = ("", *(shortened(trip.name, 60) for trip in trips))
    return heads, rows


def store_words(line: StoreLine) -> str:
    """How long a tank lasts: when it gives out on the trip, and for how many hours; else how
    little is left, and how long that would last after the trip, used as on it."""
    grey = line.kind == "grey"
    gone = np.isfinite(line.out_at_h)
    if gone.any():
        often = "" if line.out_share > 0.995 else f" in {cells.often(line.out_share, len(gone))}"
        night = night_of(float(np.median(line.out_at_h[gone])) / 24.0)
        lack = f"{line.short_h[gone].mean():.0f} h {'without room' if grey else 'short'}"
        return f"{'full' if grey else 'empty'} on night {night}{often}, then {lack}"
    nights = float(line.nights_until.min())
    if not np.isfinite(nights):
        return "not used"
    level = "at most" if grey else "at least"
    lasts = "for years" if nights >= _MOST_NIGHTS else counted(int(nights), "night")
    return f"{level} {_percent(line.worst_share)} full, would last {lasts}"


def first_words(trip: TripResult) -> str:
    """What runs out first, and in how many simulated trips."""
    first = trip.first_out
    if first.name is None or first.at_h is None:
        return "nothing"
    word = "full" if first.store == "grey" else "empty"
    night = night_of(first.at_h / 24.0)
    often = ""
    if trip.draws > 1 and round(first.share * trip.draws):
        often = f" (first in {cells.often(first.share, trip.draws, years=bool(trip.years))})"
    return f"{first.name} {word} on night {night}{often}"


def _percent(share: float) -> str:
    return f"{100 * share:.0f} %"


def _verdict(trip: TripResult) -> str:
    share = trip.share_without_dark
    if trip.draws == 1:
        dark = "no dark hour" if share == 1.0 else "dark hours"
        return f"{trip.verdict.upper()}: {dark} in the weather computed"
    without = round(share * trip.draws)
    word = "years" if trip.years else "simulated trips"
    return f"{trip.verdict.upper()}: {without:,} of {trip.draws:,} {word} without a dark hour"


def _bad_low(answer: Answer) -> str:
    low, note = bad_low(answer)
    return bare(f"{low}, {note}" if note else low)


def _dark(trip: TripResult) -> str:
    if not trip.dark_hours.any():
        return "none"
    answer = answer_of(trip)
    return (
        f"{cells.hours(answer.dark_hours.mean)} mean, {cells.hours(answer.bad.dark_hours)} bad case"
    )


def _dark_by_priority(trip: TripResult) -> str:
    hours = {name: mean for name, mean in trip.dark_by_priority().items() if mean >= 0.05}
    parts = ", ".join(f"{name} {mean:.1f} h" for name, mean in hours.items())
    return parts or ("under 0.1 h" if trip.dark_hours.any() else "none")


def _warm_boxes(trip: TripResult) -> str:
    parts = [
        f"{box.name} {cells.hours(float(box.warm_hours.mean()))}"
        for box in trip.boxes
        if box.warm_hours.any()
    ]
    return ", ".join(parts) or "never"


def _chill(trip: TripResult) -> str:
    hours = trip.chill.hours
    return cells.mean_and_tenth(hours)


def _has_wet_windows(trip: TripResult) -> bool:
    return float(trip.damp_hours.mean()) >= 1.0


def _has_snow(trip: TripResult) -> bool:
    return trip.snowed_wh_day >= 1.0


def _uncharged(trip: TripResult) -> str:
    parts = [
        f"{name} {cells.per_day(wh)}" for name, wh in trip.uncharged_wh_day.items() if wh >= 1.0
    ]
    return ", ".join(parts) or "nothing"


def _lacks_hot_water(trip: TripResult) -> bool:
    return trip.hot_short_wh_day >= 1.0


def _frost(trip: TripResult) -> str:
    """Each place with its hours, and the habit that would keep it from freezing."""
    parts = [
        f"{spot.name} {_freezing(spot)}, {spot.habit}"
        for spot in trip.frost.spots
        if spot.habit is not None
    ]
    if (otherwise := pipes_otherwise(trip)) is not None:
        parts.append(otherwise)
    return "; ".join(parts) or "nothing"


def _freezing(spot: FrostSpot) -> str:
    """For how long it could freeze, in how many simulated trips where that is not all."""
    freezes = spot.hours > 0.0
    often = "" if freezes.all() else f" in {cells.often(freezes.mean(), len(freezes))}"
    mean = float(spot.hours[freezes].mean())
    return f"{f'{mean:.0f} h' if mean >= 1.0 else cells.hours(mean)}{often}"


def _could_freeze(trip: TripResult) -> bool:
    return any(x.hours.any() for x in trip.frost.spots) or pipes_otherwise(trip) is not None


def _winterise(trip: TripResult) -> str:
    stays = [trip.timeline.stays[stop].label for stop in trip.frost.winterise]
    return ", ".join(dict.fromkeys(stays)) or "no leg"


def _engine_fuel(trip: TripResult, units: str) -> str:
    """What each heater burns of the fuel the van drives on."""
    unit, litres = ("gal", LITRES_PER_GALLON) if units == "us" else ("L", 1.0)
    parts = [
        f"{name} {burnt / litres:.2f} {unit} a day"
        for name, burnt in trip.engine_fuel_l_day.items()
    ]
    return ", ".join(parts) or "nothing"


def _source_rows(trip: TripResult) -> Iterator[_Row]:
    """A row for each kind of source; all trips have the job's."""
    for kind in trip.energy.taken:
        yield f"In: {source_words(kind).flow}", partial(_taken, kind)


def _taken(kind: str, trip: TripResult) -> str:
    return cells.per_day(trip.energy.taken[kind])


_ANSWER_ROWS: tuple[_Row, ...] = (
    ("Answer", _verdict),
    ("Of 100 such trips", lambda trip: of_a_hundred(answer_of(trip)) or "too few to say"),
    ("Lowest charge, typical", lambda trip: bare(typical_low(answer_of(trip)))),
    ("Lowest charge, bad case", lambda trip: _bad_low(answer_of(trip))),
    ("Dark hours", _dark),
)
_ENERGY_ROWS: tuple[_Row, ...] = (
    ("Out: appliances", lambda trip: cells.per_day(trip.energy.served)),
    ("Out: battery losses", lambda trip: cells.per_day(trip.energy.losses)),
    ("Wanted, not served", lambda trip: cells.per_day(trip.energy.unserved)),
    ("Sun not harvested", lambda trip: cells.per_day(trip.energy.unharvested)),
)
# Rows that stand there only when some trip has anything to tell.
_ROWS_AT_NEED: tuple[tuple[str, Callable[[TripResult], str], Callable[[TripResult], bool]], ...] = (
    ("Dark by priority", _dark_by_priority, lambda trip: bool(trip.dark_hours.any())),
    ("Warm refrigerator", _warm_boxes, lambda trip: any(x.warm_hours.any() for x in trip.boxes)),
    ("Colder than set", _chill, lambda trip: bool(trip.chill.hours.any())),
    ("Wet windows", lambda trip: cells.mean_and_tenth(trip.damp_hours), _has_wet_windows),
    ("Under snow: sun", lambda trip: cells.per_day(trip.snowed_wh_day), _has_snow),
    ("Not charged", _uncharged, lambda trip: any(x >= 1.0 for x in trip.uncharged_wh_day.values())),
    (
        "Held to the charge",
        lambda trip: "; ".join(waited_words(trip)) or "nothing",
        lambda trip: bool(waited_words(trip)),
    ),
    ("Hot water short", lambda trip: cells.per_day(trip.hot_short_wh_day), _lacks_hot_water),
    ("Too much on AC", overload_words, is_overloaded),
    ("Could freeze", _frost, _could_freeze),
    ("Winterise before", _winterise, lambda trip: bool(trip.frost.winterise)),
)


@contextmanager
def progress_bar(what: str) -> Iterator[Callable[[float], None]]:
    """A bar on stderr, shown when stderr is a terminal; yields a function of the share done."""
    console = Console(stderr=True)
    bar = Progress(
        TextColumn("{task.description}"),
        BarColumn(bar_width=30),
        TextColumn("{task.percentage:>3.0f} %"),
        TimeRemainingColumn(),
        console=console,
        transient=True,
        disable=not console.is_terminal,
    )
    with bar:
        task = bar.add_task(what, total=1.0)
        yield lambda done: bar.update(task, completed=done)
