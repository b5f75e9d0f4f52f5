"""How good the built-in climate is, in figures:  python tests/outside/climate_report.py

Against station figures typed into tests/data (sources there) and against the three typical
years that ship with pvlib; whether the odds are true on stations left out of the fit (the last
part, some minutes). `test_climate_stations.py` holds the same figures to their limits.
"""

from __future__ import annotations

import csv
import sys
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from unittest import mock

sys.path.insert(0, str(Path(__file__).resolve().parent))
import climate_odds as odds
import numpy as np
import pvlib
from numpy.typing import NDArray

from sim.arrays import Floats
from sim.sky.climate import draws as drawing
from sim.sky.climate.draws import climate_draws
from sim.sky.climate.tables import PointClimate, mean_weights, months_of_sun, point_climate
from sim.sky.sun import Sun, position
from sim.sky.track import Track, Weather

DATA = Path(__file__).resolve().parents[1] / "data"
TYPICAL_YEARS = ("12839.tm2", "723170TYA.CSV", "703165TY.csv")
NAMES = {"12839.tm2": "Miami", "723170TYA.CSV": "Greensboro", "703165TY.csv": "Sand Point"}
HIGHEST_ZENITH_DEG = 85.0  # hourly kt is looked at while the sun is higher than 5 degrees
DARK_MONTHS = [10, 11, 0, 1]  # all but three of the stations lie north of the equator
MONTH = (
    np.arange("2001-01-01", "2002-01-01", dtype="datetime64[D]").astype("datetime64[M]").astype(int)
    % 12
)


@dataclass(frozen=True)
class Stations:
    """S stations, monthly columns of shape (S, 12)."""

    name: tuple[str, ...]
    latitude: Floats
    longitude: Floats
    altitude_m: Floats
    columns: dict[str, Floats]


def read_stations(file: str) -> Stations:
    """One of the tables in tests/data."""
    with (DATA / file).open(newline="", encoding="utf-8") as handle:
        rows = list(csv.DictReader(handle))
    months = sorted({key[:-3] for key in rows[0] if key[-3] == "_" and key[-2:].isdigit()})

    def column(key: str) -> Floats:
        return np.array([float(row[key] or "nan") for row in rows])

    return Stations(
        name=tuple(row["station"] for row in rows),
        latitude=column("latitude"),
        longitude=column("longitude"),
        altitude_m=column("altitude_m"),
        columns={
            key: np.stack([column(f"{key}_{m:02d}") for m in range(1, 13)], axis=1)
            for key in months
        },
    )


def monthly_errors(stations: Stations) -> dict[str, Floats]:
    """Climate minus station: GHI [kWh/m2/day], temperature [deg C], range [K]; (S, 12)."""
    here = point_climate(stations.latitude, stations.longitude, stations.altitude_m)
    extra, _ = months_of_sun(stations.latitude)
    ghi = here.clearness_mean * extra / 1000.0
    return {
        "ghi": ghi - stations.columns["ghi_kwh_m2_day"],
        "temperature": here.temperature_c - stations.columns["temperature_c"],
        "range": here.temperature_range_c - stations.columns["range_c"],
    }


def rms(errors: Floats) -> float:
    """Root of the mean square."""
    return float(np.sqrt(np.nanmean(errors**2)))


def year_at(latitude: float, longitude: float, altitude_m: float, zone_h: float) -> Track:
    """2001 in hours of a zone's standard time at one place."""
    hours = np.arange(8760)
    start = np.datetime64("2001-01-01", "s") + hours * np.timedelta64(3600, "s")
    here = np.ones(8760)
    return Track(
        start - np.timedelta64(round(3600 * zone_h), "s"),
        60,
        latitude * here,
        longitude * here,
        altitude_m * here,
    )


def by_day(hourly: Floats) -> Floats:
    """Daily means of the hours of a year, shape (365, ...)."""
    return np.asarray(hourly.reshape(365, 24, *hourly.shape[1:]).mean(axis=1))


def daily_clearness(sun: Sun, ghi: Floats) -> Floats:
    """KT of every day of a year, shape (365, ...)."""
    extra = by_day(sun.ghi_extra)
    return by_day(ghi) / np.maximum(extra, 1e-9).reshape(-1, *([1] * (ghi.ndim - 1)))


def by_month(daily: Floats, of: Callable[[Floats], Floats]) -> Floats:
    """A figure of the days of each month, shape (12, ...)."""
    return np.stack([of(daily[month == MONTH]) for month in range(12)])


def lowest_three_days(daily: Floats) -> Floats:
    """The lowest mean of three days in a row."""
    return np.asarray(((daily[:-2] + daily[1:-1] + daily[2:]) / 3.0).min(axis=0))


def spread(daily: Floats) -> Floats:
    """Standard deviation of the days."""
    return np.asarray(daily.std(axis=0, ddof=1))


def drawn_days(stations: Stations, draws: int) -> dict[str, Floats]:
    """Spread and lowest three days of drawn KT, mean over the draws; each (S, 12)."""
    spreads, lowest = [], []
    for where in zip(stations.latitude, stations.longitude, stations.altitude_m, strict=True):
        track = year_at(*where, zone_h=round(where[1] / 15.0))
        sun = odds.quick_position(track)
        with odds.of_whole_days():
            weather = climate_draws(track, sun, draws=draws, seed=1)
        daily = daily_clearness(sun, weather.ghi)
        spreads.append(by_month(daily, spread).mean(axis=1))
        lowest.append(by_month(daily, lowest_three_days).mean(axis=1))
    return {"kt_sd": np.array(spreads), "kt_lowest_3_days": np.array(lowest)}


@dataclass(frozen=True)
class TypicalYear:
    """A typical-year file on our clock; hours of shape (8760,)."""

    name: str
    track: Track
    ghi: Floats
    dni: Floats


@cache
def typical_year(file: str) -> TypicalYear:
    """One of the files that ship with pvlib."""
    path = Path(pvlib.__file__).parent / "data" / file
    if file.endswith("tm2"):
        table, about = pvlib.iotools.read_tmy2(path)
        ghi, dni = table["GHI"], table["DNI"]
    else:
        table, about = pvlib.iotools.read_tmy3(path, map_variables=True)
        ghi, dni = table["ghi"], table["dni"]
    track = year_at(about["latitude"], about["longitude"], about["altitude"], about["TZ"])
    return TypicalYear(
        NAMES[file], track, ghi.to_numpy(dtype=np.float64), dni.to_numpy(dtype=np.float64)
    )


def hourly_clearness(track: Track, ghi: Floats, minutes: int) -> Floats:
    """Hourly kt; the sun's own mean over the hour is taken in steps of `minutes`."""
    where = (float(x[0]) for x in (track.latitude, track.longitude, track.altitude_m))
    extra = extra_of_hours(*where, track.start_utc[0], minutes)
    return ghi / np.maximum(extra, 1e-9).reshape(-1, *([1] * (ghi.ndim - 1)))


@cache
def extra_of_hours(
    latitude: float, longitude: float, altitude_m: float, first: np.datetime64, minutes: int
) -> Floats:
    """Extraterrestrial irradiance of the hours of a year at a place, as mean over each. [W/m2]"""
    start = first + np.arange(8760) * np.timedelta64(3600, "s")
    extra = np.zeros(8760)
    for minute in range(0, 60, minutes):
        at = start + np.timedelta64(60 * minute, "s")
        where = (np.full(8760, x) for x in (latitude, longitude, altitude_m))
        extra += position(Track(at, minutes, *where)).ghi_extra
    return extra / (60 // minutes)


def kolmogorov_smirnov(one: Floats, other: Floats) -> float:
    """Largest distance between two empirical distribution functions."""
    at = np.concatenate([one, other])
    shares = [np.searchsorted(np.sort(x), at, side="right") / len(x) for x in (one, other)]
    return float(np.abs(shares[0] - shares[1]).max())


@dataclass(frozen=True)
class HourlyMatch:
    """How drawn hours compare with a file's."""

    distance: Floats  # (12,) Kolmogorov-Smirnov distance of hourly kt, by month
    distance_year: float
    dni: Floats  # (12,) monthly DNI over the file's
    dni_year: float
    ghi: Floats  # (12,) monthly GHI over the file's


def compare(year: TypicalYear, weather: Weather) -> HourlyMatch:
    """Hours of all draws against the file's."""
    up = position(year.track).zenith < HIGHEST_ZENITH_DEG
    month = np.repeat(MONTH, 24)
    theirs = hourly_clearness(year.track, year.ghi, 10)
    ours = hourly_clearness(year.track, weather.ghi, 60)

    def distance(hours: NDArray[np.bool_]) -> float:
        return kolmogorov_smirnov(theirs[hours], ours[hours].ravel())

    def ratio(mine: Floats, file: Floats) -> Floats:
        mean = np.asarray(mine.mean(axis=1))
        return np.asarray(np.bincount(month, mean) / np.bincount(month, file))

    return HourlyMatch(
        distance=np.array([distance(up & (month == m)) for m in range(12)]),
        distance_year=distance(up),
        dni=ratio(weather.dni, year.dni),
        dni_year=float(weather.dni.mean() / year.dni.mean()),
        ghi=ratio(weather.ghi, year.ghi),
    )


def drawn(year: TypicalYear, draws: int) -> Weather:
    """Weathers from the climate of a file's place."""
    return climate_draws(year.track, position(year.track), draws=draws, seed=1)


def drawn_with_months_of(year: TypicalYear, draws: int) -> Weather:
    """Weathers whose climate has the file's monthly means: the generator without the climate."""
    wanted = by_month(by_day(year.ghi), lambda x: x.mean(axis=0))
    wanted = wanted / by_month(by_day(position(year.track).ghi_extra), lambda x: x.mean(axis=0))

    def scaled(*where: Floats) -> PointClimate:
        here = point_climate(*where)
        ceiling = 0.8  # of scaled quantiles; no month of the three files comes near
        quantiles = here.clearness * (wanted / here.clearness_mean)[:, :, None]
        quantiles = np.minimum(quantiles, ceiling)
        mean = quantiles @ mean_weights(here.probabilities)
        return replace(here, clearness=quantiles * (wanted / mean)[:, :, None])

    with (
        mock.patch.object(drawing, "_climate_of", drawing._climate_of.__wrapped__),
        mock.patch.object(drawing, "point_climate", scaled),
    ):
        return drawn(year, draws)


def drawn_on_days_of(year: TypicalYear, draws: int) -> Weather:
    """Weathers with the file's own days, so that only the hours are drawn."""
    known = daily_clearness(position(year.track), year.ghi)
    first = np.datetime64("2001-01-01").astype("datetime64[D]").astype(int)
    real = drawing.global_irradiance

    def on_known_days(
        track: Track, sun: object, days: object, clearness: Floats, *rest: object
    ) -> Floats:
        index = np.clip(days.pair_day - first, 0, 364)  # type: ignore[attr-defined]
        same = np.broadcast_to(known[index, None], clearness.shape)
        return real(track, sun, days, same, *rest)  # type: ignore[arg-type]

    with mock.patch.object(drawing, "global_irradiance", on_known_days):
        return drawn(year, draws)


def chance(weather: Weather, year: TypicalYear) -> float:
    """Mean monthly distance of one drawn year from the others: what chance alone makes."""
    one = replace(year, ghi=weather.ghi[:, 0], dni=weather.dni[:, 0] + 1e-9)
    rest = replace(weather, ghi=weather.ghi[:, 1:], dni=weather.dni[:, 1:])
    return float(compare(one, rest).distance.mean())


def _print_stations() -> None:
    stations = read_stations("climate_stations.csv")
    errors = monthly_errors(stations)
    south = stations.latitude < 60.0
    for label, where in (("south of 60 N", south), ("60 N and beyond", ~south)):
        ghi = stations.columns["ghi_kwh_m2_day"][where].mean()
        bias, rmse = errors["ghi"][where].mean() / ghi, rms(errors["ghi"][where]) / ghi
        print(f"\n{where.sum()} stations {label}, 12 months each")
        print(f"  monthly GHI          bias {bias:+7.1%}    RMSE {rmse:.1%}")
        dark = np.ix_(where, DARK_MONTHS)
        ghi = stations.columns["ghi_kwh_m2_day"][dark].mean()
        bias, rmse = errors["ghi"][dark].mean() / ghi, rms(errors["ghi"][dark]) / ghi
        print(f"    November to February bias {bias:+6.1%}    RMSE {rmse:.1%}")
        shares = 1.0 + errors["ghi"] / stations.columns["ghi_kwh_m2_day"]
        off = np.quantile(np.abs(shares[where] - 1.0), 0.95)
        print(f"    one month in twenty is off by more than {off:.0%}")
        for key in ("temperature", "range"):
            mean = errors[key][where].mean()
            print(f"  {key:20s} bias {mean:+6.2f} K   RMSE {rms(errors[key][where]):.2f} K")
    kept = np.isfinite(stations.columns["kt_sd"]).all(axis=1)
    ours = drawn_days(stations, 4)["kt_sd"][kept].mean()
    theirs = stations.columns["kt_sd"][kept].mean()
    print(f"\nspread of daily KT, {kept.sum()} stations: {ours:.3f} against {theirs:.3f} ", end="")
    print(f"({ours / theirs - 1.0:+.1%})")
    years = read_stations("typical_years.csv")
    days = drawn_days(years, 10)
    for key, what in (("kt_sd", "spread"), ("kt_lowest_3_days", "lowest 3 days")):
        ours, theirs = days[key].mean(), years.columns[key].mean()
        print(f"{what} of KT, {len(years.name)} typical years: {ours:.3f} against {theirs:.3f}")


def _print_hours() -> None:
    print("\nhourly kt against the three typical years: Kolmogorov-Smirnov distance")
    print("(mean and largest of the months, the year as one; DNI over the file's, months)")
    for file in TYPICAL_YEARS:
        year = typical_year(file)
        print(f"{year.name}")
        for label, make in (
            ("file's days, drawn hours", drawn_on_days_of),
            ("file's monthly means", drawn_with_months_of),
            ("climate alone", drawn),
        ):
            weather = make(year, 10)
            match = compare(year, weather)
            months = f"{match.distance.mean():.3f} {match.distance.max():.3f}"
            dni = f"{match.dni_year:.2f} ({match.dni.min():.2f} to {match.dni.max():.2f})"
            print(f"  {label:26s} KS {months} {match.distance_year:.3f}   DNI {dni}")
        print(f"  {'by chance alone':26s} KS {chance(weather, year):.3f}")


def _print_odds() -> None:
    """On stations left out of the fit; see `climate_odds`."""
    data = odds.spells()
    everywhere = np.ones_like(data.winter)
    american = (data.source == "TMY3")[:, None] & everywhere
    groups = {
        "all": everywhere,
        "United States": american,
        "elsewhere": ~american,
        "winter": data.winter,
        "winter, United States": data.winter & american,
    }
    for by in ("cells", "regions"):
        print(f"\n{len(data.source)} stations, twelve fortnights each, {by} left out of the fit")
        months = _left_out_months(by)
        found = odds.odds(data, by, draws=200)
        print(f"{'':42s} <10 %  <5 %  inside  >90 %   CRPS   bias")
        missed = [] if months < odds.MONTHS_BEFORE else ["RMSE of monthly GHI"]
        for label, chosen in groups.items():
            for kind in odds.KINDS:
                x = odds.figures(data, found, kind, chosen)
                shares = (x.below_10, x.below_5, x.inside, x.above_90)
                cells = "".join(f"{100 * share:7.1f}" for share in shares)
                bias = f"{x.bias:+.1%}" if kind in odds.KINDS[:2] else f"{x.bias:+.2f} K"
                print(f"{label + ', ' + kind:42.42s}{cells}  {x.crps:.4f}  {bias}")
                missed += [f"{label}, {kind}: {what}" for what in odds.missed(x, kind, label)]
        print("outside what is asked: " + ("; ".join(missed) or "nothing"))


def _left_out_months(by: str) -> float:
    """Prints how far monthly GHI is off at other stations; RMSE south of 60 N."""
    ours, measured = odds.left_out_months(by)
    builder = odds.builder()
    south = builder.column(builder.read("climate_stations.csv"), "latitude") < 60
    rmse = {}
    for label, where in (("south of 60 N", south), ("beyond", ~south)):
        error, mean = (ours - measured)[where], measured[where].mean()
        rmse[label] = rms(error) / mean
        print(f"monthly GHI, {where.sum()} other stations {label}: ", end="")
        print(f"bias {error.mean() / mean:+.1%}, RMSE {rmse[label]:.1%}")
    return rmse["south of 60 N"]


if __name__ == "__main__":
    _print_stations()
    _print_hours()
    _print_odds()
