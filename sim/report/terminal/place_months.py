"""The months of a place, in the terminal and as JSON."""

from __future__ import annotations

import calendar
from typing import Any

from rich.console import Console
from rich.text import Text

from sim.ledger.almanac import QUANTILES, Almanac
from sim.places.lookup import Place
from sim.report.terminal.grid import Looks, print_table
from sim.report.terminal.lines import plain, print_prose
from sim.report.words.sky_words import sky_sentence
from sim.units import celsius_to_fahrenheit

# Columns that stay behind --full: clearness, and its share of a clear sky.
_FOR_EXPERTS = (3, 4)


def sky_json(place: Place, almanacs: tuple[Almanac, ...]) -> dict[str, Any]:
    """The numbers of `nightledger sky`: first the place's own climate, then a file's."""
    own, *files = almanacs
    data: dict[str, Any] = {
        "place": {
            "name": place.label,
            "latitude": place.latitude,
            "longitude": place.longitude,
            "altitude_m": own.altitude_m,
            "time_zone": place.time_zone,
        },
        "months": _months(own),
        "about": list(own.about),
        "answer": sky_sentence(own),
    }
    for file in files:
        data["file"] = {
            "name": file.source,
            "latitude": file.latitude,
            "longitude": file.longitude,
            "altitude_m": file.altitude_m,
            "months": _months(file),
            "about": list(file.about),
        }
    return data


def _months(almanac: Almanac) -> list[dict[str, Any]]:
    columns = {
        "ghi_kwh_m2_day": almanac.ghi_kwh_m2_day,
        "clearness_index": almanac.clearness_index,
        "clear_sky_share": almanac.clear_sky_share,
        "temperature_c": almanac.temperature_c,
        "temperature_range_c": almanac.temperature_range_c,
        "daylight_h": almanac.daylight_h,
        "panel_100w_wh_day": almanac.panel_wh_day,
    }
    if almanac.ghi_doubt is not None and almanac.ghi_doubt_with_file is not None:
        columns["ghi_doubt_share"] = almanac.ghi_doubt
        columns["ghi_doubt_share_with_file"] = almanac.ghi_doubt_with_file
    for q, row in zip(QUANTILES, almanac.ghi_quantiles, strict=True):
        columns[f"ghi_kwh_m2_day_p{100 * q:.0f}"] = row
    return [
        {"month": m + 1, **{name: _rounded(x[m]) for name, x in columns.items()}} for m in range(12)
    ]


def _rounded(value: float) -> float | None:
    return round(float(value), 4) if value == value else None


def print_almanac(
    place: Place,
    almanacs: tuple[Almanac, ...],
    console: Console,
    *,
    us_units: bool,
    full: bool = False,
) -> None:
    """What the sun brings, in a sentence; a table of months for each source; with `full` how
    clear the sky is, and how sure all that is."""
    console.print(Text(place.label), style="bold")
    print_prose([sky_sentence(almanacs[0])], console)
    for almanac in almanacs:
        console.print()
        console.print(plain(heading(almanac)))
        _print_months(almanac, console, us_units=us_units, full=full)
        print_prose(almanac.about if full else (), console)


def heading(almanac: Almanac) -> str:
    """Source and position of an almanac."""
    north = f"{abs(almanac.latitude):.2f}° {'N' if almanac.latitude >= 0 else 'S'}"
    east = f"{abs(almanac.longitude):.2f}° {'E' if almanac.longitude >= 0 else 'W'}"
    what = "built-in climate" if almanac.source == "climate" else f"file {almanac.source}"
    return f"{what}, {north} {east}, {almanac.altitude_m:,.0f} m"


def table_rows(almanac: Almanac, us_units: bool) -> list[tuple[str, ...]]:
    """The months as cells: name, sun, spread, clearness, share of a clear sky, temperature,
    its daily range, daylight, yield of a 100 W panel."""
    low, _, high = almanac.ghi_quantiles
    rows: list[tuple[str, ...]] = []
    for m, name in enumerate(calendar.month_name[1:]):
        mean, spread = almanac.temperature_c[m], almanac.temperature_range_c[m]
        if us_units:
            mean, spread = celsius_to_fahrenheit(mean), spread * 1.8
        clear, share = almanac.clearness_index[m], almanac.clear_sky_share[m]
        rows.append(
            (
                name,
                f"{almanac.ghi_kwh_m2_day[m]:.2f}",
                f"{low[m]:.1f} to {high[m]:.1f}",
                f"{clear:.2f}" if clear == clear else "–",
                f"{100 * share:.0f} %" if share == share else "–",
                f"{mean:.0f}".replace("-0", "0").replace("-", "−"),
                f"{spread:.0f}",
                f"{almanac.daylight_h[m]:.1f}",
                f"{almanac.panel_wh_day[m]:.0f}",
            )
        )
    return rows


def _print_months(almanac: Almanac, console: Console, *, us_units: bool, full: bool) -> None:
    unit = "°F" if us_units else "°C"
    heads = (
        "Month", "Sun\nkWh/m²/day", "Bad to\ngood day", "Clear-\nness", "Of clear\nsky",
        f"Mean\n{unit}", "Daily\nrange", "Day-\nlight h", "100 W flat\nWh/day",
    )  # fmt: skip
    shown = [k for k in range(len(heads)) if full or k not in _FOR_EXPERTS]
    rows = [[row[k] if k else row[k][:3] for k in shown] for row in table_rows(almanac, us_units)]
    print_table(
        [heads[k] for k in shown], rows, console, Looks(figures=range(1, len(heads)), gap=1)
    )
