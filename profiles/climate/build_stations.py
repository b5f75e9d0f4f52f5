"""Build `stations.npz`: how far weather stations lie from the built-in climate, smoothed.

    python profiles/climate/build_stations.py

Reads the tables of stations under tests/data. At each station the months' departures on the
logit scale are described by a mean and two waves of the year; each of these five numbers is
spread over the globe by simple kriging with an exponential correlation. Where no station is
near, the departure fades to nothing and its doubt grows to what stations differ by.
"""

from __future__ import annotations

import argparse
import csv
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cholesky, solve_triangular
from scipy.special import logit

from sim.sky.climate.coast import sea_distance_km, shore_shift
from sim.sky.climate.corrections import (
    DOUBT_PER_COUNT,
    HARMONICS,
    ROOM,
    SHIFT_PER_COUNT,
    year_waves,
)
from sim.sky.climate.days import on_date
from sim.sky.climate.islands import CELLS_ALONE_KM
from sim.sky.climate.tables import (
    _tables,
    air_shift,
    brightest_clearness,
    mean_weights,
    months_of_sun,
    reanalysis_clearness,
    sea_cooling,
)
from sim.sky.sun_means import sun_clock
from sim.units import EARTH_RADIUS_KM

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

DATA = Path(__file__).resolve().parents[2] / "tests" / "data"
DEFAULT_OUT = Path(__file__).resolve().parent / "stations.npz"
SOUTH_DEG, STEP_DEG, ROWS = -60.0, 3.0, 46
SPELL_DAYS = 14
FIRST_DAY = int(np.datetime64("2001-01-01").astype("datetime64[D]").astype(int))

# Clearness from the share of possible sunshine, fitted on the stations of spells.csv and
# climate_stations.csv that lie near one of sunshine.csv: KT = 0.257 + 0.465 n/N.
ANGSTROM = (0.257, 0.465)
# Sunshine tells how the season runs at a place, not its level: the line above differs from
# climate to climate by more than the table does. Its stations' yearly mean is not used.
# Variance of what is common to neighbours, of what is a station's own, and the distance in
# which the common part fades to 1/e: from the covariance of stations by distance. Half or
# twice of any of them changes the left-out RMSE by less than 0.15 points.
COMMON = np.array([0.022, 0.012, 0.012, 0.004, 0.004])
FADE_KM = np.array([1000.0, 1000.0, 1000.0, 800.0, 800.0])
OWN = {
    "spells": np.array([0.030, 0.030, 0.030, 0.020, 0.020]),
    "months": np.array([0.030, 0.020, 0.020, 0.012, 0.012]),
    "sunshine": np.array([np.inf, 0.015, 0.015, 0.010, 0.010]),
}
LARGEST = 0.7  # of a station's numbers; what lies beyond is no climate
LEAST_OUTSIDE_WH = 500.0  # a month with less sun outside the atmosphere says nothing
LEAST_MONTHS = 6
THIN_DEG = 2.0  # stations of sunshine.csv within such a cell are taken together
SEA_NODE = 0.9  # share of sea around a node of the temperature map that makes it one at sea


@dataclass(frozen=True)
class Departures:
    """How far S stations lie from the reanalysis: numbers of the year's waves, shape (S, 5)."""

    kind: str
    latitude: Floats
    longitude: Floats
    waves: Floats

    def without(self, left_out: Bools) -> Departures:
        """The other stations."""
        keep = ~left_out
        return Departures(self.kind, self.latitude[keep], self.longitude[keep], self.waves[keep])


def read(file: str) -> list[dict[str, str]]:
    """Rows of a table of tests/data."""
    with (DATA / file).open(newline="", encoding="utf-8") as handle:
        return list(csv.DictReader(handle))


def column(rows: list[dict[str, str]], key: str) -> Floats:
    """Numbers of a column, NaN where it is empty."""
    return np.array([float(row[key] or "nan") for row in rows])


def months(rows: list[dict[str, str]], key: str) -> Floats:
    """Twelve columns, shape (S, 12)."""
    return np.stack([column(rows, f"{key}_{month:02d}") for month in range(1, 13)], axis=1)


def spell_stations() -> list[list[dict[str, str]]]:
    """Rows of spells.csv by station, twelve each, that the table's cells speak for."""
    by_place: dict[tuple[str, ...], list[dict[str, str]]] = {}
    for row in read("spells.csv"):
        by_place.setdefault((row["station"], row["latitude"], row["longitude"]), []).append(row)
    return [rows for rows in by_place.values() if known(rows[0])]


def known(row: dict[str, str]) -> bool:
    """Whether the table's cells alone speak for a station."""
    _, cell_km = reanalysis_clearness(*(np.array([float(row[key])]) for key in PLACE))
    return bool(cell_km[0] <= CELLS_ALONE_KM)


PLACE = ("latitude", "longitude", "altitude_m")


def outside_wh(latitude: float, day: NDArray[np.int64]) -> Floats:
    """Sun outside the atmosphere on days since 1970-01-01. [Wh/m2/day]"""
    noon = (day * 86400 + 43200).astype("datetime64[s]")
    clock = sun_clock(noon, 0)
    phi = np.radians(latitude)
    steady = np.sin(phi) * np.sin(clock.declination)
    swing = np.cos(phi) * np.cos(clock.declination)
    up = np.arccos(np.clip(-steady / swing, -1.0, 1.0))
    return np.asarray(clock.dni_extra * 24.0 / np.pi * (up * steady + swing * np.sin(up)))


def of_spells() -> Departures:
    """From the fortnights of typical years."""
    stations = spell_stations()
    where = np.array([[float(rows[0][key]) for key in PLACE] for rows in stations])
    table = mean_clearness(*where.T)
    measured = np.empty((len(stations), 12))
    for s, rows in enumerate(stations):
        for row in rows:
            day = FIRST_DAY + int(row["first_day_of_year"]) + np.arange(SPELL_DAYS)
            drawn = on_date(table[s : s + 1], day + 0.5, np.zeros(SPELL_DAYS, dtype=np.int64))
            expected = (drawn * outside_wh(where[s, 0], day)).mean() / 1000.0
            month = int(row["month"]) - 1
            measured[s, month] = table[s, month] * float(row["ghi_mean_kwh"]) / expected
    return departures("spells", *where.T, measured)


def of_months() -> Departures:
    """From monthly means of irradiation."""
    rows = read("climate_stations.csv")
    where = [column(rows, key) for key in PLACE]
    measured = 1000.0 * months(rows, "ghi_kwh_m2_day") / months_of_sun(where[0])[0]
    return departures("months", *where, measured)


def of_sunshine() -> Departures:
    """From hours of sunshine; less what they have in common over the globe, thinned."""
    rows = [row for row in read("sunshine.csv") if known(row)]
    where = [column(rows, key) for key in PLACE]
    measured = ANGSTROM[0] + ANGSTROM[1] * months(rows, "sun_mean") / 1000.0
    found = departures("sunshine", *where, measured)
    north = np.where(where[0] < 0.0, -1.0, 1.0)[:, None]
    turned = found.waves * np.hstack([np.ones_like(north), north, north, np.ones((len(north), 2))])
    common = np.nanmean(turned, axis=0)
    waves = (turned - common) * np.hstack(
        [np.ones_like(north), north, north, np.ones((len(north), 2))]
    )
    across = THIN_DEG / np.maximum(np.cos(np.radians(where[0])), 0.3)
    cell = np.floor(where[0] / THIN_DEG) * 1000.0 + np.floor((where[1] + 360.0) / across)
    good = np.isfinite(waves).all(axis=1)
    _, member = np.unique(cell[good], return_inverse=True)
    count = np.bincount(member)
    mean = [np.bincount(member, x[good]) / count for x in (where[0], where[1], *waves.T)]
    return Departures("sunshine", mean[0], mean[1], np.stack(mean[2:], axis=1))


def mean_clearness(latitude: Floats, longitude: Floats, altitude_m: Floats) -> Floats:
    """Mean KT of the months before any station counts, shape (S, 12)."""
    quantiles, _ = reanalysis_clearness(latitude, longitude, altitude_m)
    return np.asarray(quantiles @ mean_weights(_tables().probabilities))


def departures(
    kind: str, latitude: Floats, longitude: Floats, altitude_m: Floats, measured: Floats
) -> Departures:
    """Waves of the year through a station's departures from the table."""
    top = ROOM * brightest_clearness(altitude_m)[:, None]
    table = mean_clearness(latitude, longitude, altitude_m)
    apart = logit(np.clip(measured / top, 0.02, 0.97)) - logit(np.clip(table / top, 0.02, 0.97))
    apart -= known_before(latitude, longitude, altitude_m)
    apart[months_of_sun(latitude)[0] < LEAST_OUTSIDE_WH] = np.nan
    waves = np.full((len(latitude), HARMONICS), np.nan)
    for s, values in enumerate(apart):
        seen = np.isfinite(values)
        if seen.sum() >= LEAST_MONTHS:
            base = year_waves()[:, seen]
            normal = base @ base.T + 1e-6 * np.eye(HARMONICS)
            waves[s] = np.linalg.solve(normal, base @ values[seen])
    return Departures(kind, latitude, longitude, np.clip(waves, -LARGEST, LARGEST))


def known_before(latitude: Floats, longitude: Floats, altitude_m: Floats) -> Floats:
    """What the program changes before any station counts: cold, the north, and the low cloud of
    cold seas. (S, 12)"""
    sea_km = sea_distance_km(_tables().sea, latitude, longitude)
    at_sea = np.unpackbits(nodes_at_sea(), axis=1).astype(np.bool_)
    shores = shore_shift(sea_cooling(at_sea, latitude, longitude, sea_km))
    return np.asarray(shores + air_shift(latitude, longitude, altitude_m, sea_km))


def all_departures() -> list[Departures]:
    """Of the three tables."""
    return [of_spells(), of_months(), of_sunshine()]


def smoothed(
    stations: list[Departures], latitude: Floats, longitude: Floats
) -> tuple[Floats, Floats]:
    """The stations' departures at points.

    Returns
    -------
    waves : ndarray, shape (5, P)
    doubt : ndarray, shape (P,)
        Standard deviation of what is common to neighbours and still open, mean of the months.
    """
    waves, left = [], np.zeros(len(latitude))
    known: dict[bytes, tuple[Floats, Floats]] = {}
    for h in range(HARMONICS):
        parts = [x for x in stations if np.isfinite(OWN[x.kind][h])]
        seen = [np.isfinite(x.waves[:, h]) for x in parts]
        north = np.concatenate([x.latitude[k] for x, k in zip(parts, seen, strict=True)])
        east = np.concatenate([x.longitude[k] for x, k in zip(parts, seen, strict=True)])
        value = np.concatenate([x.waves[k, h] for x, k in zip(parts, seen, strict=True)])
        own = np.concatenate(
            [np.full(k.sum(), OWN[x.kind][h]) for x, k in zip(parts, seen, strict=True)]
        )
        # Both parts of a wave are spread alike.
        key = np.concatenate([[COMMON[h], FADE_KM[h]], own, north, east]).tobytes()
        if key not in known:
            between = COMMON[h] * np.exp(-apart_km(north, east, north, east) / FADE_KM[h])
            toward = COMMON[h] * np.exp(-apart_km(north, east, latitude, longitude) / FADE_KM[h])
            root = cholesky(between + np.diag(own), lower=True)
            known[key] = root, solve_triangular(root, toward, lower=True)
        root, reach = known[key]
        waves.append(solve_triangular(root, value, lower=True) @ reach)
        left += (COMMON[h] - (reach**2).sum(axis=0)) * (year_waves()[h] ** 2).mean()
    return np.stack(waves), np.sqrt(np.maximum(left, 0.0))


def apart_km(latitude: Floats, longitude: Floats, to_lat: Floats, to_lon: Floats) -> Floats:
    """Great circles. [km], shape (P, N)"""
    one, other = (
        np.stack([np.cos(phi) * np.cos(lam), np.cos(phi) * np.sin(lam), np.sin(phi)], axis=1)
        for phi, lam in (
            (np.radians(latitude), np.radians(longitude)),
            (np.radians(to_lat), np.radians(to_lon)),
        )
    )
    return np.asarray(EARTH_RADIUS_KM * np.arccos(np.clip(one @ other.T, -1.0, 1.0)))


def nodes_at_sea() -> NDArray[np.uint8]:
    """Nodes of the temperature map with hardly any land within 0.75 degrees, as bits.

    The map of the sea begins in the north, that of the temperature in the south.
    """
    wet = np.unpackbits(_tables().sea, axis=1)[::-1].astype(np.float64)
    around = np.roll(np.pad(wet, ((9, 9), (0, 0)), mode="edge"), 9, axis=1)
    share = around.reshape(121, 18, 240, 18).mean(axis=(1, 3))
    return np.packbits(share >= SEA_NODE, axis=1)


def nodes() -> tuple[Floats, Floats]:
    """Latitudes and longitudes of the stations' grid. [degrees], two of shape (rows, 120)"""
    north, east = np.meshgrid(
        SOUTH_DEG + STEP_DEG * np.arange(ROWS), -180.0 + STEP_DEG * np.arange(120), indexing="ij"
    )
    return north, east


def counts(waves: Floats, doubt: Floats) -> tuple[NDArray[np.int8], NDArray[np.uint8]]:
    """What `smoothed` gives, as stored."""
    return (
        np.round(waves / SHIFT_PER_COUNT).astype(np.int8),
        np.round(doubt / DOUBT_PER_COUNT).astype(np.uint8),
    )


def build(stations: list[Departures]) -> dict[str, NDArray[np.generic]]:
    """The arrays of the file."""
    north, east = nodes()
    shift, doubt = counts(*smoothed(stations, north.ravel(), east.ravel()))
    return {
        "shift": shift.reshape(HARMONICS, *north.shape),
        "doubt": doubt.reshape(north.shape),
        "south": np.array(SOUTH_DEG),
        "step": np.array(STEP_DEG),
        "at_sea": nodes_at_sea(),
    }


def main() -> None:
    """Write the file and say how big it is."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--out", type=Path, default=DEFAULT_OUT)
    out: Path = parser.parse_args().out
    np.savez_compressed(out, **build(all_departures()))
    print(f"{out}: {out.stat().st_size / 1e3:.0f} kB")


if __name__ == "__main__":
    main()
