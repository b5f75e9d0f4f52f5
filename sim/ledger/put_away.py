"""What is kept of a trip after its end: what a page, its tables and its decisions ask for."""

from __future__ import annotations

from dataclasses import fields, replace

from sim.arrays import Floats
from sim.ledger.answer import answer_of
from sim.ledger.results import TripResult

# What only the charge of all draws can answer.
_ASKED_OF_ALL = ("course", "bad", "dark_hours", "battery_life")


def put_away(trip: TripResult, file_days_soc: Floats | None) -> TripResult:
    """A lean result in still less memory, however many draws and steps it has.

    Parameters
    ----------
    trip : TripResult
        Lean, in all its draws.
    file_days_soc : ndarray, shape (H + 1,), or None
        As of the result.

    Returns
    -------
    TripResult
        Charge and dark hours of the bad case alone, shape (H + 1, 1) and (hours, 1); of the
        others what `TripResult.course` says. Of tanks the median level. What each load wanted by
        the day is in each draw that of the one in which the answer finds the first dark hour.
    """
    first, bad = answer_of(trip).first_dark, slice(trip.bad, trip.bad + 1)
    draw = trip.bad if first is None else first.draw
    brief = replace(
        trip,
        soc=trip.soc[:, bad].copy(),
        stores=tuple(store.brief() for store in trip.stores),
        loads=tuple(load.on_days_of(draw) for load in trip.loads),
        file_days_soc=file_days_soc,
    )
    for name in _ASKED_OF_ALL:
        getattr(trip, name)
    own = {x.name for x in fields(trip)}
    # What it was asked before, it is not asked again.
    vars(brief).update({name: found for name, found in vars(trip).items() if name not in own})
    vars(brief)["dark"] = trip.dark[:, bad].copy()
    return brief
