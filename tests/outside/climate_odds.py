"""Whether the odds of drawn weathers are true, on stations left out of the fit.

`climate_report.py` prints it and `test_climate_odds.py` holds it to its limits. Stations are
left out twice over: cell by cell (an eighth of the cells of two degrees at a time, sunshine
stations included), as a place between known stations would be, and region by region.
"""

from __future__ import annotations

import importlib.util
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import cache
from types import ModuleType
from typing import Any
from unittest import mock

import numpy as np
from numpy.typing import NDArray

from sim.resources import profiles_dir
from sim.sky.climate import corrections, hours
from sim.sky.climate import draws as drawing
from sim.sky.climate.days import LocalDays
from sim.sky.climate.tables import months_of_sun, point_climate
from sim.sky.sun import Sun, dni_extra
from sim.sky.sun_means import SunClock, sun_clock
from sim.sky.track import Floats, Track

Bools = NDArray[np.bool_]
REALLY_LATENT = drawing._latent
YEAR = np.datetime64("2001-01-01", "D")
DATES = YEAR + np.arange(-4, 365 + 20).astype("timedelta64[D]")
DAYS = 14
FOLDS = 8
CELL_DEG = 2.0
# Northern latitude, southern, western longitude, eastern: whoever comes first. What is in none
# is a region of its own.
REGIONS = {
    "Alaska, Canada": (90.0, 50.0, -180.0, -30.0),
    "Pacific coast": (50.0, 24.0, -180.0, -114.0),
    "Rockies": (50.0, 24.0, -114.0, -100.0),
    "Plains, north": (50.0, 38.0, -100.0, -85.0),
    "Plains, south": (38.0, 24.0, -100.0, -85.0),
    "East, north": (50.0, 38.0, -85.0, -30.0),
    "East, south": (38.0, 24.0, -85.0, -30.0),
    "Central America": (24.0, 12.0, -130.0, -30.0),
    "South America": (12.0, -60.0, -130.0, -30.0),
    "Europe, south": (45.0, 30.0, -30.0, 60.0),
    "Europe, north-west": (90.0, 45.0, -30.0, 9.0),
    "Europe, north-east": (90.0, 45.0, 9.0, 60.0),
    "Africa": (30.0, -60.0, -30.0, 60.0),
    "Oceania": (0.0, -60.0, 100.0, 180.0),
}
KINDS = ("sun", "worst three days", "mean temperature", "lowest temperature", "highest temperature")

# The program's figures before seasons were drawn, cells left out: mean CRPS [kWh/m2/day] of the
# spells, RMSE of monthly GHI at other stations.
CRPS_BEFORE = {"sun": 0.2926, "worst three days": 0.4739}
MONTHS_BEFORE = 0.090


@cache
def builder() -> ModuleType:
    """The script that makes the stations' table."""
    path = profiles_dir() / "climate" / "build_stations.py"
    spec = importlib.util.spec_from_file_location(path.stem, path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[path.stem] = module
    spec.loader.exec_module(module)
    # Asked for again and again, and each time the same.
    module.sun_clock = noon_clock
    module.nodes_at_sea = cache(module.nodes_at_sea)
    return module


@cache
def noons() -> SunClock:
    """The sun at noon in Greenwich of every day that spells and table look at."""
    return sun_clock(np.asarray(DATES + np.timedelta64(12, "h"), dtype="datetime64[s]"), 0)


def noon_clock(start_utc: NDArray[np.datetime64], minutes: int) -> SunClock:
    """`sun_clock` of noons in Greenwich, each computed once."""
    day = start_utc.astype("datetime64[D]")
    assert minutes == 0
    assert ((start_utc - day) == np.timedelta64(12, "h")).all()
    return noons().at((day - DATES[0]).astype(np.int64))


def quick_position(track: Track) -> Sun:
    """`position` between the noons of `noons`, without refraction: the sun to 0.01 degrees."""
    known, day = noons(), track.mid_unix / 86400.0
    at = (DATES.astype(np.int64) + 0.5).astype(np.float64)
    declination = np.interp(day, at, known.declination)
    # How far the true noon is from the mean one, and the turn of the Earth since then.
    angle = np.interp(day, at, known.greenwich_angle) + 2.0 * np.pi * (day % 1.0 - 0.5)
    angle = angle + np.radians(track.longitude)
    phi = np.radians(track.latitude)
    up = np.sin(phi) * np.sin(declination) + np.cos(phi) * np.cos(declination) * np.cos(angle)
    zenith = np.degrees(np.arccos(np.clip(up, -1.0, 1.0)))
    return Sun(zenith, zenith, np.zeros_like(zenith), dni_extra(track))


@cache
def departures() -> Any:
    """What all stations measured against the reanalysis; made once, it takes seconds."""
    return builder().all_departures()


def cell_fold(latitude: Floats, longitude: Floats) -> NDArray[np.int64]:
    """Which eighth of the cells a place belongs to, the same on any machine."""
    across = CELL_DEG / np.maximum(np.cos(np.radians(latitude)), 0.3)
    row, column = np.floor(latitude / CELL_DEG), np.floor((longitude + 360.0) / across)
    return np.asarray((7 * row + 3 * column).astype(np.int64) % FOLDS)


def region_fold(latitude: Floats, longitude: Floats) -> NDArray[np.int64]:
    """Which region a place belongs to; the last one is what is left."""
    found = np.full(len(latitude), len(REGIONS))
    for number, (north, south, west, east) in reversed(list(enumerate(REGIONS.values()))):
        inside = (latitude <= north) & (latitude > south) & (longitude >= west) & (longitude < east)
        found[inside] = number
    return found


FOLD_OF = {"cells": cell_fold, "regions": region_fold}


@dataclass(frozen=True)
class Spells:
    """S stations with twelve spells each.

    Attributes
    ----------
    source : ndarray of str, shape (S,)
    where : ndarray, shape (3, S)
        Latitude, longitude [degrees], altitude [m].
    zone_h : ndarray, shape (S,)
    first : ndarray of int, shape (S, 12)
        First day of each, counted from 1 January.
    measured : ndarray, shape (5, S, 12)
        As `KINDS`: kWh/m2/day and deg C.
    """

    source: NDArray[np.str_]
    where: Floats
    zone_h: Floats
    first: NDArray[np.int64]
    measured: Floats

    @property
    def winter(self) -> Bools:
        """The four dark months, shape (S, 12)."""
        month = np.arange(12)
        north = (self.where[0] >= 0.0)[:, None]
        return np.asarray(
            np.where(north, np.isin(month, [10, 11, 0, 1]), np.isin(month, [4, 5, 6, 7]))
        )


def spells() -> Spells:
    """All of tests/data/spells.csv that the climate reaches."""
    stations = builder().spell_stations()

    def table(key: str) -> Floats:
        return np.array([[float(row[key]) for row in rows] for rows in stations])

    keys = ("ghi_mean_kwh", "ghi_worst3_kwh", "temp_mean_c", "temp_min_c", "temp_max_c")
    return Spells(
        source=np.array([rows[0]["source"] for rows in stations]),
        where=np.stack([table(key)[:, 0] for key in builder().PLACE]),
        zone_h=table("utc_offset_h")[:, 0],
        first=table("first_day_of_year").astype(np.int64),
        measured=np.stack([table(key) for key in keys]),
    )


@cache
def left_out(by: str, every: int = 1) -> tuple[tuple[Any, Any], ...]:
    """For every `every`-th fold a function that says which places it leaves out, and the
    program's station table without them. Made once: a table takes seconds."""
    return tuple(_left_out(by, every))


def _left_out(by: str, every: int) -> Iterator[tuple[Any, Any]]:
    fold_of = FOLD_OF[by]
    for fold in range(0, FOLDS if by == "cells" else len(REGIONS) + 1, every):

        def out(latitude: Floats, longitude: Floats, fold: int = fold) -> Bools:
            return np.asarray(fold_of(latitude, longitude) == fold)

        yield out, table_without(out)


def table_without(out: Any) -> Any:
    """The program's station table without some places, made around these alone: at all other
    nodes it is as wrong as can be."""
    shipped = corrections.station_tables()
    rest = [part.without(out(part.latitude, part.longitude)) for part in departures()]
    north, east = builder().nodes()
    asked = np.zeros(north.shape, dtype=np.bool_)
    for latitude, longitude in everywhere():
        if out(np.array([latitude]), np.array([longitude]))[0]:
            turned = np.abs((east - longitude + 180.0) % 360.0 - 180.0)
            reach = builder().STEP_DEG
            asked |= (np.abs(north - latitude) <= reach) & (turned <= reach)
    shift, doubt = np.full_like(shipped.shift, -128), np.full_like(shipped.doubt, 255)
    shift[:, asked], doubt[asked] = builder().counts(
        *builder().smoothed(rest, north[asked], east[asked])
    )
    return replace(shipped, shift=shift, doubt=doubt)


@cache
def everywhere() -> list[tuple[float, float]]:
    """Latitudes and longitudes of the places that are drawn, or have their months compared."""
    rows = [*(rows[0] for rows in builder().spell_stations())]
    rows += builder().read("climate_stations.csv")
    return [(float(row["latitude"]), float(row["longitude"])) for row in rows]


def whole_days(
    track: Track, sun: Sun, days: LocalDays, clearness: Floats, *_clouds: object
) -> Floats:
    """The draws' days without their clouds: the sums are the same and come much faster."""
    start_hour = np.floor(days.pair_start_unix / 3600.0).astype(np.int64)
    _, clear = hours.clear_days(days, start_hour)
    bounded = np.minimum(clearness, hours.brightest_day(clear)[:, None])
    return np.asarray(sun.ghi_extra[:, None] * bounded[days.pair])


def unsplit(ghi: Floats, *_sun: object) -> tuple[Floats, Floats]:
    """In place of beam and diffuse light, after which nobody asks here."""
    return np.zeros_like(ghi), ghi


@cache
def latent_of_all(draws: int, seed: int) -> Any:
    """The numbers behind all draws of all dates."""
    first, *_, last = DATES.astype(int).tolist()
    return REALLY_LATENT(first, last, draws, seed)


def latent(first_day: int, last_day: int, draws: int, seed: int, first_draw: int = 0) -> Any:
    """Those of some dates: numbers belong to the calendar, so that none is drawn twice."""
    assert first_draw == 0
    whole = latent_of_all(draws, seed)
    days = slice(first_day - whole.first_day, last_day + 1 - whole.first_day)
    assert days.start >= 0
    assert days.stop <= len(whole.brightness)
    parts = {name: getattr(whole, name)[days] for name in ("brightness", "warmth", "scatter")}
    slow = whole.season
    return replace(
        whole,
        first_day=first_day,
        season=replace(slow, first_day=first_day, bright=slow.bright[days], warm=slow.warm[days]),
        clouds=whole.clouds[24 * days.start : 24 * days.stop],
        **parts,
    )


@contextmanager
def of_whole_days() -> Iterator[None]:
    """Draws for those who ask for the sums of days and for temperatures, in a quarter of the
    time: the same but for the clouds within a day. No climate is remembered: it may be one that
    is made without some stations."""
    with (
        mock.patch.object(drawing, "_climate_of", drawing._climate_of.__wrapped__),
        mock.patch.object(drawing, "_latent", latent),
        mock.patch.object(drawing, "global_irradiance", whole_days),
        mock.patch.object(drawing, "split_global", unsplit),
        mock.patch.object(hours, "position", quick_position),
    ):
        yield


def drawn(data: Spells, station: int, draws: int, seed: int) -> Floats:
    """The five figures of the twelve spells of a station, shape (5, 12, D)."""
    hour = np.arange(24 * DAYS)
    first = YEAR + data.first[station].astype("timedelta64[D]")
    start = first.astype("datetime64[s]")[:, None] + hour * np.timedelta64(3600, "s")
    start = start.ravel() - np.timedelta64(round(3600 * data.zone_h[station]), "s")
    track = Track(start, 60, *(np.full(start.size, x) for x in data.where[:, station]))
    weather = drawing.climate_draws(track, quick_position(track), draws=draws, seed=seed)
    sun = weather.ghi.reshape(12, DAYS, 24, draws).sum(axis=2) / 1000.0
    air = weather.temp_air.reshape(12, 24 * DAYS, draws)
    worst = ((sun[:, :-2] + sun[:, 1:-1] + sun[:, 2:]) / 3.0).min(axis=1)
    return np.stack([sun.mean(axis=1), worst, air.mean(axis=1), air.min(axis=1), air.max(axis=1)])


@dataclass(frozen=True)
class Odds:
    """How measured spells fall among drawn ones; arrays of shape (5, S, 12).

    Attributes
    ----------
    rank : ndarray
        Share of the draws below the measured figure.
    crps : ndarray
        Continuous ranked probability score. [kWh/m2/day and K]
    mean : ndarray
        Of the draws.
    """

    rank: Floats
    crps: Floats
    mean: Floats


def crps(sample: Floats, measured: Floats) -> Floats:
    """Continuous ranked probability score of samples along the last axis.

    References
    ----------
    T. Gneiting, A. E. Raftery, Strictly proper scoring rules, prediction, and estimation,
    Journal of the American Statistical Association 102 (2007) 359-378, equation 21.
    """
    ordered = np.sort(sample, axis=-1)
    count = sample.shape[-1]
    weight = (2.0 * np.arange(1, count + 1) - count - 1.0) / count**2
    return np.asarray(
        np.abs(ordered - measured[..., None]).mean(axis=-1) - (ordered * weight).sum(axis=-1)
    )


def odds(data: Spells, by: str, draws: int, seed: int = 1, every: int = 1) -> Odds:
    """Draw every spell with its own station, and those around it, left out.

    Every `every`-th fold is drawn; the stations of the others stay NaN.
    """
    shape = data.measured.shape
    rank, score, mean = (np.full(shape, np.nan) for _ in range(3))
    for out, table in left_out(by, every):
        with (
            mock.patch.object(corrections, "station_tables", lambda table=table: table),
            of_whole_days(),
        ):
            for s in np.flatnonzero(out(*data.where[:2])):
                sample = drawn(data, int(s), draws, seed)
                rank[:, s] = (sample < data.measured[:, s, :, None]).mean(axis=-1)
                score[:, s] = crps(sample, data.measured[:, s])
                mean[:, s] = sample.mean(axis=-1)
    return Odds(rank, score, mean)


@dataclass(frozen=True)
class Figures:
    """Shares of spells and scores of one kind; bias relative for sun, in K for temperature."""

    below_10: float
    below_5: float
    inside: float
    above_90: float
    crps: float
    bias: float


def figures(data: Spells, found: Odds, kind: str, chosen: Bools | None = None) -> Figures:
    """What the odds were in one kind of figure, of chosen spells (S, 12) or all."""
    k = KINDS.index(kind)
    use = np.isfinite(found.rank[k])
    use = use if chosen is None else use & chosen
    rank, measured, mean = found.rank[k][use], data.measured[k][use], found.mean[k][use]
    bias = mean.mean() - measured.mean()
    return Figures(
        below_10=float((rank < 0.1).mean()),
        below_5=float((rank < 0.05).mean()),
        inside=float(((rank >= 0.1) & (rank <= 0.9)).mean()),
        above_90=float((rank > 0.9).mean()),
        crps=float(found.crps[k][use].mean()),
        bias=float(bias / measured.mean() if k < 2 else bias),
    )


def missed(found: Figures, kind: str, group: str) -> list[str]:
    """Which figures of a kind lie outside what is asked of a group of spells left out."""
    held = {}
    if group == "all" and kind in CRPS_BEFORE:
        held = {
            "below 10 %": 0.08 <= found.below_10 <= 0.13,
            "below 5 %": found.below_5 <= 0.075,
            "inside": 0.76 <= found.inside <= 0.84,
            "CRPS": found.crps < CRPS_BEFORE[kind],
            "bias": kind != "sun" or abs(found.bias) <= 0.02,
        }
    elif group.startswith("winter") and kind == "sun":
        held = {
            "below 10 %": 0.07 <= found.below_10 <= 0.14,
            "below 5 %": found.below_5 <= 0.075,
        }
    elif group == "all" and kind in ("mean temperature", "lowest temperature"):
        held = {"below 10 %": found.below_10 <= 0.15, "above 90 %": found.above_90 <= 0.15}
    return [what for what, good in held.items() if not good]


def left_out_months(by: str, every: int = 1) -> tuple[Floats, Floats]:
    """Monthly GHI of climate_stations.csv, with each station's neighbourhood left out, and as
    measured. [kWh/m2/day], (S, 12); NaN in ours where a station is in no `every`-th fold."""
    rows = builder().read("climate_stations.csv")
    where = np.stack([builder().column(rows, key) for key in builder().PLACE])
    ours = np.full((len(rows), 12), np.nan)
    for out, table in left_out(by, every):
        chosen = out(*where[:2])
        with mock.patch.object(corrections, "station_tables", lambda table=table: table):
            if chosen.any():
                here = point_climate(*where[:, chosen])
                extra = months_of_sun(where[0, chosen])[0]
                ours[chosen] = here.clearness_mean * extra / 1000.0
    return ours, builder().months(rows, "ghi_kwh_m2_day")
