"""What changed between two states of a job: in the build, in the travelling, in the answer."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from sim.ledger.answer import answer_of
from sim.ledger.results import Result, TripResult
from sim.ledger.verdict import Verdict

Part = Literal["build", "travelling", "settings"]
_PARTS: dict[str, Part] = {"living": "travelling", "trips": "travelling", "settings": "settings"}
# Whose it is, and what might be tried, is no part of what is compared.
_APART = ("title", "customer", "levers", "designs", "prices", "handover", "log")
_PLACE_KEYS = {"name", "region", "country", "latitude", "longitude"}


@dataclass(frozen=True)
class TripFigures:
    """The figures of a trip that a promise keeps.

    Attributes
    ----------
    name : str
    verdict : str
    held, draws : int
        Draws without a dark hour, of so many.
    lowest_soc : tuple of 3 floats
        10 %, median and 90 % of the draws. 0 to 1
    dark_hours : float
        Mean over draws. [h]
    energy_wh_day : dict
        What each kind of source brought, and what became of it. [Wh/day]
    times : tuple of str
        Local, ISO 8601 with offset; one for each point of `soc`.
    soc : tuple of 3 tuples of float
        Charge: 10 %, median and 90 % of the draws. 0 to 1
    all_held : int or None
        Draws in which everything held that is promised; None in a promise that does not say it.
    medical : tuple of str
        Medical devices that went without in any draw.
    medical_dark : int or None
        Draws in which they did; None in a promise that does not say it.
    """

    name: str
    verdict: Verdict
    held: int
    draws: int
    lowest_soc: tuple[float, float, float]
    dark_hours: float
    energy_wh_day: dict[str, float]
    times: tuple[str, ...]
    soc: tuple[tuple[float, ...], ...]
    all_held: int | None = None
    medical: tuple[str, ...] = ()
    medical_dark: int | None = None


@dataclass(frozen=True)
class State:
    """A job as it was resolved, and what came of it.

    Attributes
    ----------
    job : dict
        As plain data, profiles merged in.
    trips : tuple of TripFigures
    program : str
        Version of the program.
    """

    job: Mapping[str, Any]
    trips: tuple[TripFigures, ...]
    program: str


@dataclass(frozen=True)
class KeyChange:
    """A key whose value changed.

    Attributes
    ----------
    part : str
        "build", "travelling" or "settings".
    key : str
        Such as ``battery.count`` or ``appliances[Television]``.
    old, new : object
        Plain values; None for none. A thing that came or went has its name.
    """

    part: Part
    key: str
    old: Any
    new: Any


@dataclass(frozen=True)
class TripChange:
    """One trip before and after; None where it was not there."""

    name: str
    old: TripFigures | None
    new: TripFigures | None


@dataclass(frozen=True)
class Comparison:
    """What changed; see `compare`."""

    old: State
    new: State
    keys: tuple[KeyChange, ...]
    trips: tuple[TripChange, ...]


def state_of(result: Result, program: str) -> State:
    """A result as the state of its job."""
    job = result.job.model_dump(mode="json")
    return State(job, tuple(figures_of(trip) for trip in result.trips), program)


def figures_of(trip: TripResult) -> TripFigures:
    """The figures of a trip's result."""
    answer, energy = answer_of(trip), trip.energy
    soc = trip.course.soc.round(4)
    spent = ("served", "unserved", "losses", "unharvested")
    return TripFigures(
        name=trip.name,
        verdict=answer.verdict,
        held=answer.held,
        draws=answer.draws,
        lowest_soc=(answer.lowest_soc.p10, answer.lowest_soc.p50, answer.lowest_soc.p90),
        dark_hours=answer.dark_hours.mean,
        energy_wh_day={**energy.taken, **{name: getattr(energy, name) for name in spent}},
        times=tuple(time.isoformat() for time in trip.local_times()),
        soc=tuple(tuple(row) for row in soc.tolist()),
        all_held=answer.all_held,
        medical=answer.medical,
        medical_dark=answer.medical_dark,
    )


def compare(old: State, new: State) -> Comparison:
    """What changed from one state of a job to another.

    Parameters
    ----------
    old, new : State
        A key that one of them does not know at all, because its program did not, is left out.
    """
    before = {trip.name: trip for trip in old.trips}
    after = {trip.name: trip for trip in new.trips}
    names = dict.fromkeys((*after, *before))
    return Comparison(
        old=old,
        new=new,
        keys=tuple(_changes(old.job, new.job)),
        trips=tuple(TripChange(name, before.get(name), after.get(name)) for name in names),
    )


def _changes(old: Mapping[str, Any], new: Mapping[str, Any]) -> Iterator[KeyChange]:
    for section in dict.fromkeys((*old, *new)):
        if section in _APART or section not in old or section not in new:
            continue
        part = _PARTS.get(section, "build")
        for key, was, now in _within(section, old[section], new[section]):
            yield KeyChange(part, key, was, now)


def _within(key: str, old: Any, new: Any) -> Iterator[tuple[str, Any, Any]]:
    """Keys whose values differ, below one key."""
    if _is_table(old) and _is_table(new):
        for name in old:
            if name in new:
                yield from _within(f"{key}.{name}", old[name], new[name])
    elif _is_list(old) and _is_list(new) and (old or new):
        was, now = _named(old), _named(new)
        if set(was) != set(now) and len(old) == len(new) == 1:  # one thing, renamed
            was, now = {"1": old[0]}, {"1": new[0]}
        for name in dict.fromkeys((*was, *now)):
            yield from _within(f"{key}[{name}]", was.get(name), now.get(name))
    elif plain(old) != plain(new):
        yield key, plain(old), plain(new)


def plain(value: Any) -> Any:
    """A value as it is compared: a thing by its name, a place by where it lies."""
    if not isinstance(value, Mapping):
        return value
    if set(value) >= _PLACE_KEYS:
        parts = (value["name"], value["region"], value["country"])
        return ", ".join(part for part in parts if part)
    return value.get("name") or value.get("use") or "there"


def _is_table(value: Any) -> bool:
    return isinstance(value, Mapping) and not set(value) >= _PLACE_KEYS


def _is_list(value: Any) -> bool:
    """Whether a value is a list of things with keys; an empty one may be."""
    return isinstance(value, Sequence) and all(isinstance(item, Mapping) for item in value)


def _named(items: Sequence[Any]) -> dict[str, Any]:
    """Things by their names where they tell them apart, else by their places from 1."""
    names = [item.get("name") for item in items]
    if all(names) and len(set(names)) == len(names):
        return dict(zip(names, items, strict=True))
    return {f"{number}": item for number, item in enumerate(items, 1)}
