"""`nightledger sky`: stable keys, the numbers of the almanac in every form, text as text."""

from __future__ import annotations

import datetime as dt
import io
import json
from dataclasses import replace

import numpy as np
import pytest
from rich.console import Console

from sim.ledger.almanac import Almanac, climate_almanac
from sim.places.lookup import Place, find_place
from sim.report.data.export import json_text
from sim.report.page.place_page import render_almanac
from sim.report.terminal.place_months import print_almanac, sky_json
from sim.report.words.sky_words import sky_sentence

WRITTEN = dt.date(2027, 1, 2)


@pytest.fixture(scope="module")
def moab() -> tuple[Place, Almanac]:
    place = find_place("Moab, UT")
    return place, climate_almanac(place)


def test_json_has_the_agreed_keys(moab: tuple[Place, Almanac]) -> None:
    place, almanac = moab
    data = json.loads(json_text(sky_json(place, (almanac,))))
    assert set(data["place"]) == {"name", "latitude", "longitude", "altitude_m", "time_zone"}
    assert data["place"]["time_zone"] == "America/Denver"
    assert [row["month"] for row in data["months"]] == list(range(1, 13))
    for month, row in enumerate(data["months"]):
        assert row["ghi_kwh_m2_day"] == pytest.approx(almanac.ghi_kwh_m2_day[month], abs=1e-4)
        for key in ("clearness_index", "temperature_c", "temperature_range_c", "daylight_h"):
            assert row[key] == pytest.approx(getattr(almanac, key)[month], abs=1e-4)


def test_polar_night_is_null_in_json(moab: tuple[Place, Almanac]) -> None:
    place, almanac = moab
    dark = replace(almanac, clear_sky_share=np.full(12, np.nan))
    assert json.loads(json_text(sky_json(place, (dark,))))["months"][0]["clear_sky_share"] is None


@pytest.mark.parametrize(("us_units", "july"), [(True, "82"), (False, "28")])
def test_terminal_fits_and_tells_the_temperature_in_its_unit(
    moab: tuple[Place, Almanac], us_units: bool, july: str
) -> None:
    console = Console(file=io.StringIO(), width=80, color_system=None, highlight=False)
    print_almanac(moab[0], (moab[1],), console, us_units=us_units)
    text = console.file.getvalue()  # type: ignore[attr-defined]
    assert max(len(line.rstrip()) for line in text.splitlines()) <= 80
    row = next(line for line in text.splitlines() if line.startswith("Jul"))
    assert july in row.split()
    assert f"{moab[1].panel_wh_day[6]:.0f}" in row.split()


def test_the_answer_comes_first_and_what_experts_ask_with_full(
    moab: tuple[Place, Almanac],
) -> None:
    place, almanac = moab

    def printed(*, full: bool) -> list[str]:
        console = Console(file=io.StringIO(), width=80, color_system=None, highlight=False)
        print_almanac(place, (almanac,), console, us_units=True, full=full)
        lines = console.file.getvalue().splitlines()  # type: ignore[attr-defined]
        assert max(len(line.rstrip()) for line in lines) <= 80
        return lines

    plain, whole = printed(full=False), printed(full=True)
    best, least = almanac.panel_wh_day.max(), almanac.panel_wh_day.min()
    answer = f"One flat 100 W panel puts about {best:.0f} Wh a day into the battery in June and"
    assert " ".join(plain[1:3]) == f"{answer} {least:.0f} Wh in December."
    for words in ("MERRA", "deviation", "Clear-", "%"):
        assert not any(words in line for line in plain)
        assert any(words in line for line in whole)
    assert sky_json(place, (almanac,))["answer"].startswith(answer)
    page = render_almanac(place, (almanac,), written=WRITTEN, version="9.9")
    assert page.index("<summary>How we know</summary>") < page.index("MERRA")


def test_a_month_without_sun_brings_nothing(moab: tuple[Place, Almanac]) -> None:
    dark = replace(moab[1], panel_wh_day=np.array([0.0, *range(50, 600, 50)]))
    assert sky_sentence(dark).endswith("in December and nothing in January.")


def test_page_is_whole_and_holds_the_numbers(moab: tuple[Place, Almanac]) -> None:
    place, almanac = moab
    page = render_almanac(place, (almanac,), written=WRITTEN, version="9.9")
    assert page.count('<tr><th scope="row">') == 12
    assert f"<td>{almanac.ghi_kwh_m2_day[0]:.2f}</td>" in page
    assert "average day of the file" not in page
    # a field of 10,000, the top of it 5 % over the largest value
    start = page.split('data-trace="2"')[1].split(' d="M')[1]
    january = int(start.split('"')[0].split("l")[0].split()[1])
    top = 1.05 * almanac.ghi_quantiles.max()
    assert january == pytest.approx(10_000 * (1 - almanac.ghi_kwh_m2_day[0] / top), abs=1.0)


def test_a_file_stands_beside_the_climate_and_its_name_is_text(
    moab: tuple[Place, Almanac],
) -> None:
    place, almanac = moab
    file = replace(almanac, source="</script><b>x.csv", ghi_kwh_m2_day=almanac.ghi_kwh_m2_day / 2)
    page = render_almanac(place, (almanac, file), written=WRITTEN, version="9.9")
    assert "</script><b>x.csv" not in page
    assert "has 50\N{NO-BREAK SPACE}% of the climate" in page
    assert sky_json(place, (almanac, file))["file"]["name"] == file.source
