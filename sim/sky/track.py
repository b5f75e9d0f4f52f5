"""What the sky reads and gives: where the van is, and its weather.

Axis 0 is the step, axis 1 the draw. Times are UTC; a value holds for the whole step, and
the sun is taken where it is in the middle of the step.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.arrays import Floats, Ints


@dataclass(frozen=True)
class Track:
    """Where the van is, step by step.

    Attributes
    ----------
    start_utc : ndarray of datetime64[s], shape (H,)
        Start of each step, UTC, evenly spaced.
    step_minutes : int
        Length of a step. [min]
    latitude, longitude : ndarray, shape (H,)
        Position in the middle of the step, north and east positive. [degrees]
    altitude_m : ndarray, shape (H,)
        Height above sea level. [m]
    """

    start_utc: NDArray[np.datetime64]
    step_minutes: int
    latitude: Floats
    longitude: Floats
    altitude_m: Floats

    def __len__(self) -> int:
        return len(self.start_utc)

    def at(self, rows: Ints) -> Track:
        """The same for some of the steps, ascending; they need not be neighbours."""
        return Track(
            self.start_utc[rows],
            self.step_minutes,
            self.latitude[rows],
            self.longitude[rows],
            self.altitude_m[rows],
        )

    @property
    def step_hours(self) -> float:
        """Length of a step. [h]"""
        return self.step_minutes / 60.0

    @property
    def mid_unix(self) -> Floats:
        """Middle of each step. [s since 1970-01-01 UTC], shape (H,)"""
        seconds = self.start_utc.astype("datetime64[s]").astype(np.int64).astype(np.float64)
        return np.asarray(seconds + 30.0 * self.step_minutes, dtype=np.float64)


@dataclass(frozen=True)
class Weather:
    """Mean irradiance and air temperature of every step, in every draw.

    Attributes
    ----------
    ghi, dni, dhi : ndarray, shape (H, D)
        Global horizontal, direct normal, diffuse horizontal irradiance. [W/m2]
    temp_air : ndarray, shape (H, D)
        Air temperature at 2 m. [deg C]
    about : tuple of str
        Sentences for the report: where the weather comes from and how sure it is.
    years : tuple of int
        Where the draws are the years of a weather file, the year of each; else empty.
    """

    ghi: Floats
    dni: Floats
    dhi: Floats
    temp_air: Floats
    about: tuple[str, ...] = ()
    years: tuple[int, ...] = ()

    def at(self, rows: Ints) -> Weather:
        """The same for some of the steps."""
        light = self.ghi[rows], self.dni[rows], self.dhi[rows]
        return Weather(*light, self.temp_air[rows], self.about, self.years)

    @property
    def draws(self) -> int:
        """Number of draws, D."""
        return int(self.ghi.shape[1])
