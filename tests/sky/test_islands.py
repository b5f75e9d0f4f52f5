"""Sunshine beyond the world table: islands, the Arctic, and where nobody lives."""

from __future__ import annotations

import numpy as np
import pytest

from sim.errors import WeatherError
from sim.places.lookup import find_place
from sim.sky.climate import islands, tables
from sim.sky.climate.draws import climate_draws
from sim.sky.climate.monthly import monthly
from sim.sky.climate.tables import point_climate, quantile_mean
from sim.sky.sun import position
from sim.sky.track import Track

HONOLULU = (21.31, -157.86)
# People live there; the table has no cell near.
INHABITED = [
    "Honolulu", "Ponta Delgada", "Reykjavík", "Papeete", "Port Louis, Mauritius",
    "Stanley, Falkland Islands", "Longyearbyen", "Hamilton, Bermuda", "Hanga Roa", "Qaanaaq",
    "Jamestown, Saint Helena", "Victoria, Seychelles", "Puerto Ayora", "Tórshavn",
]  # fmt: skip


@pytest.mark.parametrize("town", INHABITED)
def test_wherever_people_live_there_is_a_climate(town: str) -> None:
    place = find_place(town)
    months = monthly(place.latitude, place.longitude, place.altitude_m or 0.0)
    lit = months.ghi_kwh_m2_day > 0.5
    assert np.all((months.clearness_index[lit] > 0.15) & (months.clearness_index[lit] < 0.7))
    assert np.all(np.diff(months.clearness_quantiles, axis=1) >= 0.0)


@pytest.mark.parametrize(
    ("latitude", "longitude", "height_m", "said"),
    [
        (0.0, -140.0, 0.0, "far out at sea"),
        (0.0, 220.0, 0.0, "far out at sea"),  # the same, its longitude counted on
        (45.0, -40.0, 0.0, "far out at sea"),
        (72.58, -38.46, 3200.0, "on the inner ice"),
        (67.0, -45.0, 2000.0, "on the inner ice"),  # Greenland, with cells all round
        (75.0, -40.0, -58.0, "on the inner ice"),  # by the altitude map: rock below the sea
        (-85.0, 0.0, 2800.0, "on the inner ice"),
    ],
)
def test_where_nobody_lives_is_refused_in_a_sentence(
    latitude: float, longitude: float, height_m: float, said: str
) -> None:
    with pytest.raises(WeatherError, match=rf"{said}, \d+ km from the nearest town.*weather file"):
        monthly(latitude, longitude, height_m)


def test_lonely_land_is_no_open_sea() -> None:
    """The Simpson Desert and the shore of Greenland's east: far from towns, but land."""
    assert monthly(-25.0, 137.0, 100.0).ghi_kwh_m2_day.mean() > 5.0
    assert monthly(70.5, -22.0, 100.0).ghi_kwh_m2_day.mean() > 1.0


def test_near_a_cell_nothing_is_changed() -> None:
    clearness = np.linspace(0.1, 0.8, 11) * np.ones((2, 12, 1))
    apart = np.array([0.0, islands.CELLS_ALONE_KM])

    def warmth(latitude: np.ndarray, longitude: np.ndarray) -> np.ndarray:
        raise AssertionError("not asked for")

    same = islands.with_sea(clearness, np.zeros(2), np.zeros(2), apart, warmth)
    np.testing.assert_array_equal(same, clearness)


@pytest.fixture
def anywhere(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nobody need live there."""
    monkeypatch.setattr(islands, "expect_people", lambda *point: None)


@pytest.mark.usefixtures("anywhere")
def test_the_cells_fade_without_a_step() -> None:
    """From the table's edge into the Atlantic west of Portugal."""
    west = np.linspace(-9.0, -27.0, 400)
    here = point_climate(np.full(400, 38.7), west, np.zeros(400))
    assert here.cell_km.max() > 3.0 * islands.CELLS_FADE_KM
    # 4 km a step; the table itself changes by up to 0.004 a step, the shore by 0.0025 more.
    assert np.abs(np.diff(here.clearness_mean, axis=0)).max() < 0.007


def test_islands_are_less_bright_than_the_next_desert() -> None:
    """Nearest to Honolulu are cells of Mexico's Baja California: 12 % brighter in April."""
    months = monthly(*HONOLULU, 5.0)
    cell = monthly(20.0, -156.0, 5.0)  # the same sea, no station's own spot
    assert months.clearness_index[6] == pytest.approx(cell.clearness_index[6], abs=0.03)
    assert months.clearness_index.mean() == pytest.approx(0.56, abs=0.03)


def test_the_line_over_the_sea_is_the_stations_own() -> None:
    where, measured = islands.stations()
    warmth = tables._temperature(tables._tables(), *where.T)
    slope, intercept = np.polyfit(warmth.ravel(), measured.ravel(), 1)
    assert pytest.approx(slope, abs=1e-4) == islands.KT_PER_K
    assert pytest.approx(intercept, abs=1e-3) == islands.KT_AT_0_C


@pytest.mark.usefixtures("anywhere")
def test_the_arctic_is_the_tables_northernmost_row() -> None:
    t = tables._tables()
    row = np.flatnonzero(t.clearness[-1, :, 0, -1] > 0)
    longitude = t.clearness_longitude[row]
    here = point_climate(np.full(len(row), 72.0), longitude, np.zeros(len(row)))
    np.testing.assert_allclose(here.clearness_mean.mean(axis=0), islands.ARCTIC_KT, atol=0.03)


def test_the_days_about_a_mean_keep_it_and_spread_more_where_it_is_dull() -> None:
    mean = np.linspace(0.3, 0.65, 12)[None, :]
    days = islands.spread_of_days(mean)
    probabilities = tables._tables().probabilities
    np.testing.assert_allclose(quantile_mean(days, probabilities), mean, rtol=0.01)
    relative = (days[0, :, 8] - days[0, :, 2]) / mean[0]
    assert np.all(np.diff(relative) <= 1e-9)
    assert relative[0] > 2.0 * relative[-1]


def test_the_doubt_grows_with_the_distance_and_the_latitude() -> None:
    latitude = np.array([20.0, 20.0, 20.0, 78.0])
    doubt = islands.clearness_doubt(latitude, np.array([0.0, 600.0, 4000.0, 700.0]))
    assert np.all(np.diff(doubt) > 0.0)
    assert doubt[0] == islands.CELL_DOUBT


@pytest.mark.parametrize(("place", "percent"), [(HONOLULU, "11 %"), ((78.22, 15.65), "20 %")])
def test_the_report_tells_the_doubt(place: tuple[float, float], percent: str) -> None:
    hours = np.arange(24)
    track = Track(
        start_utc=np.datetime64("2027-06-10T00:00:00") + hours * np.timedelta64(3600, "s"),
        step_minutes=60,
        latitude=np.full(24, place[0]),
        longitude=np.full(24, place[1]),
        altitude_m=np.zeros(24),
    )
    weather = climate_draws(track, position(track), draws=3, seed=1)
    (line,) = [line for line in weather.about if "warmth of the sea around" in line]
    assert f"good to about {percent}" in line
    assert weather.ghi.max() > 200.0
