"""The sheet for the van as plain data, with stable keys."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from sim.decide.handover import LEVELS, HandoverSheet, Season
from sim.report.words import emergency_words
from sim.report.words import handover_words as words
from sim.report.words.by_locale import Writing
from sim.report.words.living_words import habit_words


def handover_json(sheet: HandoverSheet) -> dict[str, Any]:
    """What the sheet says, in numbers and in its sentences."""
    writing = Writing.of(sheet.job)
    return {
        "title": sheet.job.title,
        "seasons": [_season(season, sheet) for season in sheet.seasons],
        "goes_off": [
            {
                "priority": group.priority,
                "below_soc": group.floor_soc,
                "back_soc": group.back_soc,
                "below_soc_in_the_cold": group.cold_soc,
                "names": list(group.names),
            }
            for group in sheet.shed
        ],
        "habits": [
            {
                "name": habit_words(habit, writing.units),
                "saving_wh_per_day": habit.saving_wh,
                "trip": habit.trip,
            }
            for habit in sheet.habits
        ],
        "winter": list(words.winter_lines(sheet, writing)),
        "freezes_at": [{"trip": trip, "place": place} for trip, place in sheet.frozen],
        "places": dict(words.place_lines(sheet.job)),
        "tests": list(words.service_lines(sheet, writing)),
        "emergencies": [asdict(one) for one in emergency_words.emergencies(sheet.job)],
    }


def _season(season: Season, sheet: HandoverSheet) -> dict[str, Any]:
    return {
        "season": season.name,
        "trip": season.trip,
        "place": season.place,
        "month": season.month,
        "draws": season.draws,
        "at_sunset": [
            {"soc": soc, "everything_lasts": everything, "essentials_last": essentials}
            for soc, everything, essentials in zip(
                LEVELS, season.lasting, season.essentials, strict=True
            )
        ],
        "soc_for_nights": list(season.nights),
        "dull_day": {
            "missing_wh": season.dull.missing_wh,
            "sun_hours": season.dull.sun_hours,
            "drive_hours": season.dull.drive_hours,
            "plug_hours": season.dull.plug_hours,
            "generator_hours": season.dull.generator_hours,
        },
        "tanks": [
            {"name": line.name, "kind": line.kind, "nights": nights}
            for line, nights in zip(sheet.tanks, season.tanks, strict=True)
        ],
    }
