"""What changed, in lines for the terminal and as plain data."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from dataclasses import asdict
from typing import Any

from sim.decide.compare import Comparison, KeyChange, TripChange, TripFigures
from sim.job.model.fields import DAY_MINUTES, window_text
from sim.report.words.numbers import GAP, percent

_WIDTH = 79
_PARTS = (
    ("build", "In the build"),
    ("travelling", "In the travelling"),
    ("settings", "In the settings"),
)
# Two runs whose charge differs by less are the same.
_NO_MORE_THAN = 0.005


def comparison_lines(found: Comparison) -> Iterator[str]:
    """The answer trip by trip, then what changed in the job."""
    for trip in found.trips:
        yield from textwrap.wrap(_trip(trip).replace(GAP, " "), _WIDTH, subsequent_indent="  ")
    for part, heading in _PARTS:
        changes = [change for change in found.keys if change.part == part]
        if not changes and part != "settings":
            yield f"{heading}: nothing changed."
        elif changes:
            yield f"{heading}:"
        for change in changes:
            text = f"{change.key}: {value_words(change, 'old')} -> {value_words(change, 'new')}"
            yield from textwrap.wrap(text, _WIDTH, initial_indent="  ", subsequent_indent="    ")
    if found.old.program != found.new.program:
        yield (
            f"The program changed too, {found.old.program} -> {found.new.program}: part of a "
            "difference may be its own."
        )


def _trip(change: TripChange) -> str:
    old, new = change.old, change.new
    if old is None:
        return f"{change.name}: new, {_figures(new)}."
    if new is None:
        return f"{change.name}: gone; it was {_figures(old)}."
    if _same(old, new):
        return f"{change.name}: {new.verdict} as before, {_held(new)}."
    verdicts = (
        f"{old.verdict} -> {new.verdict}"
        if old.verdict != new.verdict
        else f"{new.verdict} as before"
    )
    return (
        f"{change.name}: {verdicts}; {_kept(old)} of {old.draws} -> {_held(new)}; bad case down to "
        f"{percent(old.lowest_soc[0])} -> {percent(new.lowest_soc[0])}; dark "
        f"{old.dark_hours:.1f} -> {new.dark_hours:.1f} h."
    )


def _same(old: TripFigures, new: TripFigures) -> bool:
    lows = zip(old.lowest_soc, new.lowest_soc, strict=True)
    counts = [(trip.verdict, trip.held, _kept(trip), trip.draws) for trip in (old, new)]
    return counts[0] == counts[1] and all(abs(was - now) < _NO_MORE_THAN for was, now in lows)


def _figures(trip: TripFigures | None) -> str:
    if trip is None:
        return "unknown"
    return f"{trip.verdict}, {_held(trip)}, bad case down to {percent(trip.lowest_soc[0])}"


def _held(trip: TripFigures) -> str:
    return f"{_kept(trip)} of {trip.draws} simulated trips hold"


def _kept(trip: TripFigures) -> int:
    """Simulated trips that held in everything, or in their electricity where no more is known."""
    return trip.held if trip.all_held is None else trip.all_held


def value_words(change: KeyChange, side: str) -> str:
    """A value as a job file writes it."""
    return _value_words(change.key.rpartition(".")[2], getattr(change, side))


def _value_words(key: str, value: Any) -> str:
    if value is None:
        return "none"
    if isinstance(value, bool):
        return "true" if value else "false"
    if key.endswith("_at") and isinstance(value, int) and 0 <= value <= DAY_MINUTES:
        return f"{value // 60:02d}:{value % 60:02d}"
    if isinstance(value, list):
        pairs = [x for x in value if isinstance(x, list) and len(x) == 2]
        if pairs and len(pairs) == len(value):
            return ", ".join(window_text((int(start), int(end))) for start, end in pairs)
        return ", ".join(_value_words(key, item) for item in value) or "none"
    return f"{value:g}" if isinstance(value, float) else str(value)


def comparison_json(found: Comparison) -> dict[str, Any]:
    """What changed as plain data, with stable keys."""

    def changed(part: str) -> list[dict[str, Any]]:
        return [{"key": x.key, "old": x.old, "new": x.new} for x in found.keys if x.part == part]

    return {
        "program": {"old": found.old.program, "new": found.new.program},
        **{part: changed(part) for part, _ in _PARTS},
        "trips": [
            {"name": trip.name, "old": _plain(trip.old), "new": _plain(trip.new)}
            for trip in found.trips
        ],
    }


def _plain(trip: TripFigures | None) -> dict[str, Any] | None:
    if trip is None:
        return None
    values = asdict(trip)
    low, middle, high = values.pop("lowest_soc")
    p10, p50, p90 = values.pop("soc")
    times = values.pop("times")
    return {
        **values,
        "lowest_soc": {"p10": low, "p50": middle, "p90": high},
        "series": {"time": times, "soc_p10": p10, "soc_p50": p50, "soc_p90": p90},
    }
