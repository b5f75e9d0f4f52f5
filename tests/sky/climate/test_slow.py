"""The slow part of a drawn weather: evenly placed, lasting, the same for a date and a place."""

from __future__ import annotations

import numpy as np
import pytest

from sim.sky.climate import even, slow

FIRST = 20_000


def test_the_season_belongs_to_the_calendar() -> None:
    """Whenever a trip sets out, and however many draws are asked for."""
    long = slow.season(FIRST, FIRST + 400, 60, 3)
    short = slow.season(FIRST + 37, FIRST + 90, 20, 3)
    assert short.bright == pytest.approx(long.bright[37:91, :20], abs=1e-12)
    assert short.warm == pytest.approx(long.warm[37:91, :20], abs=1e-12)
    assert short.waves == pytest.approx(long.waves[:, :20], abs=1e-12)
    assert np.abs(slow.season(FIRST, FIRST, 20, 4).bright - long.bright[0, :20]).max() > 0.1


def test_seasons_are_standard_normal_and_placed_evenly() -> None:
    """The mean of 256 seasons over 30 seeds moves at most half as much as that of dice."""
    means = []
    for seed in range(30):
        season = slow.season(FIRST, FIRST + 45, 256, seed)
        for part in (season.bright, season.warm):
            assert part.std(axis=1) == pytest.approx(np.ones(46), abs=0.15)
        means.append(season.bright[20].mean())
    assert np.std(means) < 0.5 / np.sqrt(256)


def test_seasons_last_for_months_and_change_over_years() -> None:
    """A fortnight later nearly the same, half a year later only what lasts: 0.4."""
    season = slow.season(FIRST, FIRST + 700, 2048, 1)

    def alike(apart: int) -> float:
        pairs = (season.bright[day] * season.bright[day + apart] for day in (0, 17, 93))
        return float(np.mean([pair.mean() for pair in pairs]))

    assert alike(14) > 0.7
    assert alike(180) == pytest.approx(0.4, abs=0.08)
    assert alike(600) == pytest.approx(0.4, abs=0.08)


def test_neighbours_share_and_far_places_do_not() -> None:
    waves = slow.season(FIRST, FIRST, 4096, 1).waves
    here = slow.of_places(waves, np.array([38.0, 38.1, 38.0]), np.array([-109.0, -109.0, 20.0]))
    assert here.std(axis=1) == pytest.approx(np.ones(3), abs=0.05)
    assert np.corrcoef(here)[0, 1] > 0.95
    assert np.abs(np.corrcoef(here)[0, 2]) < 0.75


def test_seasons_and_days_have_axes_of_their_own() -> None:
    assert slow._CHANGING_WARM + slow._KNOTS == even.SEASON_AXES
