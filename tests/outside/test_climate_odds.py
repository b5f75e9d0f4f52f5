"""The odds of drawn weathers on stations left out of the fit, held to their limits.

`python tests/outside/climate_report.py` prints them for all 183 stations; here every second
eighth of the cells is left out and drawn, 1044 spells. Chance alone moves a share of 10 % of them
by 0.9 points and one of 80 % by 1.2, more where spells of one station share its error: limits are
wider by that than those of the report (below the 10 % line 8 to 13 %, below the 5 % line at most
7.5 %, inside 76 to 84 %).
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).resolve().parent))
import climate_odds

# Every so many eighths of the cells are drawn.
EVERY = 2


@pytest.fixture(scope="module")
def found() -> tuple[Any, Any]:
    data = climate_odds.spells()
    return data, climate_odds.odds(data, "cells", draws=100, every=EVERY)


@pytest.mark.parametrize("kind", ["sun", "worst three days"])
def test_sun_falls_as_often_as_drawn_below_the_drawn_lines(
    found: tuple[Any, Any], kind: str
) -> None:
    figures = climate_odds.figures(*found, kind)
    assert 0.066 <= figures.below_10 <= 0.144
    assert figures.below_5 <= 0.086
    assert 0.74 <= figures.inside <= 0.865
    assert figures.crps < climate_odds.CRPS_BEFORE[kind]


def test_mean_sun_is_hardly_off(found: tuple[Any, Any]) -> None:
    """Within 2 %; chance moves it by 0.6."""
    assert abs(climate_odds.figures(*found, "sun").bias) < 0.026


@pytest.mark.parametrize("source", ["all", "TMY3"])
def test_winter_alone(found: tuple[Any, Any], source: str) -> None:
    """Below the 10 % line 7 to 14 %, below the 5 % line at most 7.5 %, in the United States too
    (TMY3); a third of the spells and less, so 2 points of chance and more."""
    data, _ = found
    chosen = data.winter & ((source == "all") | (data.source == source))[:, None]
    figures = climate_odds.figures(*found, "sun", chosen)
    assert 0.045 <= figures.below_10 <= 0.165
    assert figures.below_5 <= 0.10


@pytest.mark.parametrize("kind", ["mean temperature", "lowest temperature"])
def test_temperature_falls_into_the_drawn_band(found: tuple[Any, Any], kind: str) -> None:
    """At most 15 % on either side, and the chance of 1.7 points."""
    figures = climate_odds.figures(*found, kind)
    assert figures.below_10 <= 0.167
    assert figures.above_90 <= 0.167


def test_months_of_stations_left_out() -> None:
    """South of 60 N RMSE below 9.0 %, what the reanalysis alone gives; bias within 1 %, and
    1 % of chance as half of the stations are left out."""
    ours, measured = climate_odds.left_out_months("cells", EVERY)
    rows = climate_odds.builder().read("climate_stations.csv")
    south = climate_odds.builder().column(rows, "latitude") < 60.0
    south &= np.isfinite(ours).all(axis=1)
    assert south.sum() > 20
    error, mean = (ours - measured)[south], measured[south].mean()
    assert np.sqrt((error**2).mean()) / mean < climate_odds.MONTHS_BEFORE
    assert abs(error.mean()) / mean < 0.02


def test_shipped_table_is_what_the_script_builds() -> None:
    """To one count, for another machine's rounding."""
    shipped = climate_odds.corrections.station_tables()
    rebuilt = climate_odds.builder().build(climate_odds.departures())
    for name in ("shift", "doubt"):
        apart = rebuilt[name].astype(int) - getattr(shipped, name).astype(int)
        assert np.abs(apart).max() <= 1
    assert (np.unpackbits(rebuilt["at_sea"], axis=1) == shipped.at_sea).all()
