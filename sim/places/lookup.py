"""Where a stop is: a town or a pair of coordinates becomes a place with its time zone.

Everything works offline. Towns and their altitudes come from the table of `sim.places.gazetteer`,
time zones from the map in tzfpy.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from sim.arrays import Bools, Floats, Ints
from sim.errors import PlaceError, shown
from sim.places import gazetteer
from sim.places.coordinates import EXAMPLE as _ELSE
from sim.places.coordinates import degrees, split_altitude, tidy
from sim.places.gazetteer import Gazetteer
from sim.units import EARTH_RADIUS_KM

# One of several places of a name is meant without asking if it has so many times the people of
# the next (our own rule), and, where no region or country is given, so many people.
CLEARLY_LARGER = 10.0
WORLD_KNOWN = 100_000
# Places below the table's least population, or of unknown population, count as so large.
_LEAST_POPULATION = 500
# Two entries of one name in one region, nearer than this, are one town entered twice.
SAME_TOWN_KM = 20.0
# Points further apart than this lie on opposite sides of the Earth: no way is the shortest.
_OPPOSITE_RAD = np.pi - 1e-6

_MOST_PARTS = 6
_LISTED = 8
_SUGGESTED = 5


@dataclass(frozen=True)
class Place:
    """A point on the Earth where a van can be.

    Attributes
    ----------
    name : str
        The town, or the coordinates as ``"38.57, -109.55"``.
    region : str
        State or province; empty where it is not known.
    country : str
        ISO 3166-1 code of two letters; empty for coordinates.
    latitude, longitude : float
        North and east positive. [degrees]
    time_zone : str
        IANA name, such as ``"America/Denver"``.
    altitude_m : float, optional
        Height above sea level: what the user wrote, else the town's; None for coordinates. [m]
    altitude_doubt_m : float, optional
        How far off the town's altitude may well be; None where it is not the table's. [m]
    """

    name: str
    region: str
    country: str
    latitude: float
    longitude: float
    time_zone: str
    altitude_m: float | None = None
    altitude_doubt_m: float | None = None

    @property
    def label(self) -> str:
        """``"Moab, Utah, US"``; `find_place` takes it back."""
        written = self.altitude_m is not None and self.altitude_doubt_m is None
        height = f"{self.altitude_m:.0f} m" if written else ""
        return ", ".join(part for part in (self.name, self.region, self.country, height) if part)


def find_place(text: str) -> Place:
    """The place that a user means.

    Parameters
    ----------
    text : str
        A town with or without region or country, by name or code (``"Moab, UT"``,
        ``"Taos, New Mexico"``, ``"Hammerfest, Norway"``), or latitude and longitude in decimal
        degrees (``"38.57, -109.55"``). Case and accents do not matter. The altitude may follow,
        in metres or feet (``"La Paz, Bolivia, 3640 m"``).

    Returns
    -------
    Place

    Raises
    ------
    PlaceError
        No such place, and the nearest spellings; several such places, and which; coordinates
        out of range, and which of the two; or text that is no place at all.

    Notes
    -----
    Of several places of one name, the largest is taken if it has at least `CLEARLY_LARGER`
    times the people of the next and either a region or country was given or it has more than
    `WORLD_KNOWN` people. A place's own name comes before the other names of larger places, unless
    one of those is larger than `WORLD_KNOWN` too: then the user must say which.
    """
    where, height_m = split_altitude(tidy(text))
    place = _find(where)
    if height_m is None:
        return place
    return replace(place, altitude_m=height_m, altitude_doubt_m=None)


def _find(text: str) -> Place:
    """The place that a text without an altitude means."""
    pair = degrees(text)
    if pair:
        return _at(*pair)
    if "°" in text or not any(letter.isalpha() for letter in text):
        raise PlaceError(f"{shown(text)} is neither a town nor a pair of coordinates; {_ELSE}")
    table = gazetteer.table()
    readings = list(_readings(text))
    for name, areas in readings:
        found = _matches(table, name, areas)
        if len(found):
            return _choose(table, found, text, narrowed=bool(areas))
    says, rows = _unknown(table, readings)
    raise PlaceError(says, choices=_texts(table, rows, _SUGGESTED))


def _at(latitude: float, longitude: float) -> Place:
    name = ", ".join(f"{degrees:.5f}".rstrip("0").rstrip(".") for degrees in (latitude, longitude))
    return Place(name, "", "", latitude, longitude, _time_zone(latitude, longitude))


def _time_zone(latitude: float, longitude: float) -> str:
    """IANA time zone of a point; at sea the nautical zone, such as ``"Etc/GMT+2"``.

    Also asked for towns: GeoNames' own zones are less exact (profiles/places/README.md).
    """
    from tzfpy import get_tz

    return str(get_tz(longitude, latitude))


def _readings(text: str) -> Iterator[tuple[str, list[str]]]:
    """Ways to read text as a name and the areas it lies in, likeliest first.

    ``"Moab, UT"`` is Moab in UT before it is a place called Moab, UT; ``"Moab UT"`` is a place
    of two words before it is Moab in UT.
    """
    parts = [part.strip() for part in text.split(",", _MOST_PARTS - 1) if part.strip()]
    for cut in range(1, len(parts) + 1):
        yield ", ".join(parts[:cut]), parts[cut:]
    words = parts[0].split()
    for cut in range(len(words) - 1, max(len(words) - 4, 0), -1):
        yield " ".join(words[:cut]), [" ".join(words[cut:]), *parts[1:]]


def _matches(table: Gazetteer, name: str, areas: list[str]) -> Ints:
    """Rows that a name may mean, largest first; other names' rows after those of the name."""
    inside = _inside(table, areas)
    own = _towns(table, _within(table, table.named(name), inside))
    other = _towns(table, _within(table, table.also_named(name), inside))
    if not len(own):
        return other
    people = table.population[other]
    least = max(int(table.population[own].max()), WORLD_KNOWN)
    return _towns(table, np.concatenate([own, other[people > least]]))


def _inside(table: Gazetteer, areas: list[str]) -> Bools:
    """Regions that lie in all of these areas."""
    inside = np.ones(len(table.region_country), dtype=np.bool_)
    for area in areas:
        inside &= table.area(area)
    return inside


def _within(table: Gazetteer, rows: Ints, inside: Bools) -> Ints:
    """Rows inside these regions, largest first."""
    rows = rows[inside[table.region[rows]]]
    return rows[np.argsort(-table.population[rows].astype(np.int64), kind="stable")]


def _towns(table: Gazetteer, rows: Ints) -> Ints:
    """Rows without those that repeat an earlier one: same region, next to it."""
    kept: list[int] = []
    while len(rows):
        first, rest = rows[:1], rows[1:]
        kept.append(int(first[0]))
        away = EARTH_RADIUS_KM * _angle(
            _directions(table.latitude(first), table.longitude(first)),
            _directions(table.latitude(rest), table.longitude(rest)),
        )
        rows = rest[(away > SAME_TOWN_KM) | (table.region[rest] != table.region[first])]
    return np.array(kept, dtype=np.int64)


def _choose(table: Gazetteer, rows: Ints, text: str, *, narrowed: bool) -> Place:
    """The one place that is meant, or an error that lists those that may be."""
    people = table.population[rows].astype(np.int64)
    if len(rows) > 1:
        clear = people[0] >= CLEARLY_LARGER * max(people[1:].max(), _LEAST_POPULATION)
        if not clear or not (narrowed or people[0] > WORLD_KNOWN):
            largest_first = rows[np.argsort(-people, kind="stable")]
            raise PlaceError(
                f"{len(rows)} places may be meant by {shown(text)}; write one of these: "
                + _listed(table, largest_first, _LISTED),
                choices=_texts(table, largest_first, _LISTED),
            )
    return _place(table, int(rows[0]))


def _place(table: Gazetteer, row: int) -> Place:
    region = int(table.region[row])
    at = np.array([row])
    latitude, longitude = float(table.latitude(at)[0]), float(table.longitude(at)[0])
    return Place(
        name=table.name[row],
        region=table.region_name[region],
        country=table.country_of(row),
        latitude=latitude,
        longitude=longitude,
        time_zone=_time_zone(latitude, longitude),
        altitude_m=float(table.altitude_m[row]),
        altitude_doubt_m=float(table.altitude_doubt_m[row]),
    )


def _listed(table: Gazetteer, rows: Ints, count: int) -> str:
    """Places in the words that find them, coordinates where two share their words."""
    texts = _texts(table, rows, count)
    more = len(rows) - len(texts)
    return "; ".join(texts) + (f"; and {more} more" if more else "")


def _texts(table: Gazetteer, rows: Ints, count: int) -> list[str]:
    """The first of these places: labels, and where two share one their coordinates before it."""
    places = [_place(table, int(row)) for row in rows[:count]]
    labels = [place.label for place in places]
    return [
        place.label
        if labels.count(place.label) == 1
        else f"{place.latitude:.2f}, {place.longitude:.2f} ({place.label})"
        for place in places
    ]


def _unknown(table: Gazetteer, readings: list[tuple[str, list[str]]]) -> tuple[str, Ints]:
    """What to say of a text that is no place of the table, and rows that may be meant."""
    # A reading whose region or country exists is likelier to be meant than one without.
    sensible = [(name, areas) for name, areas in readings if areas and _inside(table, areas).any()]
    name, areas = (sensible or readings)[0]
    elsewhere = _matches(table, name, [])
    strange = [area for area in areas if not table.area(area).any()]
    if strange and len(elsewhere):
        near = table.nearest_area(strange[0])
        hint = f"did you mean {near}?" if near else f"there is {_listed(table, elsewhere, _LISTED)}"
        rows = np.array([], dtype=np.int64) if near else elsewhere
        return f"no region or country is called {shown(strange[0])}; {hint}", rows
    if not areas and table.area(name).any():
        largest = _within(table, np.arange(len(table)), table.area(name))
        return (
            f"{shown(name)} is a region or a country; name a town in it, such as "
            + _place(table, int(largest[0])).label
        ), largest
    inside = _inside(table, [] if strange else areas)
    where = f" in {', '.join(areas)}" if areas and not strange else ""
    said = [f"no place called {shown(name)} is known{where}"]
    if not gazetteer.search_key(name).isascii():
        said.append("names are known in Latin letters")
    if len(elsewhere):
        said.append(f"there is {_listed(table, elsewhere, _SUGGESTED)}")
    near_names = table.nearest_names(name, inside, _SUGGESTED)
    if len(near_names):
        said.append(f"did you mean {_listed(table, near_names, _SUGGESTED)}?")
    return f"{'; '.join(said)} ({_ELSE})", np.concatenate([elsewhere, near_names])


def distance_km(start: Place, end: Place) -> float:
    """Distance along the great circle between two places on a sphere. [km]"""
    return EARTH_RADIUS_KM * float(_angle(_direction(start), _direction(end)))


def along(start: Place, end: Place, fraction: Floats) -> tuple[Floats, Floats]:
    """Points on the great circle between two places.

    Parameters
    ----------
    start, end : Place
        Where the way begins and ends.
    fraction : ndarray, shape (N,)
        Part of the way covered, 0 to 1.

    Returns
    -------
    latitude, longitude : ndarray, shape (N,)
        North and east positive, longitude from -180 to 180, exact at both ends. [degrees]

    Raises
    ------
    PlaceError
        The places lie on opposite sides of the Earth: all ways are equally short.
    """
    fraction = np.asarray(fraction, dtype=np.float64)
    first, last = _direction(start), _direction(end)
    angle = _angle(first, last)
    if angle > _OPPOSITE_RAD:
        raise PlaceError(
            f"{start.label} and {end.label} lie on opposite sides of the Earth; put a stop between"
        )
    # sin(f a) / sin(a), whose limit for two places in one spot is f.
    ahead = fraction * np.sinc(fraction * angle / np.pi) / np.sinc(angle / np.pi)
    rest = 1.0 - fraction
    behind = rest * np.sinc(rest * angle / np.pi) / np.sinc(angle / np.pi)
    x, y, z = behind * first[:, None] + ahead * last[:, None]
    latitude = np.degrees(np.arctan2(z, np.hypot(x, y)))
    longitude = np.degrees(np.arctan2(y, x))
    for part, place in ((0.0, start), (1.0, end)):
        latitude = np.where(fraction == part, place.latitude, latitude)
        longitude = np.where(fraction == part, place.longitude, longitude)
    return latitude, longitude


def _direction(place: Place) -> Floats:
    return _directions(np.array([place.latitude]), np.array([place.longitude]))[:, 0]


def _directions(latitude: Floats, longitude: Floats) -> Floats:
    """Unit vectors from the Earth's centre. shape (3, N)"""
    phi, lam = np.radians(latitude), np.radians(longitude)
    return np.stack([np.cos(phi) * np.cos(lam), np.cos(phi) * np.sin(lam), np.sin(phi)])


def _angle(first: Floats, second: Floats) -> Floats:
    """Angle between unit vectors along axis 0, good for small ones and large. [rad]"""
    return np.asarray(
        2.0
        * np.arctan2(np.linalg.norm(first - second, axis=0), np.linalg.norm(first + second, axis=0))
    )
