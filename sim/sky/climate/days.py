"""Local solar days along a track, and monthly tables read on a date."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeVar

import numpy as np

from sim.arrays import Floats, Ints
from sim.sky.track import Track

DAY_S = 86400
_SECONDS_PER_DEGREE = 240.0  # of longitude
_A = TypeVar("_A", Floats, Ints)


@dataclass(frozen=True)
class LocalDays:
    """Places and local solar days along a track.

    A *pair* is one place on one day. There are H steps, P places and R pairs.

    Attributes
    ----------
    place, pair : ndarray of int, shape (H,)
        Which place and which pair each step belongs to.
    clock : ndarray, shape (H,)
        Local mean solar time in the middle of each step. [days since 1970-01-01]
    latitude, longitude, altitude_m : ndarray, shape (P,)
        Of the places; longitude runs on past 180 where the track crosses the date line.
    pair_place, pair_day : ndarray of int, shape (R,)
        Place and day, counted from 1970-01-01, of each pair.
    """

    place: Ints
    pair: Ints
    clock: Floats
    latitude: Floats
    longitude: Floats
    altitude_m: Floats
    pair_place: Ints
    pair_day: Ints

    @property
    def day(self) -> Ints:
        """Local day of each step, shape (H,)."""
        return np.floor(self.clock).astype(np.int64)

    @property
    def pair_start_unix(self) -> Floats:
        """When each pair's day begins. [s since 1970-01-01 UTC], shape (R,)"""
        east = self.longitude[self.pair_place]
        return np.asarray(self.pair_day * DAY_S - _SECONDS_PER_DEGREE * east)


def local_days(track: Track) -> LocalDays:
    """The local solar days of a track, by longitude, so that no day is cut by a time zone.

    Parameters
    ----------
    track : Track
        H steps.

    Returns
    -------
    LocalDays
    """
    east = np.unwrap(track.longitude, period=360.0)
    clock = (track.mid_unix + _SECONDS_PER_DEGREE * east) / DAY_S
    rows = np.column_stack([track.latitude, east, track.altitude_m])
    places, place = _different(rows)
    keys: Ints = np.column_stack([place, np.floor(clock).astype(np.int64)])
    pairs, pair = _different(keys)
    latitude, longitude, altitude_m = places.T
    return LocalDays(
        place=place,
        pair=pair,
        clock=clock,
        latitude=latitude,
        longitude=longitude,
        altitude_m=altitude_m,
        pair_place=pairs[:, 0],
        pair_day=pairs[:, 1],
    )


def _different(rows: _A) -> tuple[_A, Ints]:
    """The different ones of some rows, in order, and which of them each row is. Most are as the
    row before, and these need not be sorted."""
    is_new = np.append(True, (rows[1:] != rows[:-1]).any(axis=1))
    found, which = np.unique(rows[is_new], axis=0, return_inverse=True)
    return found, which.reshape(-1).astype(np.int64)[np.cumsum(is_new) - 1]


def on_date(table: Floats, date: Floats, rows: Ints) -> Floats:
    """A monthly table on dates, in straight lines between the middles of the months.

    Parameters
    ----------
    table : ndarray, shape (P, 12, ...)
        Monthly means.
    date : ndarray, shape (R,)
        [days since 1970-01-01]
    rows : ndarray of int, shape (R,)
        Row of the table for each date.

    Returns
    -------
    ndarray, shape (R, ...)
        Its mean over each month is the table's value.
    """
    earlier, later, weight = _months_around(date)
    nodes = np.einsum("mn,pn...->pm...", _NODES, table)
    weight = weight.reshape(-1, *([1] * (table.ndim - 2)))
    return np.asarray((1.0 - weight) * nodes[rows, earlier] + weight * nodes[rows, later])


def _months_around(date: Floats) -> tuple[Ints, Ints, Floats]:
    """The months, 0 to 11, whose middles lie around dates, and the weight of the later."""
    months = np.floor(date).astype("datetime64[D]").astype("datetime64[M]")
    first = months.astype("datetime64[D]").astype(np.float64)
    length = (months + np.timedelta64(1, "M")).astype("datetime64[D]").astype(np.float64) - first
    count = months.astype(np.int64) + (date - first) / length - 0.5
    earlier = np.floor(count).astype(np.int64)
    return earlier % 12, (earlier + 1) % 12, count - earlier


def _mean_keeping_nodes() -> Floats:
    """Matrix from monthly means to mid-month values, shape (12, 12).

    Lines through mid-month values have a mean over each month of 1/8, 3/4 and 1/8 of the
    values before, in and after it; this is the inverse, so that a warmest month is not
    flattened.
    """
    one = np.eye(12)
    mean_of = 0.75 * one + 0.125 * (np.roll(one, 1, axis=0) + np.roll(one, -1, axis=0))
    return np.asarray(np.linalg.inv(mean_of))


_NODES = _mean_keeping_nodes()
