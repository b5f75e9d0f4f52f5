"""The mean wind of a place and month."""

from __future__ import annotations

import numpy as np
import pytest

from sim.sky.climate.wind import HEARD_KM, LAND_M_S, LAND_WEIGHT, monthly_wind, stations
from sim.units import EARTH_RADIUS_KM

# Annual means of hourly observations, NOAA's Comparative Climatic Data (mph, to 2018; from memory,
# fairly sure).
M_S_PER_MPH = 0.44704
NOAA = (
    ("Phoenix", 33.43, -112.0, 6.2),
    ("Chicago", 41.98, -87.92, 10.3),
    ("Miami", 25.80, -80.28, 9.2),
    ("Denver", 39.76, -104.87, 8.6),
    ("Oklahoma City", 35.39, -97.6, 12.2),
    ("Seattle", 47.60, -122.3, 9.0),
    ("Boston", 42.36, -71.01, 12.5),
    ("Atlanta", 33.65, -84.43, 9.1),
    ("Albuquerque", 35.04, -106.6, 9.0),
    ("Minneapolis", 44.88, -93.22, 10.5),
    ("Salt Lake City", 40.78, -111.97, 8.8),
    ("Boise", 43.57, -116.22, 8.8),
    ("Dallas", 32.90, -97.0, 10.7),
    ("Los Angeles", 33.94, -118.4, 7.5),
)


def test_years_of_american_cities_beside_the_published_means() -> None:
    """14 cities, 9 of them far from all stations of the table: 0.69 m/s off (rms); one mean for
    the world is 1.17 m/s off."""
    where = np.array([city[1:3] for city in NOAA])
    published = np.array([city[3] for city in NOAA]) * M_S_PER_MPH
    found = monthly_wind(*where.T).mean(axis=1)
    rms, alone = (float(np.sqrt(np.mean((x - published) ** 2))) for x in (found, LAND_M_S))
    assert rms == pytest.approx(0.69, abs=0.02)
    assert alone == pytest.approx(1.17, abs=0.02)


def test_far_from_all_stations_it_is_the_mean_over_land() -> None:
    """In Mongolia no station is heard."""
    np.testing.assert_allclose(monthly_wind(np.array([47.9]), np.array([106.9])), LAND_M_S)


def test_a_station_alone_weighs_against_the_mean_over_land() -> None:
    """Sand Point hears no other station: by hand its January of 4.96 m/s at its own place, and
    half the distance of `HEARD_KM` away."""
    where, winds = stations()
    number = int(np.argmin(np.abs(where[:, 0] - 55.317)))
    north, east = where[number]
    own = winds[number, 0]
    for apart_km in (0.0, HEARD_KM / 2.0):
        further = north - np.degrees(apart_km / EARTH_RADIUS_KM)
        weight = np.exp(-((apart_km / HEARD_KM) ** 2))
        by_hand = (weight * own + LAND_WEIGHT * LAND_M_S) / (weight + LAND_WEIGHT)
        found = monthly_wind(np.array([further]), np.array([east]))[0, 0]
        assert found == pytest.approx(by_hand, rel=2e-3)


def test_stations_left_out_are_met_better_than_by_one_mean() -> None:
    """Each station and its neighbours within 100 km left out: 1.08 m/s, not 1.22 m/s."""
    where, winds = stations()
    north, east = np.radians(where).T
    cosine = np.sin(north)[:, None] * np.sin(north)
    cosine += np.cos(north)[:, None] * np.cos(north) * np.cos(east[:, None] - east)
    apart_km = EARTH_RADIUS_KM * np.arccos(np.clip(cosine, -1.0, 1.0))
    weight = np.exp(-((apart_km / HEARD_KM) ** 2)) * (apart_km > 100.0)
    total = weight.sum(axis=1, keepdims=True) + LAND_WEIGHT
    left_out = (weight @ winds + LAND_WEIGHT * LAND_M_S) / total
    rms = float(np.sqrt(np.mean((left_out - winds) ** 2)))
    assert rms == pytest.approx(1.08, abs=0.01)
    assert rms < 0.9 * float(np.sqrt(np.mean((LAND_M_S - winds) ** 2)))
