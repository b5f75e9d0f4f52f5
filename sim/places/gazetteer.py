"""The table of populated places, and how a name is looked up in it.

The table is built by ``profiles/places/build_places.py``; the README beside it names
its sources and limits. One row is one place, its columns numpy arrays or lines of
text, so that 235,000 places load in a blink and a name is found by searching bytes.
"""

from __future__ import annotations

import difflib
import re
import unicodedata
from dataclasses import dataclass
from functools import cache, cached_property
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from sim.arrays import Bools, Floats, Ints
from sim.resources import profiles_dir
from sim.units import EARTH_RADIUS_KM

# Latitude and longitude are stored as whole ten-thousandths of a degree, 11 m.
UNITS_PER_DEGREE = 10_000
# Letters that Unicode does not take apart into a base letter and a mark.
PLAIN_LETTERS = str.maketrans(
    {"ø": "o", "ł": "l", "đ": "d", "ð": "d", "þ": "th", "æ": "ae", "œ": "oe", "ı": "i"}
)
_SHORT_WORDS = {"saint": "st", "sainte": "ste", "mount": "mt", "fort": "ft"}
_SILENT = re.compile(r"[.'’‘`´ʻʼ]")
_WORD = re.compile(r"[^\W_]+")
# How many names get the slow comparison when a spelling is not found.
_SPELLINGS_COMPARED = 400
_LEAST_LIKENESS = 0.7


def search_key(text: str) -> str:
    """A name as it is searched: no case, accents or punctuation, short words for saint etc.

    ``"St. George"`` and ``"Saint George"`` have one key, ``"Tromsø"`` and ``"tromso"`` too.
    """
    plain = unicodedata.normalize("NFKD", text.casefold()).translate(PLAIN_LETTERS)
    plain = "".join(letter for letter in plain if not unicodedata.combining(letter))
    words = _WORD.findall(_SILENT.sub("", plain))
    return " ".join(_SHORT_WORDS.get(word, word) for word in words)


@dataclass(frozen=True)
class Lines:
    """A column of text, one line a row.

    Attributes
    ----------
    text : bytes
        UTF-8; a line break before the first line and after every line.
    """

    text: bytes

    @cached_property
    def breaks(self) -> Ints:
        """Positions of the line breaks; line i lies between break i and break i + 1."""
        return np.flatnonzero(np.frombuffer(self.text, dtype=np.uint8) == ord("\n"))

    def __getitem__(self, row: int) -> str:
        return self.text[self.breaks[row] + 1 : self.breaks[row + 1]].decode("utf-8")

    def starting(self, words: str) -> Ints:
        """Rows whose line begins with these words."""
        return self._holding(b"\n" + words.encode("utf-8"))

    def equal(self, words: str) -> Ints:
        """Rows whose line is these words."""
        return self._holding(b"\n" + words.encode("utf-8") + b"\n")

    def listing(self, words: str) -> Ints:
        """Rows whose line, a list such as ``|one|two|``, has these words as an item."""
        return self._holding(b"|" + words.encode("utf-8") + b"|")

    def _holding(self, needle: bytes) -> Ints:
        found = []
        at = self.text.find(needle)
        while at >= 0:
            found.append(at)
            # The last byte may be the first of the next match.
            at = self.text.find(needle, at + len(needle) - 1)
        rows = np.searchsorted(self.breaks, np.array(found, dtype=np.int64), side="right") - 1
        # Each once; `numpy.unique` imports masked arrays for it, which nothing here uses.
        return rows[np.diff(rows, prepend=-1) > 0]


@dataclass(frozen=True)
class Gazetteer:
    """Populated places of the world, P rows, in R regions of C countries.

    Attributes
    ----------
    name, key, other_keys : Lines, P lines
        A place's name, its `search_key`, and a list of keys of its other names.
    region : ndarray of int, shape (P,)
        Row of `region_name`.
    latitude_units, longitude_units : ndarray of int, shape (P,)
        North and east positive. [1 / `UNITS_PER_DEGREE` degrees]
    population : ndarray of int, shape (P,)
        To two figures; 0 where it is not known.
    altitude_m, altitude_doubt_m : ndarray of int, shape (P,)
        Height of the ground above sea level, and how far off it may well be. [m]
    region_name, region_keys : Lines, R lines
        A region's name, empty where it is not known, and a list of keys it goes by.
    region_country : ndarray of int, shape (R,)
        Row of `country_code`.
    country_code, country_name, country_keys : Lines, C lines
        ISO 3166-1 code of two letters, name, and a list of keys the country goes by.
    """

    name: Lines
    key: Lines
    other_keys: Lines
    region: NDArray[np.uint16]
    latitude_units: NDArray[np.int32]
    longitude_units: NDArray[np.int32]
    population: NDArray[np.uint32]
    altitude_m: NDArray[np.int16]
    altitude_doubt_m: NDArray[np.uint16]
    region_name: Lines
    region_keys: Lines
    region_country: NDArray[np.uint16]
    country_code: Lines
    country_name: Lines
    country_keys: Lines

    def __len__(self) -> int:
        return len(self.region)

    def latitude(self, rows: Ints) -> Floats:
        """Latitude of these rows. [degrees]"""
        return np.asarray(self.latitude_units[rows] / UNITS_PER_DEGREE, dtype=np.float64)

    def longitude(self, rows: Ints) -> Floats:
        """Longitude of these rows. [degrees]"""
        return np.asarray(self.longitude_units[rows] / UNITS_PER_DEGREE, dtype=np.float64)

    def area(self, words: str) -> Bools:
        """Which regions lie in a region or country of this name or code. shape (R,)

        ``"CA"`` is California and Canada: both, until the place decides.
        """
        key = search_key(words)
        inside = np.zeros(len(self.region_country), dtype=np.bool_)
        if key:
            inside[self.region_keys.listing(key)] = True
            inside |= np.isin(self.region_country, self.country_keys.listing(key))
        return inside

    def named(self, words: str) -> Ints:
        """Rows of the places of this name, spelled as the table spells it but for accents."""
        key = search_key(words)
        return self.key.equal(key) if key else np.array([], dtype=np.int64)

    def also_named(self, words: str) -> Ints:
        """Rows of the larger places that go by this name beside their own."""
        key = search_key(words)
        return self.other_keys.listing(key) if key else np.array([], dtype=np.int64)

    def nearest_names(self, words: str, inside: Bools, count: int) -> Ints:
        """Rows of the places whose names come nearest to a spelling, best first.

        Parameters
        ----------
        words : str
            The spelling.
        inside : ndarray of bool, shape (R,)
            Regions to look in.
        count : int
            At most so many.

        Notes
        -----
        Names that begin with the words come first. The rest are narrowed down by the letters
        they have in common with the words, then compared by `difflib`; of names equally near,
        the larger place counts as the likelier.
        """
        key = search_key(words)
        if not key.isascii() or not key:
            return np.array([], dtype=np.int64)
        longer = self.key.starting(key + " ")
        longer = longer[inside[self.region[longer]]]
        longer = longer[np.argsort(-self.population[longer].astype(np.int64), kind="stable")]
        rows = np.flatnonzero(inside[self.region])
        apart = self._letters_apart(key)[rows]
        # A letter in another's place makes two letters apart; one letter in three may be wrong.
        near = apart <= max(2, 2 * len(key) // 3)
        rows, apart = rows[near], apart[near]
        population = self.population[rows].astype(np.int64)
        rows = rows[np.lexsort((-population, apart))][:_SPELLINGS_COMPARED]
        matcher = difflib.SequenceMatcher(b=key, autojunk=False)
        likeness = np.array([_ratio(matcher, self.key[row]) for row in rows.tolist()])
        size = np.log10(self.population[rows] + 1.0) / 50.0
        order = np.argsort(-(likeness + size), kind="stable")
        spelled = rows[order[likeness[order] >= _LEAST_LIKENESS]]
        both = np.concatenate([longer[: count - 1], spelled])
        _, first = np.unique(both, return_index=True)
        return both[np.sort(first)][:count]

    def nearest_town(self, latitude: float, longitude: float) -> tuple[int, float]:
        """Row of the place nearest to a point, and the great circle to it [km]."""
        phi, here = np.radians(self.latitude_units / UNITS_PER_DEGREE), np.radians(latitude)
        east = np.cos(np.radians(self.longitude_units / UNITS_PER_DEGREE - longitude))
        cosine = np.sin(here) * np.sin(phi) + np.cos(here) * np.cos(phi) * east
        row = int(cosine.argmax())
        return row, float(EARTH_RADIUS_KM * np.arccos(min(cosine[row], 1.0)))

    def country_of(self, row: int) -> str:
        """ISO 3166-1 code of the country of a place."""
        return self.country_code[int(self.region_country[self.region[row]])]

    def _letters_apart(self, key: str) -> Ints:
        """Letters that are in one name's key but not in the other, both ways. shape (P,)"""
        text = np.frombuffer(self.key.text, dtype=np.uint8)
        starts, ends = self.key.breaks[:-1], self.key.breaks[1:]
        unmatched = ends - starts - 1
        apart = np.zeros(len(starts), dtype=np.int64)
        for letter in sorted(set(key)):
            spots = np.flatnonzero(text == ord(letter))
            there = np.searchsorted(spots, ends) - np.searchsorted(spots, starts)
            apart += np.abs(there - key.count(letter))
            unmatched = unmatched - there
        return np.asarray(apart + unmatched)

    def nearest_area(self, words: str) -> str | None:
        """The region or country whose name comes nearest to a spelling, if any is near."""
        keys = (self.region_keys.text + self.country_keys.text).decode("utf-8")
        # Codes are too short to be near to anything.
        names = sorted({key for key in re.findall(r"[^|\n]+", keys) if len(key) > 3})
        near = difflib.get_close_matches(search_key(words), names, n=1, cutoff=0.75)
        if not near:
            return None
        countries = self.country_keys.listing(near[0])
        if len(countries):
            return self.country_name[int(countries[0])]
        return self.region_name[int(self.region_keys.listing(near[0])[0])]


def _ratio(matcher: difflib.SequenceMatcher[str], key: str) -> float:
    matcher.set_seq1(key)
    return matcher.ratio()


def load(file: Path) -> Gazetteer:
    """Read a table that ``build_places.py`` has written."""
    with np.load(file) as archive:

        def text(column: str) -> Lines:
            return Lines(archive[column].tobytes())

        return Gazetteer(
            name=text("name"),
            key=text("key"),
            other_keys=text("other_keys"),
            region=archive["region"],
            latitude_units=archive["latitude_units"],
            longitude_units=archive["longitude_units"],
            population=archive["population"],
            altitude_m=archive["altitude_m"],
            altitude_doubt_m=archive["altitude_doubt_m"],
            region_name=text("region_name"),
            region_keys=text("region_keys"),
            region_country=archive["region_country"],
            country_code=text("country_code"),
            country_name=text("country_name"),
            country_keys=text("country_keys"),
        )


@cache
def table() -> Gazetteer:
    """The table that comes with the program, read once."""
    return load(profiles_dir() / "places" / "places.npz")
