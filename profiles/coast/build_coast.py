"""Build `lines.npz`, the coasts and borders behind the sketch of a route.

    npm pack world-atlas@2.0.2 && tar xzf world-atlas-2.0.2.tgz && mv package world-atlas
    npm pack us-atlas@3.0.1 && tar xzf us-atlas-3.0.1.tgz && mv package us-atlas
    python profiles/coast/build_coast.py world-atlas/countries-50m.json us-atlas/states-10m.json

What goes in, and under which terms, is in README.md beside this file.
"""

from __future__ import annotations

import argparse
import json
from collections import defaultdict
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

DEFAULT_OUT = Path(__file__).resolve().parent / "lines.npz"
# A line keeps to within so much of its source. [degrees]
TOLERANCE_DEG = {"world": 0.022, "states": 0.03}
# Islands and lakes smaller than this are left out. [degrees]
SMALLEST_DEG = 0.15
UNITS_PER_DEGREE = 100

Points = NDArray[np.float64]


def arcs_of(topology: dict[str, Any]) -> list[Points]:
    """The arcs of a TopoJSON file. [degrees], each of shape (N, 2): longitude, latitude"""
    scale, shift = (np.array(topology["transform"][key]) for key in ("scale", "translate"))
    return [np.cumsum(np.array(arc), axis=0) * scale + shift for arc in topology["arcs"]]


def owners_of(topology: dict[str, Any], layer: str) -> dict[int, set[int]]:
    """Which areas of a layer each arc bounds."""
    owners: dict[int, set[int]] = defaultdict(set)

    def walk(part: Any, owner: int) -> None:
        if isinstance(part, int):
            owners[part if part >= 0 else ~part].add(owner)
            return
        for inner in part:
            walk(inner, owner)

    for owner, area in enumerate(topology["objects"][layer]["geometries"]):
        walk(area.get("arcs", []), owner)
    return owners


def simplified(points: Points, tolerance: float) -> Points:
    """The fewest of the points that keep the line within the tolerance (Douglas and Peucker)."""
    kept = np.zeros(len(points), dtype=bool)
    kept[[0, -1]] = True
    parts = [(0, len(points) - 1)]
    while parts:
        first, last = parts.pop()
        if last <= first + 1:
            continue
        along, inner = points[last] - points[first], points[first + 1 : last] - points[first]
        length = float(np.hypot(*along))
        away = (
            np.abs(along[0] * inner[:, 1] - along[1] * inner[:, 0]) / length
            if length > 0
            else np.hypot(inner[:, 0], inner[:, 1])
        )
        far = int(away.argmax())
        if away[far] > tolerance:
            kept[first + 1 + far] = True
            parts += [(first, first + 1 + far), (first + 1 + far, last)]
    return points[kept]


def main() -> None:
    """Read both files and write the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("world", type=Path)
    parser.add_argument("states", type=Path)
    parser.add_argument("--out", type=Path, default=DEFAULT_OUT)
    given = parser.parse_args()
    lines: list[tuple[bool, Points]] = []
    for path, layer, name in (
        (given.world, "countries", "world"),
        (given.states, "states", "states"),
    ):
        topology = json.loads(path.read_text("utf-8"))
        arcs = arcs_of(topology)
        for arc, owners in owners_of(topology, layer).items():
            is_border = len(owners) > 1
            # The coast of the states is the world's already.
            if name == "states" and not is_border:
                continue
            if not is_border and np.ptp(arcs[arc], axis=0).max() < SMALLEST_DEG:
                continue
            line = simplified(arcs[arc], TOLERANCE_DEG[name])
            # Cut where it jumps to the other side of the date line, or runs along the pole.
            jumps = np.flatnonzero(np.abs(np.diff(line[:, 0])) > 180.0) + 1
            lines += [(is_border, part) for part in np.split(line, jumps)]
    units = [np.round(points * UNITS_PER_DEGREE).astype(np.int32) for _, points in lines]
    steps = np.concatenate([np.diff(points, axis=0, prepend=0 * points[:1]) for points in units])
    np.savez_compressed(
        given.out,
        length=np.array([len(points) for points in units], dtype=np.uint16),
        is_border=np.array([border for border, _ in lines]),
        lon_step=steps[:, 0].astype(np.int16),
        lat_step=steps[:, 1].astype(np.int16),
    )
    print(f"{len(units)} lines, {len(steps)} points, {given.out.stat().st_size} bytes")


if __name__ == "__main__":
    main()
