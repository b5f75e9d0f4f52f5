"""A small sketch of the route: coasts and borders behind it, the stops numbered."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from itertools import compress
from math import cos, hypot, log10, radians

import numpy as np
from markupsafe import Markup

from sim.arrays import Bools, Floats
from sim.report.charts.svg_marks import path_data
from sim.resources import profiles_dir
from sim.units import KM_PER_MILE

_UNITS_PER_DEGREE = 100.0
# The sketch is so wide, and so high at most and at least; inside it the route keeps off the edge.
_WIDTH, _LOW, _HIGH, _EDGE = 300.0, 130.0, 300.0, 26.0
# The least that is shown from west to east. [degrees of latitude]
_LEAST_SPAN = 1.2
# Stops nearer than this share a mark.
_MARK = 17.0
_KM_PER_DEGREE = 111.2


@cache
def _lines() -> tuple[tuple[bool, Floats], ...]:
    """Coasts and borders: whether a border, and its points, longitude and latitude. [degrees]"""
    with np.load(profiles_dir() / "coast" / "lines.npz") as table:
        lengths, borders = table["length"].astype(np.int64), table["is_border"]
        steps = np.stack([table["lon_step"], table["lat_step"]], axis=1).astype(np.int64)
    ends = np.cumsum(lengths)
    return tuple(
        (bool(border), np.cumsum(steps[end - length : end], axis=0) / _UNITS_PER_DEGREE)
        for border, length, end in zip(borders, lengths, ends, strict=True)
    )


@cache
def _boxes() -> tuple[Floats, Floats]:
    """Middle of each line, and half of its extent: longitude, latitude. [degrees], shape (N, 2)"""
    low, high = (np.array([end(line, axis=0) for _, line in _lines()]) for end in (np.min, np.max))
    return (low + high) / 2.0, (high - low) / 2.0


class _Paper:
    """Places of a region on a sheet: level at its middle latitude, no longitude cut in two."""

    def __init__(self, latitude: Floats, longitude: Floats) -> None:
        self.west = float(longitude[0]) - 180.0
        east = self._unwrapped(longitude)
        self.squeeze = cos(radians(float(latitude.min() + latitude.max()) / 2.0))
        width = max(float(np.ptp(east)) * self.squeeze, _LEAST_SPAN)
        height = max(float(np.ptp(latitude)), 0.4 * _LEAST_SPAN)
        self.scale = min((_WIDTH - 2 * _EDGE) / width, (_HIGH - 2 * _EDGE) / height)
        self.height = max(height * self.scale + 2 * _EDGE, _LOW)
        self.middle = (
            float(east.min() + east.max()) / 2,
            float(latitude.min() + latitude.max()) / 2,
        )

    def _unwrapped(self, longitude: Floats) -> Floats:
        return np.asarray((longitude - self.west) % 360.0 + self.west)

    def may_show(self) -> Bools:
        """Whether the box around each line of coasts and borders reaches the sheet."""
        middle, half = _boxes()
        away = np.abs(middle - self.middle)
        away[:, 0] = np.minimum(away[:, 0] % 360.0, -away[:, 0] % 360.0)
        sheet = np.array([_WIDTH / self.squeeze, self.height]) / self.scale / 2.0
        return np.asarray((away <= half + sheet).all(axis=1))

    def places(self, longitude: Floats, latitude: Floats) -> Floats:
        """Of points in degrees. shape (N, 2)"""
        x = (self._unwrapped(longitude) - self.middle[0]) * self.squeeze * self.scale
        y = (self.middle[1] - latitude) * self.scale
        return np.stack([x + _WIDTH / 2.0, y + self.height / 2.0], axis=1)


def route_sketch(
    latitude: Floats, longitude: Floats, stops: Sequence[tuple[float, float]], *, us_units: bool
) -> Markup:
    """The way from stop to stop, as an SVG.

    Parameters
    ----------
    latitude, longitude : ndarray, shape (H,)
        Where the van is. [degrees]
    stops : sequence of (latitude, longitude)
        In order; they are numbered from 1.
    us_units : bool
        Whether the scale is in miles.
    """
    at_lat, at_lon = (np.array([stop[axis] for stop in stops]) for axis in (0, 1))
    paper = _Paper(np.append(latitude, at_lat), np.append(longitude, at_lon))
    parts = [*_behind(paper), _way(paper, latitude, longitude)]
    parts += _marks(paper.places(at_lon, at_lat))
    parts.append(_scale(paper, us_units))
    box = f'viewBox="0 0 {_WIDTH:.0f} {paper.height:.0f}"'
    return Markup('<svg class="sketch" {} aria-hidden="true" focusable="false">{}</svg>').format(
        Markup(box), Markup("".join(parts))
    )


def _behind(paper: _Paper) -> list[str]:
    parts: dict[bool, list[str]] = {True: [], False: []}
    for is_border, line in compress(_lines(), paper.may_show()):
        places = paper.places(line[:, 0], line[:, 1])
        # A line that leaves the sheet by the far side of the globe is broken there.
        far = np.abs(np.diff(places[:, 0])) > 180.0 * paper.squeeze * paper.scale
        for part in np.split(places, np.flatnonzero(far) + 1):
            low, high = part.min(axis=0), part.max(axis=0)
            if (high > 0).all() and low[0] < _WIDTH and low[1] < paper.height:
                parts[is_border] += _inside(part, paper)
    looks = {False: 's-muted" stroke-width="1"', True: 's-rule" stroke-width="1.2"'}
    return [
        f'<path class="f-clear {looks[border]} d="{"".join(parts[border])}"/>'
        for border in (True, False)
        if parts[border]
    ]


def _inside(line: Floats, paper: _Paper) -> list[str]:
    """The stretches of a line that come near the sheet, as path data."""
    near = (
        (line[:, 0] > -_WIDTH)
        & (line[:, 0] < 2 * _WIDTH)
        & (line[:, 1] > -paper.height)
        & (line[:, 1] < 2 * paper.height)
    )
    points = [
        (round(float(x)), round(float(y))) if kept else None
        for (x, y), kept in zip(line, near, strict=True)
    ]
    return [path_data(points)]


def _way(paper: _Paper, latitude: Floats, longitude: Floats) -> str:
    moved = np.append(True, (np.diff(latitude) != 0) | (np.diff(longitude) != 0))
    places = paper.places(longitude[moved], latitude[moved])
    points = [(round(float(x)), round(float(y))) for x, y in places]
    return f'<path class="f-clear s-drive" stroke-width="1.8" d="{path_data(points)}"/>'


def _marks(places: Floats) -> list[str]:
    """A numbered disc for each stop; those of one place share it."""
    groups: list[tuple[float, float, list[int]]] = []
    for number, (x, y) in enumerate(places.tolist(), 1):
        for left, top, numbers in groups:
            if hypot(left - x, top - y) < _MARK:
                numbers.append(number)
                break
        else:
            groups.append((x, y, [number]))
    parts = []
    for x, y, numbers in groups:
        shown = [str(n) for n in numbers[:3]] + (["…"] if len(numbers) > 3 else [])
        text = ", ".join(shown)
        half = 4.0 + 3.2 * len(text)
        parts.append(
            f'<g transform="translate({x:.1f} {y:.1f})"><g class="stop">'
            f'<rect class="f-paper s-ink" x="{-half:.1f}" y="-7.5" width="{2 * half:.1f}" '
            'height="15" rx="7.5"/>'
            f'<text class="f-ink" y="3.9" text-anchor="middle">{text}</text></g></g>'
        )
    return parts


def _scale(paper: _Paper, us_units: bool) -> str:
    """A bar of a round length, a quarter of the sheet at most."""
    per_unit = KM_PER_MILE if us_units else 1.0
    most = _WIDTH / 4.0 / paper.scale * _KM_PER_DEGREE / per_unit
    size = 10.0 ** int(np.floor(log10(most)))
    length = max(n * size for n in (1, 2, 5) if n * size <= most)
    wide = length * per_unit / _KM_PER_DEGREE * paper.scale
    y = paper.height - 6.0
    return (
        f'<path class="f-clear s-ink" d="M6 {y - 4:.0f}v4h{wide:.1f}v-4"/>'
        f'<text class="f-muted scale" x="{wide + 11:.1f}" y="{y:.0f}">{length:g} '
        f"{'mi' if us_units else 'km'}</text>"
    )
