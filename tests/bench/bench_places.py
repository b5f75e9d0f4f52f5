"""How long it takes to load the table of places and to find one.

    python tests/bench/bench_places.py

Targets: the file at most 5 MB, loaded in under 100 ms; an unknown name answered in under 0.5 s.
"""

from __future__ import annotations

from contextlib import suppress
from time import perf_counter

from sim.errors import PlaceError
from sim.places import gazetteer
from sim.places.lookup import find_place
from sim.resources import profiles_dir

FILE = profiles_dir() / "places" / "places.npz"
REPEATS = 5
TEXTS = {
    "a town": "Moab, UT",
    "an ambiguous name": "San Jose",
    "coordinates": "38.57, -109.55",
    "a misspelled name": "Albuqerque",
    "a hundred letters": "sphinx of black quartz judge my vow " * 2
    + "pack my box with liquor jugs",
}


def milliseconds(text: str) -> float:
    start = perf_counter()
    with suppress(PlaceError):
        find_place(text)
    return (perf_counter() - start) * 1e3


def main() -> None:
    print(f"file                {FILE.stat().st_size / 1e6:7.2f} MB")
    start = perf_counter()
    gazetteer.load(FILE)
    print(f"load                {(perf_counter() - start) * 1e3:7.1f} ms")
    print(f"the first place     {milliseconds('Taos, NM'):7.1f} ms")
    for what, text in TEXTS.items():
        print(f"{what:<19} {max(milliseconds(text) for _ in range(REPEATS)):7.1f} ms")


if __name__ == "__main__":
    main()
