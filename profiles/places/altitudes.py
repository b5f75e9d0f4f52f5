"""Altitude of each populated place: GeoNames' own, or an estimate where it gives none.

Used by `build_places.py`. GeoNames' ``dem`` is the ground's height in a satellite model of 90 m.
A place without it gets the coarse map of pvlib, put right by what the map does to towns nearby:
in mountains the map is too high, since people live in the valleys.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import h5py
import numpy as np
import pvlib
from numpy.typing import NDArray
from scipy.ndimage import minimum_filter, uniform_filter
from scipy.spatial import cKDTree

from sim.units import EARTH_RADIUS_KM

Floats = NDArray[np.float64]

# A place that GeoNames has moved since by more than this has lost its altitude.
MOVED_KM = 1.0
# Beyond, the model and the map have holes below the sea, which no town lies in.
HOLES_FROM_DEG = 60.0
KNOWN_DOUBT_M = 30.0  # rms against published altitudes of mountain towns, rounded up
# There is no town below the Dead Sea's shore, nor above the highest mine: such heights are faults.
LEAST_M, MOST_M = -430.0, 5500.0

# Fitted on 60,000 places whose altitude is known, each taken out and left with neighbours only
# as near as a place without altitude has them. `measure` prints what it comes to.
NEIGHBOURS = 8
FADE_KM = 15.0
PER_MAP, PER_VALLEY, PER_CORRECTION, PER_NEIGHBOUR = 0.83, 0.15, 0.91, 0.32
# Seven to eight of ten estimates are within this share of the relief; the doubt has bounds.
DOUBT_PER_RELIEF, LEAST_DOUBT_M, MOST_DOUBT_M = 0.75, 30.0, 500.0


@dataclass(frozen=True)
class MapHeights:
    """What the coarse map says around P places; all of shape (P,). [m]

    Attributes
    ----------
    between : ndarray
        Between the four cells around the place.
    valley : ndarray
        The lowest of the nine cells around it.
    relief : ndarray
        Standard deviation of those nine cells.
    """

    between: Floats
    valley: Floats
    relief: Floats


def known_altitudes(places: Sequence[dict[str, Any]], cities500: Path) -> Floats:
    """Altitude by GeoNames, NaN where it gives none. [m], shape (P,)

    Parameters
    ----------
    places : sequence of dict
        With ``geonameid``, ``latitude`` and ``longitude``.
    cities500 : Path
        GeoNames' table of that name, tab-separated: column 0 the id, 4 and 5 the position, 15
        ``elevation`` in metres where somebody entered it, 16 ``dem``.
    """
    known: dict[int, tuple[float, float, float]] = {}
    with cities500.open(encoding="utf-8") as file:
        for line in file:
            row = line.rstrip("\n").split("\t")
            entered, model = (float(text) if text else np.nan for text in row[15:17])
            height = model if model == model and model > -9999.0 else entered
            known[int(row[0])] = float(row[4]), float(row[5]), height
    nothing = (np.nan, np.nan, np.nan)
    rows = np.array([known.get(int(place["geonameid"]), nothing) for place in places])
    here = _points(*_positions(places))
    moved = np.linalg.norm(here - _points(rows[:, 0], rows[:, 1]), axis=1) > MOVED_KM
    sound = ~moved & (rows[:, 2] >= LEAST_M) & (rows[:, 2] <= MOST_M)
    return np.where(sound, rows[:, 2], np.nan)


def altitudes(places: Sequence[dict[str, Any]], cities500: Path) -> tuple[Floats, Floats]:
    """Altitude of each place and its doubt. [m], both of shape (P,)"""
    known = known_altitudes(places, cities500)
    latitude, longitude = _positions(places)
    ground = map_heights(latitude, longitude)
    there = np.isfinite(known)
    distance, row = _neighbours(_points(latitude, longitude), there, ~there)
    guess = estimate(ground, known, there, ~there, distance, row)
    doubt = np.full(len(known), KNOWN_DOUBT_M)
    doubt[~there] = doubt_m(ground.relief[~there])
    height = np.where(there, known, _spread(guess, ~there))
    hole = (np.abs(latitude) > HOLES_FROM_DEG) & (height < 0.0)
    return np.where(hole, 0.0, height), doubt


def doubt_m(relief: Floats) -> Floats:
    """Standard error of an estimate, to two figures. [m]"""
    raw = np.clip(DOUBT_PER_RELIEF * relief, LEAST_DOUBT_M, MOST_DOUBT_M)
    return np.asarray(np.round(raw, -1))


def map_heights(latitude: Floats, longitude: Floats) -> MapHeights:
    """The coarse map around places, read as pvlib has it: steps of 28 m, 255 is the sea."""
    path = os.path.join(os.path.dirname(pvlib.__file__), "data", "Altitude.h5")
    with h5py.File(path) as file:
        raw = np.asarray(file["Altitude"])
    ground = np.where(raw == 255, 0.0, 28.0 * raw.astype(np.float64) - 450.0)
    per_degree = ground.shape[0] / 180.0
    y, x = (90.0 - latitude) * per_degree, (longitude + 180.0) * per_degree
    row = np.clip(y.astype(np.int64), 0, ground.shape[0] - 1)
    column = x.astype(np.int64) % ground.shape[1]
    mean, squares = (uniform_filter(layer, 3, mode="wrap") for layer in (ground, ground**2))
    return MapHeights(
        between=_between(ground, y - 0.5, x - 0.5),
        valley=minimum_filter(ground, 3, mode="wrap")[row, column],
        relief=np.sqrt(np.maximum(squares - mean**2, 0.0))[row, column],
    )


def _between(grid: Floats, y: Floats, x: Floats) -> Floats:
    """Bilinear, round the world along the second axis."""
    row = np.clip(np.floor(y).astype(np.int64), 0, grid.shape[0] - 2)
    column = np.floor(x).astype(np.int64)
    down, east = np.clip(y - row, 0.0, 1.0), x - column
    west, right = column % grid.shape[1], (column + 1) % grid.shape[1]
    upper = grid[row, west] * (1 - east) + grid[row, right] * east
    lower = grid[row + 1, west] * (1 - east) + grid[row + 1, right] * east
    return np.asarray(upper * (1 - down) + lower * down)


def estimate(
    ground: MapHeights,
    known: Floats,
    there: NDArray[np.bool_],
    asked: NDArray[np.bool_],
    distance: Floats,
    row: NDArray[np.int64],
) -> Floats:
    """Altitude of the places asked for, from the map and their neighbours. [m]

    Parameters
    ----------
    ground : MapHeights
        Of all P places.
    known : ndarray, shape (P,)
        Altitude, used where `there`.
    there, asked : ndarray of bool, shape (P,)
    distance : ndarray, shape (A, N)
        To the neighbours of each of the A places asked for. [km]
    row : ndarray of int, shape (A, N)
        Their position among the places that are `there`.
    """
    weight = np.exp(-distance / FADE_KM) / (distance + 2.0) ** 2 + 1e-12
    weight /= weight.sum(axis=1, keepdims=True)
    heights = known[there]
    neighbour = (weight * heights[row]).sum(axis=1)
    correction = (weight * (heights - ground.between[there])[row]).sum(axis=1)
    near = np.exp(-distance[:, 0] / FADE_KM)
    between, valley = ground.between[asked], ground.valley[asked]
    guess = PER_MAP * between + PER_VALLEY * valley
    guess += near * (PER_CORRECTION * correction + PER_NEIGHBOUR * (neighbour - between))
    return np.asarray(np.clip(guess, LEAST_M, MOST_M))


def measure(places: Sequence[dict[str, Any]], cities500: Path) -> None:
    """Print how good the estimate is where the altitude is known but was taken out."""
    known = known_altitudes(places, cities500)
    latitude, longitude = _positions(places)
    ground, points = map_heights(latitude, longitude), _points(latitude, longitude)
    there = np.isfinite(known)
    away, _ = _neighbours(points, there, ~there)
    rng = np.random.default_rng(1)
    held = there & (rng.random(len(known)) < 0.3)
    kept = there & ~held
    distance, row = _neighbours(points, kept, held, 60)
    # Neighbours no nearer than those of a place whose altitude is really missing.
    least = rng.permutation(np.resize(away[:, 0], held.sum()))[:, None]
    order = np.argsort(np.where(distance >= least, distance, np.inf), axis=1)[:, :NEIGHBOURS]
    distance, row = (np.take_along_axis(x, order, axis=1) for x in (distance, row))
    guess = estimate(ground, known, kept, held, distance, row)
    error, raw = guess - known[held], ground.between[held] - known[held]
    relief, doubt = ground.relief[held], doubt_m(ground.relief[held])
    print(f"{there.mean():.1%} of {len(known):,} places have an altitude")
    for low, high in ((0, 9999), (0, 50), (50, 100), (100, 200), (200, 9999)):
        rows = (relief >= low) & (relief < high)
        print(
            f"relief {low} to {high} m: {rows.sum():,} places taken out, rms "
            f"{np.sqrt((raw[rows] ** 2).mean()):.0f} m by the map, "
            f"{np.sqrt((error[rows] ** 2).mean()):.0f} m estimated, "
            f"{(np.abs(error[rows]) <= doubt[rows]).mean():.0%} within the doubt"
        )


def _neighbours(
    points: Floats, there: NDArray[np.bool_], asked: NDArray[np.bool_], count: int = NEIGHBOURS
) -> tuple[Floats, NDArray[np.int64]]:
    """Distance [km] and row among `there` of the nearest known places. shape (A, count)"""
    distance, row = cKDTree(points[there]).query(points[asked], k=count)
    return np.asarray(distance), np.asarray(row, dtype=np.int64)


def _positions(places: Sequence[dict[str, Any]]) -> tuple[Floats, Floats]:
    pairs = np.array([(place["latitude"], place["longitude"]) for place in places])
    return pairs[:, 0], pairs[:, 1]


def _points(latitude: Floats, longitude: Floats) -> Floats:
    """On a sphere; the way through the Earth is the distance, near enough. [km], shape (P, 3)"""
    phi, lam = np.radians(latitude), np.radians(longitude)
    unit = [np.cos(phi) * np.cos(lam), np.cos(phi) * np.sin(lam), np.sin(phi)]
    return EARTH_RADIUS_KM * np.stack(unit, axis=1)


def _spread(values: Floats, rows: NDArray[np.bool_]) -> Floats:
    """Values at these rows, NaN elsewhere."""
    full = np.full(len(rows), np.nan)
    full[rows] = values
    return full
