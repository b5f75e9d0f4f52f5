"""The rows of one weather file, in the one form that every reader makes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.arrays import Bools, Floats, Ints
from sim.errors import Fault, WeatherError

RADIATION = ("ghi", "dni", "dhi")


@dataclass(frozen=True)
class Rows:
    """A weather file's rows on an even grid.

    Attributes
    ----------
    file : str
        Path as the user wrote it.
    start_utc : ndarray of datetime64[s], shape (N,)
        Start of each interval, evenly spaced.
    minutes : int
        Length of an interval. [min]
    clock_offset_h : float
        Hours east of UTC of the clock in which the file counts its hours.
    latitude, longitude, altitude_m : float
        Where the file was recorded. [degrees, m]
    values : dict of str to ndarray, shape (N,)
        ``ghi`` and ``temp_air``, and ``dni`` with ``dhi`` where the file has them. Means over
        the interval, nan where the file has none. [W/m2, deg C]
    columns : dict of str to str
        What the file itself calls each of them.
    line : ndarray of int, shape (N,)
        Line of the file; for a missing row the line before it.
    notes : tuple of str
        Sentences on what the reader mended.
    """

    file: str
    start_utc: NDArray[np.datetime64]
    minutes: int
    clock_offset_h: float
    latitude: float
    longitude: float
    altitude_m: float
    values: dict[str, Floats]
    columns: dict[str, str]
    line: Ints
    notes: tuple[str, ...] = ()

    @property
    def per_hour(self) -> int:
        """Rows an hour, at least 1."""
        return max(60 // self.minutes, 1)

    def fault(self, wrong: Bools, name: str, rule: str) -> Fault:
        """The first of some wrong values, as a fault that says how many there are."""
        first = int(np.flatnonzero(wrong)[0])
        count = int(wrong.sum())
        more = f" (and {count - 1} more such rows)" if count > 1 else ""
        return Fault(
            rule + more,
            file=self.file,
            line=int(self.line[first]),
            key=self.columns[name],
            value=f"{self.values[name][first]:g}",
        )


def check_position(file: str, latitude: float, longitude: float, altitude_m: float) -> None:
    """Refuse a station that is nowhere on Earth.

    Raises
    ------
    WeatherError
    """
    bounds = (
        ("latitude", latitude, -90.0, 90.0),
        ("longitude", longitude, -180.0, 180.0),
        ("altitude_m", altitude_m, -430.0, 8850.0),  # the Dead Sea's shore, the highest summit
    )
    faults = [
        Fault(f"must lie between {low:g} and {high:g}", file=file, key=name, value=f"{value:g}")
        for name, value, low, high in bounds
        if not low <= value <= high
    ]
    if faults:
        raise WeatherError(*faults)
