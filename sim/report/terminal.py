"""The short answer in the terminal."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager

import numpy as np
from rich.console import Console
from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn
from rich.table import Table
from rich.text import Text

from sim.ledger.results import Result, TripResult
from sim.ledger.stores import StoreLine

# So many trips stand side by side in 80 columns.
_SIDE_BY_SIDE = 2
_LABEL_WIDTH = 25


def plain(text: str, limit: int = 200) -> Text:
    """User text for the terminal: no markup, no control characters, not endless."""
    clean = "".join(char if char.isprintable() else "�" for char in text[: limit + 1])
    return Text(clean if len(clean) <= limit else clean[: limit - 1] + "…")


def print_result(result: Result, console: Console) -> None:
    """The answer per trip in a short table."""
    console.print(plain(result.job.title), style="bold")
    trips = result.trips
    for first in range(0, len(trips), _SIDE_BY_SIDE):
        console.print(trip_table(trips[first : first + _SIDE_BY_SIDE]))


def trip_table(trips: tuple[TripResult, ...]) -> Table:
    """Trips side by side: verdict, charge, dark hours and the ledger per day."""
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="bold")
    table.add_column("", min_width=_LABEL_WIDTH, no_wrap=True)
    for trip in trips:
        table.add_column(plain(trip.name, 60), justify="left", overflow="fold")
    for label, cell in _ROWS:
        table.add_row(label, *(cell(trip) for trip in trips))
    # Every trip of a job has the same tanks.
    for number, line in enumerate(trips[0].stores):
        lines = [trip.stores[number] for trip in trips]
        table.add_row(plain(line.name, 40), *map(store_words, lines))
    if trips[0].stores:
        table.add_row("First to run out", *(plain(first_words(trip)) for trip in trips))
    return table


def store_words(line: StoreLine) -> str:
    """How long a tank lasts: on the trip if it gives out, else how much longer than the trip."""
    word = "full" if line.kind == "grey" else "empty"
    nights = line.nights_until
    p10, p50 = (float(np.quantile(nights, q, method="lower")) for q in (0.1, 0.5))
    if line.out_share > 0.0:
        often = "" if line.out_share > 0.995 else f" in {_percent(line.out_share)} of weathers"
        bad = "" if night_of(p10) == night_of(p50) else f", night {night_of(p10)} in the bad case"
        return f"{word} on night {night_of(p50)}{often}{bad}"
    if not np.isfinite(p10):
        return "not used"
    return f"lasts {min(int(p10), 999)} nights"


def night_of(nights: float) -> int:
    """Number of the night, from 1, before which a time falls. [nights from departure]"""
    return int(nights) + 1


def first_words(trip: TripResult) -> str:
    """What runs out first, and in how many weathers."""
    first = trip.first_out
    if first.name is None or first.at_h is None:
        return "nothing"
    word = "full" if first.store == "grey" else "empty"
    night = night_of(first.at_h / 24.0)
    return f"{first.name} {word} on night {night} ({_percent(first.share)} of weathers)"


def _percent(share: float) -> str:
    return f"{100 * share:.0f} %"


def _verdict(trip: TripResult) -> str:
    share = trip.share_without_dark
    held = round(share * trip.draws)
    return f"{trip.verdict.upper()}: {held} of {trip.draws} weathers without a dark hour"


def _dark(trip: TripResult) -> str:
    dark = trip.dark_hours
    return f"{dark.mean():.1f} h mean, {np.quantile(dark, 0.9):.0f} h bad case"


def _per_day(watt_hours: float) -> str:
    return f"{watt_hours:,.0f} Wh a day"


_ROWS: tuple[tuple[str, Callable[[TripResult], str]], ...] = (
    ("Answer", _verdict),
    ("Lowest charge, median", lambda trip: _percent(trip.lowest_soc.p50)),
    ("Lowest charge, bad case", lambda trip: _percent(trip.lowest_soc.p10)),
    ("Dark hours", _dark),
    ("In: sun", lambda trip: _per_day(trip.energy.sun)),
    ("In: driving", lambda trip: _per_day(trip.energy.drive)),
    ("In: plug", lambda trip: _per_day(trip.energy.shore)),
    ("Out: appliances", lambda trip: _per_day(trip.energy.served)),
    ("Out: battery losses", lambda trip: _per_day(trip.energy.losses)),
    ("Wanted, not served", lambda trip: _per_day(trip.energy.unserved)),
    ("Sun not harvested", lambda trip: _per_day(trip.energy.unharvested)),
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
