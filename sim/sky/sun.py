"""The sun: position, clear sky, splitting global irradiance, and what a panel sees.

A thin layer over pvlib that works on a moving `Track`: latitude and longitude may differ
from step to step, which pvlib's own front door does not take.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pvlib
from pvlib import spa

from sim.arrays import Floats, Ints
from sim.sky.ephemeris import Geocentric, geocentric
from sim.sky.track import Track
from sim.sky.turbidity import linke_turbidity

# Sky albedo of bare ground and grass; common value, pvlib.albedo.SURFACE_ALBEDOS['soil'] 0.17,
# 'grass' 0.20.
GROUND_ALBEDO = 0.2
# Refraction at sunrise and sunset: 34 arc minutes, NREL/TP-560-34302, section 3.11.
_REFRACTION_DEG = 0.5667
# Air temperature for refraction, pvlib's own default; 30 K change it by 0.05 degrees at most.
_REFRACTION_AIR_C = 12.0
_LOWEST_BEAM_DEG = 87.0  # zenith beyond which beam and diffuse light are not split


@dataclass(frozen=True)
class Sun:
    """Where the sun is in the middle of each step.

    Attributes
    ----------
    zenith, apparent_zenith : ndarray, shape (H,)
        Angle from the vertical, without and with refraction. [degrees]
    azimuth : ndarray, shape (H,)
        Clockwise from north. [degrees]
    dni_extra : ndarray, shape (H,)
        Irradiance on a surface facing the sun, outside the atmosphere. [W/m2]
    """

    zenith: Floats
    apparent_zenith: Floats
    azimuth: Floats
    dni_extra: Floats

    def at(self, rows: Ints) -> Sun:
        """The same for some of the steps."""
        return Sun(
            self.zenith[rows], self.apparent_zenith[rows], self.azimuth[rows], self.dni_extra[rows]
        )

    @property
    def cos_zenith(self) -> Floats:
        """Cosine of the true zenith angle, 0 while the sun is down. shape (H,)"""
        return np.maximum(np.cos(np.radians(self.zenith)), 0.0)

    @property
    def ghi_extra(self) -> Floats:
        """Horizontal irradiance outside the atmosphere. [W/m2], shape (H,)"""
        return self.dni_extra * self.cos_zenith


def position(track: Track) -> Sun:
    """Solar position in the middle of each step of a track.

    Parameters
    ----------
    track : Track
        H steps.

    Returns
    -------
    Sun
        Angles in degrees, shape (H,).

    Notes
    -----
    NREL SPA through pvlib. Refraction is that of standard pressure at the track's altitude
    and 12 deg C, values that only matter within a few degrees of the horizon. `Sun.zenith`
    leaves refraction out; everything that turns irradiance from one plane to another uses
    it, so that beam and diffuse always add up to the global irradiance.

    References
    ----------
    I. Reda, A. Andreas, Solar Position Algorithm for Solar Radiation Applications,
    NREL/TP-560-34302, 2003 (revised 2008).
    """
    return positions([track])[0]


def positions(tracks: Sequence[Track]) -> list[Sun]:
    """The same of several tracks in one go, which costs less than one after the other."""
    months = np.concatenate([one.start_utc.astype("datetime64[M]").astype(int) for one in tracks])
    found, which = np.unique(months, return_inverse=True)
    delta_t_s = spa.calculate_deltat(1970 + found // 12, 1 + found % 12)[which.reshape(-1)]
    unix, latitude, longitude, altitude_m = (
        np.concatenate([getattr(one, name) for one in tracks])
        for name in ("mid_unix", "latitude", "longitude", "altitude_m")
    )
    sun = geocentric(unix, delta_t_s)
    zenith, apparent, azimuth = _from_place(sun, latitude, longitude, altitude_m)
    ends = np.cumsum([len(one) for one in tracks])[:-1]
    zeniths, lifted, azimuths = (np.split(x, ends) for x in (zenith, apparent, azimuth))
    outside = map(dni_extra, tracks)
    return list(map(Sun, zeniths, lifted, azimuths, outside))


def _from_place(
    sun: Geocentric, latitude: Floats, longitude: Floats, altitude_m: Floats
) -> tuple[Floats, Floats, Floats]:
    """Zenith angle without and with refraction, and azimuth, as of `position`. [degrees]

    Sections 3.11 to 3.14 of the algorithm, step by step.
    """
    declination_deg = sun.declination_deg
    hour_deg = spa.local_hour_angle(sun.sidereal_deg, longitude, sun.right_ascension_deg)
    parallax_deg = spa.equatorial_horizontal_parallax(sun.distance_au)
    reduced = spa.uterm(latitude)
    x, y = (term(reduced, latitude, altitude_m) for term in (spa.xterm, spa.yterm))
    shift_deg = spa.parallax_sun_right_ascension(x, parallax_deg, hour_deg, declination_deg)
    declination_deg = spa.topocentric_sun_declination(
        declination_deg, x, y, parallax_deg, shift_deg, hour_deg
    )
    hour_deg = spa.topocentric_local_hour_angle(hour_deg, shift_deg)
    height_deg = spa.topocentric_elevation_angle_without_atmosphere(
        latitude, declination_deg, hour_deg
    )
    lift_deg = spa.atmospheric_refraction_correction(
        pvlib.atmosphere.alt2pres(altitude_m) / 100.0,
        _REFRACTION_AIR_C,
        height_deg,
        _REFRACTION_DEG,
    )
    bearing_deg = spa.topocentric_astronomers_azimuth(hour_deg, declination_deg, latitude)
    azimuth_deg = spa.topocentric_azimuth_angle(bearing_deg)
    return 90.0 - height_deg, 90.0 - (height_deg + lift_deg), azimuth_deg


def dni_extra(track: Track) -> Floats:
    """Extraterrestrial normal irradiance on the day of each step. [W/m2], shape (H,)

    Spencer's series through pvlib, solar constant 1366.1 W/m2.

    References
    ----------
    J. W. Spencer, Fourier series representation of the sun, Search 2 (1971) 172.
    """
    middle = track.mid_unix.astype("datetime64[s]")
    day = middle.astype("datetime64[D]") - middle.astype("datetime64[Y]")
    return np.asarray(
        pvlib.irradiance.get_extra_radiation(1.0 + day.astype(np.float64)), dtype=np.float64
    )


def clear_sky(track: Track, sun: Sun) -> tuple[Floats, Floats, Floats]:
    """GHI, DNI and DHI under a cloudless sky.

    Parameters
    ----------
    track : Track
        H steps.
    sun : Sun
        `position` of the same track.

    Returns
    -------
    ghi, dni, dhi : ndarray, shape (H,)
        [W/m2]; they close: ``dni * cos(zenith) + dhi == ghi``.

    Notes
    -----
    Ineichen-Perez with the monthly Linke turbidity climatology that ships with pvlib, taken
    at the track's own position. The model closes over the refracted zenith; the difference,
    under 2 W/m2 and only at a low sun, is put into the diffuse part here. On mountains it is
    bright: at 3500 m GHI comes to 0.95 of `Sun.ghi_extra` about noon.

    References
    ----------
    P. Ineichen, R. Perez, Solar Energy 73 (2002) 151-157.
    """
    turbidity = linke_turbidity(track)
    pressure = pvlib.atmosphere.alt2pres(track.altitude_m)
    with np.errstate(invalid="ignore"):
        relative = pvlib.atmosphere.get_relative_airmass(sun.apparent_zenith)
    airmass = pvlib.atmosphere.get_absolute_airmass(relative, pressure)
    # pvlib divides by an air mass that goes to infinity below the horizon; it means 0 W there.
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        sky = pvlib.clearsky.ineichen(
            sun.apparent_zenith,
            airmass,
            turbidity,
            altitude=track.altitude_m,
            dni_extra=sun.dni_extra,
        )
    ghi, dni = (np.nan_to_num(np.asarray(sky[name])) for name in ("ghi", "dni"))
    return ghi, dni, ghi - dni * sun.cos_zenith


def split_global(ghi: Floats, sun: Sun, track: Track) -> tuple[Floats, Floats]:
    """DNI and DHI from global irradiance by the DISC model.

    Parameters
    ----------
    ghi : ndarray, shape (H,) or (H, D)
        [W/m2]
    sun : Sun
        `position` of the track.
    track : Track
        H steps.

    Returns
    -------
    dni, dhi : ndarray, shape of `ghi`
        [W/m2]; they close: ``dni * cos(zenith) + dhi == ghi``.

    Notes
    -----
    Drawn weather and files without a beam column are split alike. From the GHI of three
    typical-year files (tests/outside/test_typical_years.py) the months' beam comes within 6 to
    7 % (rms) of the files' own, the year's to 0.95. Erbs' correlation, which knows nothing of
    the air mass, misses by 10, 13 and, at 55 degrees north, 25 %.

    References
    ----------
    E. L. Maxwell, A quasi-physical model for converting hourly global horizontal to direct
    normal insolation, SERI/TR-215-3087, 1987.
    """
    up = np.flatnonzero(sun.zenith < _LOWEST_BEAM_DEG)
    column = (slice(None),) + (None,) * (ghi.ndim - 1)
    bright = ghi[up]
    middle = track.mid_unix[up].astype("datetime64[s]")
    day = middle.astype("datetime64[D]") - middle.astype("datetime64[Y]")
    # Angles and air mass once for all draws.
    beam = pvlib.irradiance.disc(
        bright,
        sun.zenith[up][column],
        1.0 + day.astype(np.float64)[column],
        pressure=pvlib.atmosphere.alt2pres(track.altitude_m[up])[column],
    )["dni"]
    bright /= sun.cos_zenith[up][column]
    dni = np.zeros_like(ghi)
    # An hour that the sun leaves half way may hold more than its middle allows.
    dni[up] = np.clip(beam, 0.0, np.minimum(bright, sun.dni_extra[up][column]))
    return dni, ghi - dni * sun.cos_zenith[column]


@dataclass(frozen=True)
class PlaneIrradiance:
    """What falls on a panel, by kind, because glass and shade treat each kind differently.

    Attributes
    ----------
    beam, sky, ground : ndarray, shape (H, D)
        Direct, sky-diffuse and ground-reflected irradiance on the plane. [W/m2]
    incidence : ndarray, shape (H,)
        Angle between the sun and the panel's normal. [degrees]
    """

    beam: Floats
    sky: Floats
    ground: Floats
    incidence: Floats


def on_plane(
    weather_ghi: Floats,
    weather_dni: Floats,
    weather_dhi: Floats,
    sun: Sun,
    *,
    tilt_deg: float | Floats,
    azimuth_deg: float | Floats,
    albedo: float = GROUND_ALBEDO,
) -> PlaneIrradiance:
    """Transpose horizontal irradiance to a panel's plane with the Hay-Davies model.

    Parameters
    ----------
    weather_ghi, weather_dni, weather_dhi : ndarray, shape (H, D)
        [W/m2]
    sun : Sun
        H steps.
    tilt_deg : float or ndarray, shape (H,)
        0 is flat on the roof. [degrees]
    azimuth_deg : float or ndarray, shape (H,)
        Compass direction the panel faces. [degrees]
    albedo : float
        Reflectance of the ground.

    Returns
    -------
    PlaneIrradiance
        shape (H, D). A flat panel gets the horizontal beam and the diffuse unchanged, which
        together are GHI.

    References
    ----------
    J. E. Hay, J. A. Davies, Proc. First Canadian Solar Radiation Data Workshop, 1980.
    """
    hours = len(sun.zenith)
    tilt = np.broadcast_to(np.asarray(tilt_deg, dtype=np.float64), (hours,))
    facing = np.broadcast_to(np.asarray(azimuth_deg, dtype=np.float64), (hours,))
    cos_incidence = pvlib.irradiance.aoi_projection(tilt, facing, sun.zenith, sun.azimuth)
    cos_incidence = np.clip(cos_incidence, -1.0, 1.0)
    # A file's hour may hold beam although the sun is down by the middle of the hour; no angle
    # is right for that beam, and none is taken.
    dni = np.where((sun.cos_zenith > 0.0)[:, None], weather_dni, 0.0)
    beam = dni * np.maximum(cos_incidence, 0.0)[:, None]
    flat = (tilt == 0.0)[:, None]
    sky = weather_dhi
    if not flat.all():
        # pvlib's Hay-Davies takes arrays of one shape: hours down, draws across.
        tilted = pvlib.irradiance.haydavies(
            tilt[:, None],
            facing[:, None],
            weather_dhi,
            dni,
            sun.dni_extra[:, None],
            sun.zenith[:, None],
            sun.azimuth[:, None],
        )
        sky = np.where(flat, weather_dhi, np.asarray(tilted))
    ground = pvlib.irradiance.get_ground_diffuse(tilt[:, None], weather_ghi, albedo)
    return PlaneIrradiance(beam, sky, ground, np.degrees(np.arccos(cos_incidence)))


def _share_above(zenith: Floats, horizon_deg: Floats) -> Floats:
    """Share of each step in which the sun is above a skyline. shape (H,)

    The zenith angle is taken as straight from the middle of a step to that of the next. Over a
    level horizon the middle of the step decides: the weather knows of sunrise itself.
    """
    clear = 90.0 - horizon_deg - zenith
    if len(zenith) < 2:
        return (clear > 0.0).astype(np.float64)
    change = np.diff(zenith) / 2.0
    before = clear + np.append(change[0], change)
    after = clear - np.append(change, change[-1])

    def above(one: Floats, other: Floats) -> Floats:
        up = np.maximum(one, 0.0) + np.maximum(other, 0.0)
        return np.asarray(up / np.maximum(np.abs(one) + np.abs(other), 1e-12))

    share = (above(before, clear) + above(clear, after)) / 2.0
    return np.where(horizon_deg > 0.0, share, clear > 0.0)


def shade(
    weather_dni: Floats,
    weather_dhi: Floats,
    sun: Sun,
    *,
    shade_fraction: Floats,
    horizon_deg: Floats,
    rows: Ints | slice = slice(None),
) -> tuple[Floats, Floats, Floats]:
    """What is left of the sky at a shaded stop.

    Parameters
    ----------
    weather_dni, weather_dhi : ndarray, shape (H, D)
        Under an open sky. [W/m2]
    sun : Sun
        H steps.
    shade_fraction : ndarray, shape (H,)
        Share of the beam that trees or walls take, 0 to 1.
    horizon_deg : ndarray, shape (H,)
        Height of the skyline; the beam is gone while the sun is below it, be it for a part of
        a step. [degrees]
    rows : ndarray of int or slice
        The steps that are asked for.

    Returns
    -------
    ghi, dni, dhi : ndarray, shape (H, D)
        Of these steps. [W/m2]

    Notes
    -----
    Trees take half as much of the diffuse light as of the beam (our own rule of thumb, no
    source). A skyline of angle h all round leaves cos(h)**2 of an isotropic sky (geometry).
    """
    seen = _share_above(sun.apparent_zenith, horizon_deg)
    dni = weather_dni[rows] * ((1.0 - shade_fraction) * seen)[rows, None]
    open_sky = np.cos(np.radians(horizon_deg)) ** 2
    dhi = weather_dhi[rows] * ((1.0 - shade_fraction / 2.0) * open_sky)[rows, None]
    return dni * sun.cos_zenith[rows, None] + dhi, dni, dhi
