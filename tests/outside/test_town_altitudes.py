"""Altitude of mountain towns against published ones.

Source: the figures that towns, tourist offices and national surveys publish (United States: the
US Geological Survey's names database and the signs at the town limits, in feet; Canada: Natural
Resources Canada; Switzerland: the federal office of topography; Austria, Italy, France, Germany:
the municipalities; Norway: the mapping authority; New Zealand: the gazetteer and town pages).
All of them from memory, most rounded to 10 m; a town's middle is a matter of opinion, and
valley towns climb 50 m from end to end.
"""

from __future__ import annotations

import numpy as np
import pytest

from sim.places.altitude import altitude_m
from sim.places.lookup import find_place
from sim.units import METRES_PER_FOOT

UNITED_STATES_FT = [
    ("Leadville, CO", 10158),
    ("Silverton, CO", 9318),
    ("Telluride, CO", 8750),
    ("Aspen, CO", 7908),
    ("Breckenridge, CO", 9600),
    ("Crested Butte, CO", 8885),
    ("Ouray, CO", 7792),
    ("Durango, CO", 6512),
    ("Salida, CO", 7083),
    ("Gunnison, CO", 7703),
    ("Estes Park, CO", 7522),
    ("Moab, UT", 4026),
    ("Park City, UT", 7000),
    ("Flagstaff, AZ", 6910),
    ("Taos, NM", 6969),
    ("Santa Fe, NM", 7199),
    ("Los Alamos, NM", 7320),
    ("Jackson, WY", 6237),
    ("West Yellowstone, MT", 6667),
    ("Mammoth Lakes, CA", 7880),
    ("Bishop, CA", 4150),
    ("Truckee, CA", 5817),
    ("South Lake Tahoe, CA", 6237),
    ("Bozeman, MT", 4820),
    ("Ketchum, ID", 5853),
    ("Lone Pine, CA", 3727),
    ("Big Bear Lake, CA", 6752),
    ("Springdale, UT", 3898),
    ("Page, AZ", 4118),
]
CANADA_M = [
    ("Banff, AB", 1383),
    ("Jasper, AB", 1060),
    ("Canmore, AB", 1309),
    ("Whistler, BC", 670),
    ("Revelstoke, BC", 480),
    ("Golden, BC", 800),
]
ALPS_M = [
    ("Zermatt", 1608),
    ("St. Moritz", 1822),
    ("Davos", 1560),
    ("Chamonix-Mont-Blanc", 1035),
    ("Andermatt", 1437),
    ("Grindelwald, Switzerland", 1034),
    ("Innsbruck", 574),
    ("Livigno", 1816),
    ("Cortina d'Ampezzo", 1211),
    ("Bormio", 1225),
    ("Courmayeur", 1224),
    ("Briançon, France", 1326),
    ("Val-d'Isère", 1850),
    ("Ischgl", 1377),
    ("Kitzbühel", 762),
    ("Garmisch-Partenkirchen", 708),
    ("Berchtesgaden", 572),
    ("Pontresina", 1805),
    ("Saas-Fee", 1800),
    ("Samedan", 1721),
    ("Brig, Switzerland", 691),
    ("Interlaken, Switzerland", 568),
    ("Lauterbrunnen", 795),
    ("Sölden, Tyrol", 1368),
    ("Lech, Austria", 1444),
    ("Mayrhofen", 633),
    ("Bolzano", 262),
    ("Brunico", 838),
    ("Merano", 325),
]
NORWAY_M = [
    ("Røros", 628),
    ("Geilo", 800),
    ("Lillehammer", 180),
    ("Oppdal", 545),
    ("Dombås", 659),
    ("Otta, Norway", 287),
    ("Vågåmo", 370),
    ("Rjukan", 300),
    ("Hovden, Norway", 800),
    ("Hemsedal", 620),
    ("Tynset", 500),
    ("Voss", 57),
]
NEW_ZEALAND_M = [
    ("Queenstown, New Zealand", 310),
    ("Wanaka", 300),
    ("Arrowtown", 400),
    ("Twizel", 460),
    ("Ohakune", 600),
    ("Methven, New Zealand", 320),
    ("Taupo", 360),
    ("Te Anau", 210),
    ("Cromwell, New Zealand", 215),
    ("Alexandra, New Zealand", 141),
    ("Hanmer Springs", 340),
    ("Waiouru", 792),
    ("Fairlie, New Zealand", 300),
]
REGIONS = {
    "United States": [(town, METRES_PER_FOOT * feet) for town, feet in UNITED_STATES_FT],
    "Canada": CANADA_M,
    "Alps": ALPS_M,
    "Norway": NORWAY_M,
    "New Zealand": NEW_ZEALAND_M,
}
# What 100 m are worth: 0.65 K, less than the 1.5 K by which monthly temperatures are off anyway.
LIMIT_M = 100.0


def rms(errors: np.ndarray) -> float:
    return float(np.sqrt(np.mean(np.square(errors))))


@pytest.mark.parametrize("region", REGIONS)
def test_towns_are_as_high_as_published(region: str) -> None:
    errors = [(find_place(town).altitude_m or np.nan) - told for town, told in REGIONS[region]]
    assert rms(np.array(errors)) <= LIMIT_M


def test_all_towns_together_and_their_doubts() -> None:
    rows = [row for region in REGIONS.values() for row in region]
    assert len(rows) >= 80
    places = [find_place(town) for town, _ in rows]
    own = np.array([place.altitude_m for place in places], dtype=np.float64)
    doubt = np.array([place.altitude_doubt_m for place in places], dtype=np.float64)
    told = np.array([height for _, height in rows])
    assert rms(own - told) <= 60.0
    # A doubt is a standard error: nine of ten lie within twice of it. The published figures are
    # themselves good to 20 m.
    assert np.mean(np.abs(own - told) <= 2.0 * doubt) >= 0.9
    at = np.array([(place.latitude, place.longitude) for place in places]).T
    assert rms(altitude_m(*at) - told) > 5.0 * rms(own - told)  # what the coarse map says there
