"""What changed, in lines for the terminal and as plain data."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import asdict
from typing import Any

from sim.decide.compare import Comparison, KeyChange, TripChange, TripFigures
from sim.job.model.fields import DAY_MINUTES, window_text
from sim.report.words.answer_words import going_without
from sim.report.words.numbers import called, percent, quoted, whole
from sim.report.words.sources import source_words

PARTS = (
    ("build", "In the build"),
    ("travelling", "In the travelling"),
    ("settings", "In the settings"),
)
# A part of a key, and which one of a list.
_KEY_PART = re.compile(r"([a-z_0-9]+)(?:\[(.*?)\])?(?:\.|$)")
_ONE = {"panels": "panel group", "batteries": "battery"}
# What became of the energy; the rest of its entries are sources.
_ENDS = {
    "served": "Used",
    "unserved": "Wanted and not served",
    "losses": "Lost",
    "unharvested": "Sun not taken",
}
# Two runs whose charge differs by less are the same.
_NO_MORE_THAN = 0.005


def comparison_lines(found: Comparison) -> Iterator[str]:
    """The answer trip by trip, then what changed in the job."""
    for trip in found.trips:
        yield trip_sentence(trip)
    for part, heading in PARTS:
        changes = [change for change in found.keys if change.part == part]
        if not changes and part != "settings":
            yield f"{heading}: nothing changed."
        elif changes:
            yield f"{heading}:"
        for change in changes:
            yield f"  {change.key}: {value_words(change, 'old')} -> {value_words(change, 'new')}"
    if (program := program_sentence(found)) is not None:
        yield program


def program_sentence(found: Comparison) -> str | None:
    """That the program changed too, if it did."""
    if found.old.program == found.new.program:
        return None
    return (
        f"The program changed too, {found.old.program} -> {found.new.program}: part of a "
        "difference may be its own."
    )


def trip_sentence(change: TripChange) -> str:
    old, new, name = change.old, change.new, called(change.name)
    if old is None:
        return f"{name}: new, {_figures(new)}."
    if new is None:
        return f"{name}: gone; it was {_figures(old)}."
    if _same(old, new):
        return f"{name}: {new.verdict} as before, {_held(new)}."
    verdicts = (
        f"{old.verdict} -> {new.verdict}"
        if old.verdict != new.verdict
        else f"{new.verdict} as before"
    )
    return (
        f"{name}: {verdicts}; {_kept(old):,} of {old.draws:,} -> {_held(new)}; "
        f"1 in 10 down to {percent(old.lowest_soc[0])} -> {percent(new.lowest_soc[0])}; dark "
        f"{old.dark_hours:.1f} -> {new.dark_hours:.1f} h."
    )


def medical(found: Comparison) -> Iterator[str]:
    """Medical devices that go without on a trip as it is now, a sentence each."""
    for trip in found.trips:
        if text := medical_sentence(trip):
            yield text


def medical_sentence(change: TripChange) -> str:
    """Medical devices that go without on a trip as it is now, and how often before; empty where
    none does."""
    old, new = change.old, change.new
    if new is None or not new.medical:
        return ""
    before = ""
    if old is not None and old.medical_dark is not None:
        before = f"; before, in {old.medical_dark:,} of {old.draws:,}"
    return (
        f"{going_without(new.medical)} in {new.medical_dark:,} of {new.draws:,} simulated trips of "
        f"{quoted(change.name)}{before}."
    )


def _same(old: TripFigures, new: TripFigures) -> bool:
    lows = zip(old.lowest_soc, new.lowest_soc, strict=True)
    counts = [
        (trip.verdict, trip.held, _kept(trip), trip.draws, trip.medical_dark or 0)
        for trip in (old, new)
    ]
    return counts[0] == counts[1] and all(abs(was - now) < _NO_MORE_THAN for was, now in lows)


def _figures(trip: TripFigures | None) -> str:
    if trip is None:
        return "unknown"
    return f"{trip.verdict}, {_held(trip)}, 1 in 10 down to {percent(trip.lowest_soc[0])}"


def _held(trip: TripFigures) -> str:
    return f"{_kept(trip):,} of {trip.draws:,} simulated trips hold"


def _kept(trip: TripFigures) -> int:
    """Simulated trips that held in everything, or in their electricity where no more is known."""
    return trip.held if trip.all_held is None else trip.all_held


def key_words(key: str) -> str:
    """A key as a reader meets it: ``trips[Weekend].stops[1].drive_hours`` as ``Trip Weekend, stop
    1: drive_hours``, its last part as the job file has it."""
    parts = _KEY_PART.findall(key)
    words = [f"{_ONE.get(name, name.removesuffix('s'))} {item}" if item else name
             for name, item in parts]  # fmt: skip
    *places, last = words
    head = ", ".join(places)
    return f"{head[:1].upper()}{head[1:]}: {last}" if places else f"{last[:1].upper()}{last[1:]}"


def change_sentence(change: TripChange) -> str:
    """What became of one trip, for the page, which names it above."""
    old, new = change.old, change.new
    if old is None:
        return f"A new trip: {_figures(new)}."
    if new is None:
        return f"This trip is gone. It was {_figures(old)}."
    if _same(old, new):
        return f"As before: {_figures(new)}."
    verdict = (
        f"It was {old.verdict} and is {new.verdict} now."
        if old.verdict != new.verdict
        else f"It is {new.verdict}, as before."
    )
    return (
        f"{verdict} Everything holds in {_kept(new):,} of {new.draws:,} simulated trips; before, "
        f"it was {_kept(old):,} of {old.draws:,}. In one of ten the charge falls to "
        f"{percent(new.lowest_soc[0])}; before, to {percent(old.lowest_soc[0])}."
    )


def answer_rows(old: TripFigures, new: TripFigures) -> tuple[tuple[str, ...], ...]:
    """What became of a trip, before and now: a name and two figures a row."""
    both = (old, new)
    rows: list[tuple[str, ...]] = [
        ("Verdict", old.verdict, new.verdict),
        ("Simulated trips that hold", *(f"{_kept(x):,} of {x.draws:,}" for x in both)),
        ("Lowest charge, 1 in 10", *(percent(x.lowest_soc[0]) for x in both)),
        ("Lowest charge, typical trip", *(percent(x.lowest_soc[1]) for x in both)),
        ("Dark hours, mean", *(f"{x.dark_hours:.1f}" for x in both)),
    ]
    for kind in dict.fromkeys((*old.energy_wh_day, *new.energy_wh_day)):
        name = _ENDS.get(kind) or source_words(kind).head
        figures = (x.energy_wh_day.get(kind) for x in both)
        shown = ("–" if value is None else whole(value) for value in figures)
        rows.append((f"{name}, Wh a day", *shown))
    return tuple(rows)


def chart_caption(old: TripFigures, new: TripFigures) -> str:
    """What the two curves of a trip say."""
    was, now = old.lowest_soc[1], new.lowest_soc[1]
    half = f"In half of the simulated trips the charge falls to {percent(now)} or lower"
    if abs(now - was) < _NO_MORE_THAN:
        moved = f"{half}, as before."
    else:
        moved = (
            f"{half}; before, to {percent(was)}, which is {_points(now - was)} "
            f"{'lower' if now > was else 'higher'}."
        )
    return (
        f"{moved} Full line: now, with the band of eight simulated trips in ten. Broken line: "
        "before; below the dotted one lies one simulated trip in ten of then."
    )


def _points(share: float) -> str:
    points = f"{abs(100.0 * share):.0f}"
    return f"{points} point{'' if points == '1' else 's'}"


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
        **{part: changed(part) for part, _ in PARTS},
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
