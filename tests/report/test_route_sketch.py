"""The sketch of a route: to scale, numbered, with the coast behind it wherever it is."""

from __future__ import annotations

import re

import numpy as np
import pytest

from sim.report.charts.route_sketch import _lines, route_sketch
from sim.resources import profiles_dir


def sketch(*stops: tuple[float, float], us_units: bool = False) -> str:
    latitude, longitude = (np.array([stop[axis] for stop in stops]) for axis in (0, 1))
    return str(route_sketch(latitude, longitude, stops, us_units=us_units))


def discs(text: str) -> dict[str, tuple[float, float]]:
    found = re.findall(
        r'translate\(([-0-9.]+) ([-0-9.]+)\)"><g class="stop">.*?>([^<]+)</text', text
    )
    return {name: (float(x), float(y)) for x, y, name in found}


def test_north_is_up_and_distances_keep_their_ratio() -> None:
    # one degree to the east at 60 degrees north is half as long as one to the north
    at = discs(sketch((60.0, 10.0), (60.0, 14.0), (62.0, 10.0)))
    east, north = at["2"][0] - at["1"][0], at["1"][1] - at["3"][1]
    assert east > 0
    assert east / north == pytest.approx(4.0 * np.cos(np.radians(61.0)) / 2.0, rel=0.01)


def test_stops_of_one_place_share_a_disc() -> None:
    assert set(discs(sketch((40.0, -3.0), (42.0, -3.0), (40.0, -3.0)))) == {"1, 3", "2"}


@pytest.mark.parametrize(
    "stops",
    [((37.8, -122.5), (35.6, -121.1)), ((-16.8, 179.9), (-17.8, -179.5)), ((69.2, 17.9),)],
    ids=["California", "across the date line", "one stop in Norway"],
)
def test_a_coast_is_behind_it(stops: tuple[tuple[float, float], ...]) -> None:
    text = sketch(*stops)
    assert 's-muted" stroke-width="1" d="M' in text
    assert len(text) < 12_000
    for x, y in discs(text).values():
        assert 0 < x < 300
        assert 0 < y < 300


def test_the_scale_is_what_it_says() -> None:
    for us_units, unit, km in ((False, "km", 1.0), (True, "mi", 1.609344)):
        text = sketch((40.0, -110.0), (44.0, -110.0), us_units=us_units)
        drawn = re.search(r"M6 \d+v4h([0-9.]+)v-4", text)
        told = re.search(r">(\d+) (km|mi)<", text)
        assert drawn is not None
        assert told is not None
        assert told[2] == unit
        at = discs(text)
        per_degree = (at["1"][1] - at["2"][1]) / 4.0
        assert float(drawn[1]) == pytest.approx(int(told[1]) * km / 111.2 * per_degree, rel=0.02)


def test_the_table_is_small_and_whole() -> None:
    assert (profiles_dir() / "coast" / "lines.npz").stat().st_size <= 100_000
    lines = _lines()
    assert len(lines) > 1500
    for _, points in lines:
        assert np.abs(points[:, 0]).max() <= 180.0
        assert np.abs(points[:, 1]).max() <= 90.0
    # Land's End within 10 km of a coast
    nearest = min(
        float(np.hypot((p[:, 0] + 5.714) * 0.64, p[:, 1] - 50.066).min()) for b, p in lines if not b
    )
    assert nearest * 111.2 < 10.0
