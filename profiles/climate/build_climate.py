"""Build `climate.npz`, the world climate that comes with the program.

    pip install "nightledger[tables]"
    python profiles/climate/build_climate.py

What goes in, and under which terms, is in README.md beside this file.
"""

from __future__ import annotations

import argparse
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from sim.sky.climate.tables import months_of_sun

Floats = NDArray[np.float64]

PROBABILITIES = np.array([0.02, 0.05, 0.10, 0.20, 0.35, 0.50, 0.65, 0.80, 0.90, 0.95, 0.98])
KT_PER_COUNT = 1.0 / 250.0  # a stored byte is KT in steps of 0.004
KELVIN_PER_COUNT = 0.1
LAPSE_K_PER_M = 6.5e-3  # K/m, ICAO standard atmosphere
WH_PER_DAY_AND_WATT = 24.0
# Months with less sun than this outside the atmosphere take their KT from the nearest month
# that has more: the quotient of two numbers near zero is no climate.
LEAST_EXTRATERRESTRIAL_WH = 500.0
# Sea-level temperature is stored every second row and column of the source's 0.75 degrees.
TEMPERATURE_STEP_DEG = 1.5
# Half width of the square over which the source's cell is taken to have its altitude.
CELL_HALF_WIDTH_DEG = 0.375
DEFAULT_OUT = Path(__file__).resolve().parent / "climate.npz"


def quantiles_of(values: Floats, weights: Floats) -> Floats:
    """Quantiles of a histogram at `PROBABILITIES`.

    Parameters
    ----------
    values, weights : ndarray, shape (128,)
        Bin centres, and what falls into each bin (any scale).

    Returns
    -------
    ndarray, shape (11,)
        In the unit of `values`; between bins linear in the cumulated weight at mid-bin.
    """
    share = weights / weights.sum()
    return np.interp(PROBABILITIES, np.cumsum(share) - 0.5 * share, values)


def clearness_table(pdfs: dict[str, NDArray[np.generic]]) -> NDArray[np.uint8]:
    """Quantiles of the daily clearness index for every land cell and month.

    Parameters
    ----------
    pdfs : dict
        The arrays of `gsee_climate_data.load()`.

    Returns
    -------
    ndarray of uint8, shape (44, 120, 12, 11)
        KT / 0.004; zero everywhere in a cell without data.
    """
    values = np.asarray(pdfs["xk"], dtype=np.float64)
    weights = np.nan_to_num(np.asarray(pdfs["pk"], dtype=np.float64))
    extra, _ = months_of_sun(np.asarray(pdfs["lat"], dtype=np.float64))
    out = np.zeros((*values.shape[:3], len(PROBABILITIES)))
    for i, j in np.argwhere((weights.sum(axis=3) > 0.0).any(axis=2)):
        bright = (extra[i] >= LEAST_EXTRATERRESTRIAL_WH) & (weights[i, j].sum(axis=1) > 0.0)
        if not bright.any():
            continue
        for m in range(12):
            source = nearest_month(m, bright)
            watts = quantiles_of(values[i, j, source], weights[i, j, source])
            out[i, j, m] = watts * WH_PER_DAY_AND_WATT / extra[i, source]
    # Five years leave 3 % of chance in a month's mean; its neighbours take half of that away.
    out = 0.5 * out + 0.25 * (np.roll(out, 1, axis=2) + np.roll(out, -1, axis=2))
    return np.clip(np.round(out / KT_PER_COUNT), 0, 255).astype(np.uint8)


def nearest_month(month: int, bright: NDArray[np.bool_]) -> int:
    """The month with sun that is nearest in the calendar, `month` itself if it has some."""
    candidates = np.flatnonzero(bright)
    apart = np.abs(candidates - month)
    return int(candidates[np.argmin(np.minimum(apart, 12 - apart))])


def ground_altitude_m() -> tuple[Floats, NDArray[np.bool_]]:
    """Altitude of the ground every twelfth of a degree, and where there is sea.

    Returns
    -------
    altitude_m, sea : ndarray, shape (2160, 4320)
        North to south, from 180 W eastwards; sea counts as 0 m.
    """
    import h5py
    import pvlib

    with h5py.File(Path(pvlib.__file__).parent / "data" / "Altitude.h5") as file:
        counts = np.asarray(file["Altitude"])
    sea = counts == 255
    # scale and offset of pvlib.location.lookup_altitude
    return np.where(sea, 0.0, counts * 28.0 - 450.0), sea


def box_mean(grid: Floats, latitude: Floats, longitude: Floats, half_width_deg: float) -> Floats:
    """Mean of a world grid over a square around each crossing of rows and columns.

    Parameters
    ----------
    grid : ndarray, shape (2160, 4320)
        As `ground_altitude_m` gives it.
    latitude, longitude : ndarray, shapes (I,), (J,)
        [degrees]
    half_width_deg : float

    Returns
    -------
    ndarray, shape (I, J)
    """
    rows, columns = grid.shape
    per_degree = rows / 180.0
    reach = round(half_width_deg * per_degree)
    row = np.floor((90.0 - latitude) * per_degree).astype(int)
    column = np.floor((longitude + 180.0) * per_degree).astype(int)
    steps = np.arange(-reach, reach + 1)
    by_row = grid[np.clip(row[:, None] + steps, 0, rows - 1)].mean(axis=1)
    return by_row[:, (column[:, None] + steps) % columns].mean(axis=2)


def sea_level_temperature() -> NDArray[np.int16]:
    """Monthly mean temperature reduced to sea level, every 1.5 degrees.

    Returns
    -------
    ndarray of int16, shape (12, 121, 240)
        [0.1 deg C]; south to north from 90 S, eastwards from 180 W.

    Notes
    -----
    ITU-R P.1510-1 gives 0.75 degrees; every second node is kept. The ground under a node is
    the mean of pvlib's altitude within 0.375 degrees.
    """
    import itur

    data = Path(itur.__file__).parent / "data" / "1510"
    latitude = np.load(data / "v1_lat.npz")["arr_0"][::2, 0]
    longitude = np.load(data / "v1_lon.npz")["arr_0"][0, :-1:2]
    altitude_m = box_mean(ground_altitude_m()[0], latitude, longitude, CELL_HALF_WIDTH_DEG)
    months = []
    for month in range(1, 13):
        kelvin = np.load(data / f"v1_t_month{month:02d}.npz")["arr_0"][::2, :-1:2]
        months.append(kelvin - 273.15 + LAPSE_K_PER_M * altitude_m)
    return np.round(np.stack(months) / KELVIN_PER_COUNT).astype(np.int16)


def sea_bits() -> NDArray[np.uint8]:
    """Where there is sea, one bit per twelfth of a degree.

    Returns
    -------
    ndarray of uint8, shape (2160, 540)
        `numpy.packbits` along longitude; north to south, from 180 W eastwards.
    """
    return np.packbits(ground_altitude_m()[1], axis=1)


def build() -> dict[str, NDArray[np.generic]]:
    """All tables, as they stand in the file."""
    import gsee_climate_data

    with gsee_climate_data.load() as pdfs:
        arrays = {name: pdfs[name] for name in ("xk", "pk", "lat", "lon")}
    return {
        "probabilities": PROBABILITIES,
        "clearness": clearness_table(arrays),
        "clearness_latitude": np.asarray(arrays["lat"], dtype=np.float64),
        "clearness_longitude": np.asarray(arrays["lon"], dtype=np.float64),
        "sea_level_temperature": sea_level_temperature(),
        "sea": sea_bits(),
    }


def main() -> None:
    """Write the file and say how big it is."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--out", type=Path, default=DEFAULT_OUT)
    out: Path = parser.parse_args().out
    np.savez_compressed(out, **build())
    print(f"{out}: {out.stat().st_size / 1e6:.2f} MB")


if __name__ == "__main__":
    main()
