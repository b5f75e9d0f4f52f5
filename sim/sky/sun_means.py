"""The sun's mean over an interval, in closed form.

`sim.sky.sun` says where the sun is at one moment. A weather file holds means over whole
hours, and at sunrise or over an hour cut in two the middle of the hour will not do. Within
one interval the declination hardly moves and the hour angle runs evenly, so the mean of
cos(zenith) is an integral that can be written down.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.arrays import Floats, Ints
from sim.sky.sun import position
from sim.sky.track import Track

DEGREES_PER_HOUR = 15.0  # of the sun's hour angle; definition of mean solar time


@dataclass(frozen=True)
class SunClock:
    """The sun in the middle of each interval, before any place on Earth is chosen.

    Attributes
    ----------
    declination : ndarray, shape (N,)
        [rad]
    greenwich_angle : ndarray, shape (N,)
        Hour angle at longitude 0, 0 at true noon, positive in the afternoon. [rad]
    dni_extra : ndarray, shape (N,)
        Irradiance facing the sun, outside the atmosphere. [W/m2]
    """

    declination: Floats
    greenwich_angle: Floats
    dni_extra: Floats

    def hour_angle(self, longitude: float | Floats) -> Floats:
        """Hour angle at a longitude, wrapped to -pi..pi. [rad], shape (N,)"""
        angle = self.greenwich_angle + np.radians(longitude)
        return np.asarray((angle + np.pi) % (2.0 * np.pi) - np.pi)

    def at(self, index: Ints) -> SunClock:
        """The same clock at other indices."""
        return SunClock(self.declination[index], self.greenwich_angle[index], self.dni_extra[index])


def sun_clock(start_utc: NDArray[np.datetime64], minutes: int) -> SunClock:
    """Declination and hour angle in the middle of each interval.

    Parameters
    ----------
    start_utc : ndarray of datetime64[s], shape (N,)
    minutes : int
        Length of an interval. [min]

    Notes
    -----
    Read from NREL SPA for an observer at 0 N 0 E, where the sun's north component is the
    sine of the declination and its east and up components give the hour angle.
    """
    nowhere = np.zeros(len(start_utc))
    sun = position(Track(start_utc, minutes, nowhere, nowhere, nowhere))
    zenith, azimuth = np.radians(sun.zenith), np.radians(sun.azimuth)
    north = np.sin(zenith) * np.cos(azimuth)
    east = np.sin(zenith) * np.sin(azimuth)
    return SunClock(np.arcsin(north), np.arctan2(-east, np.cos(zenith)), sun.dni_extra)


def mean_sun(
    clock: SunClock,
    latitude: float | Floats,
    longitude: float | Floats,
    begin_h: float | Floats,
    end_h: float | Floats,
) -> tuple[Floats, Floats]:
    """Mean of cos(zenith), and the share of time with the sun up, over part of an interval.

    Parameters
    ----------
    clock : SunClock
        N intervals.
    latitude, longitude : float or ndarray, shape (N,)
        [degrees]
    begin_h, end_h : float or ndarray, shape (N,)
        The part, counted from the middle of the interval. [h]

    Returns
    -------
    cos_zenith : ndarray, shape (N,)
        Mean over the part, counting 0 while the sun is down. Times `dni_extra` it is the
        mean horizontal irradiance outside the atmosphere.
    up : ndarray, shape (N,)
        0 to 1.

    References
    ----------
    J. A. Duffie, W. A. Beckman, Solar Engineering of Thermal Processes, 4th ed. 2013,
    equations 1.6.5 (zenith), 1.6.10 (sunset hour angle), 1.10.4 (integral over a period).
    """
    phi = np.radians(latitude)
    steady = np.sin(phi) * np.sin(clock.declination)
    swing = np.cos(phi) * np.cos(clock.declination)
    # Beyond the polar circles the sunset angle is pi (never sets) or 0 (never rises).
    sunset = np.arccos(np.clip(-steady / np.maximum(swing, 1e-12), -1.0, 1.0))
    middle = clock.hour_angle(longitude)
    rate = np.radians(DEGREES_PER_HOUR)
    begin, end = middle + rate * np.asarray(begin_h), middle + rate * np.asarray(end_h)
    light, lit = np.zeros_like(middle), np.zeros_like(middle)
    for turn in (-2.0 * np.pi, 0.0, 2.0 * np.pi):  # the part may cross midnight
        first = np.maximum(begin, turn - sunset)
        last = np.maximum(np.minimum(end, turn + sunset), first)
        light += steady * (last - first) + swing * (np.sin(last) - np.sin(first))
        lit += last - first
    span = np.maximum(end - begin, 1e-12)
    return np.maximum(light / span, 0.0), lit / span
