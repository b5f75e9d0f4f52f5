"""The months of a place: climate and file tell of the same sun the trips are run on."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pvlib
import pytest

from sim.ledger.almanac import Almanac, climate_almanac, file_almanac
from sim.places.lookup import find_place

# NREL TMY2, Miami, as distributed with pvlib; monthly means of its GHI column, kWh/m2/day.
MIAMI = [3.49, 4.43, 5.16, 6.16, 6.03, 5.76, 5.99, 5.67, 4.91, 4.37, 3.57, 3.36]
# FAO-56 Annex 2 Table 2.7, mean daylight hours at 40 N (geometric: without refraction).
FAO_DAYLIGHT_40N = [9.5, 10.5, 11.7, 13.1, 14.2, 14.8, 14.6, 13.6, 12.2, 10.9, 9.7, 9.2]


@pytest.fixture(scope="module")
def miami() -> Almanac:
    return file_almanac(Path(pvlib.__file__).parent / "data" / "12839.tm2")


def test_file_months_are_the_published_ones(miami: Almanac) -> None:
    # 0.02: the table's rounding, and solar instead of clock midnight
    assert miami.ghi_kwh_m2_day == pytest.approx(MIAMI, abs=0.02)


def test_a_file_with_a_gap_is_shown_by_days_like_its_own(tmp_path: Path) -> None:
    """Two days missing: what is drawn around the rest has its months within 4 %."""
    lines = (Path(pvlib.__file__).parent / "data" / "12839.tm2").read_text().splitlines()
    path = tmp_path / "gap.tm2"
    path.write_text("\n".join([*lines[:2000], *lines[2048:]]))
    found = file_almanac(path)
    np.testing.assert_allclose(found.ghi_kwh_m2_day, MIAMI, rtol=0.04)
    assert any("48 hours are missing" in sentence for sentence in found.about)


def test_daylight_is_the_almanacs(miami: Almanac) -> None:
    place = find_place("40.0, -105.0")
    extra = climate_almanac(place).daylight_h - FAO_DAYLIGHT_40N
    # refraction and the sun's radius add 0.15 to 0.25 h at 40 N; mid-month against mean: 0.1 h
    assert (extra > 0.0).all()
    assert (extra < 0.35).all()
    assert miami.daylight_h == pytest.approx(
        climate_almanac(find_place("25.8, -80.267")).daylight_h, abs=0.06
    )


def test_a_panel_yields_less_than_its_share_of_the_sun(miami: Almanac) -> None:
    # 100 W at 1000 W/m2 gives 100 Wh per kWh/m2 before heat, glass, dirt and controller take
    # theirs: together 15 to 30 % on a warm roof (common practice, no source)
    ratio = miami.panel_wh_day / (100.0 * miami.ghi_kwh_m2_day)
    assert ((ratio > 0.70) & (ratio < 0.88)).all()


def test_quantiles_hold_the_mean_between_them() -> None:
    months = climate_almanac(find_place("Moab, UT"))
    low, _, high = months.ghi_quantiles
    assert ((low < months.ghi_kwh_m2_day) & (months.ghi_kwh_m2_day < high)).all()
    assert ((months.clear_sky_share > 0.5) & (months.clear_sky_share < 1.0)).all()


def test_polar_night_has_no_sun_and_no_share() -> None:
    months = climate_almanac(find_place("Hammerfest, NO"))
    assert months.ghi_kwh_m2_day[11] == pytest.approx(0.0, abs=0.005)
    assert months.panel_wh_day[11] == pytest.approx(0.0, abs=0.5)
    assert np.isnan(months.clear_sky_share[11])
    assert months.daylight_h[5] == 24.0
    assert months.daylight_h[11] == 0.0


def test_the_south_has_its_summer_in_january() -> None:
    months = climate_almanac(find_place("Hobart, AU"))
    assert months.ghi_kwh_m2_day.argmax() in (11, 0)
    assert months.temperature_c.argmin() == 6


def test_an_altitude_of_the_map_is_said_to_be_coarse_and_a_written_one_is_taken() -> None:
    """La Paz by its coordinates: the map has the plateau above the town, which is colder."""
    guessed = climate_almanac(find_place("-16.5, -68.15"))
    told = climate_almanac(find_place("-16.5, -68.15, 3640 m"))
    assert any("coarse map" in line and "4198 m" in line for line in guessed.about)
    assert not any("coarse map" in line for line in told.about)
    assert told.altitude_m == 3640.0
    warmer = told.temperature_c - guessed.temperature_c
    assert warmer == pytest.approx(np.full(12, (4198.0 - 3640.0) * 0.0065), abs=1e-6)


def test_a_town_has_its_own_altitude_and_says_so_only_where_it_is_doubtful() -> None:
    known = find_place("La Paz, Bolivia")
    months = climate_almanac(known)
    assert months.altitude_m == known.altitude_m == pytest.approx(3640.0, abs=200.0)  # steep
    assert not any("altitude" in line for line in months.about)
    doubtful = climate_almanac(replace(known, altitude_doubt_m=180.0))
    assert any("180 m off" in line and "La Paz" in line for line in doubtful.about)
