"""The shelf in the terminal and as JSON: what there is, what it takes, how warmth changes that."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict
from typing import Any

from rich.console import Console
from rich.text import Text

from sim.job.model.appliances import appliance_of
from sim.job.shelf import SECTIONS, Profile
from sim.ledger.sample_day import AMBIENTS_C, TYPICAL_C, DayUse, day_use, over_ambient
from sim.report.terminal.grid import Looks, print_table
from sim.report.terminal.key_list import written
from sim.report.terminal.lines import print_prose
from sim.units import celsius_to_fahrenheit
from sim.van.tanks import ENGINE_FUEL_WH_L, PROPANE_WH_KG

# Warmth makes no difference to what changes by less than this.
_SAME_WH = 0.5
# A heater does nothing on a mild day, nor does a fan: each is shown for a day on which it works.
_TYPICAL_C = {"heater": 0.0, "fan": 30.0, "air conditioner": 30.0}
_DAY = (
    "Wh a day: two people in a medium van, an hour of driving, the plug for the rest of it; "
    "{:.0f} °C ({:.0f} °F) outside and around cold boxes, heaters at 0 °C (32 °F), fans and "
    "cooling at 30 °C (86 °F)."
)


def typical_c(profile: Profile) -> float:
    """Outside temperature of the day for which an appliance's use is shown. [deg C]"""
    return _TYPICAL_C.get(str(profile.values["kind"]), TYPICAL_C)


def most_watts(profile: Profile) -> float:
    """What one unit draws at most. [W]"""
    return appliance_of(profile.values).most_watts


def print_shelf(profiles: tuple[Profile, ...], console: Console) -> None:
    """All profiles, section by section; appliances with their watts and a day's use."""
    for section in SECTIONS:
        on_it = [profile for profile in profiles if profile.section == section]
        heads, rows = [section.capitalize(), "What it is"], []
        for profile in on_it:
            row = [profile.name, profile.title]
            if section == "appliances":
                use = day_use(profile.values, typical_c(profile))
                row[1:1] = [f"{most_watts(profile):,.0f}", f"{use.electric_wh:,.0f}"]
            rows.append(row)
        if section == "appliances":
            heads[1:1] = ["W", "Wh a day"]
        print_table(heads, rows, console, Looks(figures=range(1, len(heads) - 1)))
        if section == "appliances":
            day = _DAY.format(TYPICAL_C, celsius_to_fahrenheit(TYPICAL_C))
            print_prose([day], console, style="dim")
        console.print()


def print_profile(profile: Profile, console: Console) -> None:
    """Everything one profile holds, as it would stand in a job file, and a day with it."""
    console.print(Text(profile.title), style="bold")
    print_prose((f"Source: {profile.source}.", f"Limits: {profile.limits}"), console)
    rows = [(key, written(value)) for key, value in profile.values.items()]
    left = _unless_said(profile).items()
    rows += [(key, f"{written(value)}  (unless you say otherwise)") for key, value in left]
    print_table(("", ""), rows, console)
    if profile.section == "appliances":
        console.print()
        _print_days(profile, console)


def _unless_said(profile: Profile) -> dict[str, Any]:
    """Keys of an appliance that the profile leaves to the program, with what it takes."""
    if profile.section != "appliances":
        return {}
    whole = appliance_of(profile.values).model_dump(exclude={"use", *profile.values})
    return {key: value for key, value in whole.items() if value not in (None, ())}


def _print_days(profile: Profile, console: Console) -> None:
    """A day's use at several temperatures, or in one line where they are all alike."""
    days = over_ambient(profile.values)
    fuel, per_wh = _fuel(profile)
    uses: list[tuple[str, Callable[[DayUse], str]]] = [
        ("Wh a day", lambda use: f"{use.electric_wh:,.0f}")
    ]
    if per_wh:
        uses.append((f"{fuel} a day", lambda use: f"{use.fuel_wh / per_wh:,.2f}"))
    if not _depends_on_warmth(days):
        parts = ", ".join(f"{value(days[0])} {label}" for label, value in uses)
        print_prose([f"On a plain day, whatever the warmth: {parts}."], console)
        print_prose([_DAY.split(";")[0] + "."], console, style="dim")
        return
    is_box = profile.values["kind"] == "cold box"
    rows = []
    for ambient_c, use in zip(AMBIENTS_C, days, strict=True):
        warmth = f"{ambient_c:.0f} °C ({celsius_to_fahrenheit(ambient_c):.0f} °F)"
        rows.append((warmth, *(value(use) for _, value in uses)))
    heads = ("Air around it" if is_box else "Outside", *(label for label, _ in uses))
    print_table(heads, rows, console, Looks(figures=range(1, len(heads))))
    if not is_box:
        text = _DAY.split(";")[0] + ", without another heater."
        print_prose([text], console, style="dim")


def _depends_on_warmth(days: tuple[DayUse, ...]) -> bool:
    electric, fuel = [day.electric_wh for day in days], [day.fuel_wh for day in days]
    return max(max(electric) - min(electric), max(fuel) - min(fuel)) > _SAME_WH


def _fuel(profile: Profile) -> tuple[str, float | None]:
    """What an appliance burns, with its unit, and the heat of that unit. [Wh]"""
    fuel = profile.values.get("fuel", profile.values.get("source"))
    if fuel == "propane":
        return "kg of propane", PROPANE_WH_KG
    if fuel in ENGINE_FUEL_WH_L:
        return f"litres of {fuel}", ENGINE_FUEL_WH_L[fuel]
    return "", None


def shelf_json(profiles: tuple[Profile, ...]) -> dict[str, Any]:
    """Profiles as plain data; appliances with what they draw and take in a day."""
    return {"profiles": [_profile_json(profile) for profile in profiles]}


def _profile_json(profile: Profile) -> dict[str, Any]:
    data = asdict(profile)
    if profile.section == "appliances":
        data["most_watts"] = most_watts(profile)
        data["days"] = [
            {"ambient_c": ambient_c, **asdict(use)}
            for ambient_c, use in zip(AMBIENTS_C, over_ambient(profile.values), strict=True)
        ]
    return data
