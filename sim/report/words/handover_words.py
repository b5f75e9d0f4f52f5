"""The words of the sheet that stays in the van.

Each sentence is here whole and once; what varies in it has a name. Steps of the winter list
and of the year's tests are common practice, no source.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

from sim.decide.handover import LEVELS, HandoverSheet, Season, SeasonName
from sim.decide.winter_list import REST_LOSS, REST_SOC, WinterKind, WinterStep, rest_months
from sim.errors import join_or
from sim.job.model.handover import Handover
from sim.job.model.job import Job
from sim.report.words.by_locale import Writing
from sim.report.words.living_words import habit_words
from sim.report.words.numbers import isolated, listed, month_name, shortened
from sim.trip.tanks import StoreLine

WORDS = {
    "kind": "sheet for the van",
    "kicker": "Stays in the van",
    "skip": "To the sheet",
    "for": "For {customer}, {date}",
    "dated": "{date}",
    "living": "Living with it",
    "safety": "Emergencies and winter",
    "charge": "The charge at sunset",
    "alone": "Parked",
    "alone_without": "Parked, without {sources}",
    "plug": "plug",
    "driving": "driving",
    "generator": "generator",
    "charge_caption": "{alone}: of {draws}, those in which it lasts until the next noon",
    "charge_caption_apart": "{alone}: of {winter} in winter and {summer} in summer, those in "
    "which it lasts until the next noon",
    "at_sunset": "At sunset",
    "all": "{season}: everything",
    "essentials": "{season}: essentials",
    "where": "Winter is {winter_month} at {winter}, summer is {summer_month} at {summer}.",
    "need": "{season}: nine times in ten {one} at sunset lasts until the next noon{more}.",
    "need_same": "{season}: nine times in ten {one} at sunset lasts for one, two or three nights, "
    "until noon.",
    "need_two": ", {two} until noon after two nights",
    "need_three": ", {three} after three",
    "need_full": "{season}: nine times in ten even a full battery at sunset does not last until "
    "noon.",
    "dull": "A dull day",
    "dull_sentence": "{season}: one day in ten is dull enough to leave {missing} missing.{ways}",
    "dull_none": "{season}: even a dull day gives what a day takes.",
    "back": " What brings it back: {ways}.",
    "back_sun": "{hours} of bright midday sun",
    "back_drive": "{hours} of driving",
    "back_plug": "{hours} on a plug",
    "back_generator": "{hours} of the generator",
    "hour": "{count} hour",
    "hours": "{count} hours",
    "shed": "What goes off, and when",
    "shed_line": "Below {floor}: {names}. Back at {back}.",
    "floor_cold": "{floor} (in the cold {cold})",
    "shed_all": "Below {floor}: all that is left ({names}). Back at {back}.",
    "shed_bare": "Below {floor}: all that is left. Back at {back}.",
    "habits": "What saves most",
    "habit": "{what}: {saving} a day",
    "tanks": "Full tanks, in nights",
    "tanks_caption": "In nine simulated trips of ten a tank lasts as long as this, or longer",
    "tank": "Tank",
    "fresh_tank": "Fresh water, {size}",
    "grey_tank": "{name}, {size}, until full",
    "propane_tank": "Propane, {size}",
    "fuel_tank": "Generator fuel, {size}",
    "unused": "not used",
    "places": "Where things are",
    "winter": "Before parking it in frost",
    "frozen": "Heated as planned, water inside would still freeze on the way: {stays}.",
    "service": "Tests and dates",
    "due": "{what}: {date}",
    "due_every": "{what}: {date}, then {every}",
    "every": "{what}: {every}",
    "months": "every {count} months",
    "month": "every month",
    "year": "every year",
    "years": "every {count} years",
    "end": "Nightledger {version}, {date}. {draws}, seed {seed}: an estimate of what is usual, no "
    "promise of what comes.",
}
SEASONS: dict[SeasonName, str] = {"winter": "Winter", "summer": "Summer"}
PLACES: dict[str, str] = {
    "main_switch": "Main switch of the battery",
    "fuses": "Fuses",
    "shore_breaker": "Breaker of the shore power",
    "propane_valve": "Propane shut-off",
    "water_valve": "Water shut-off",
    "drains": "Drain valves",
    "blow_out": "Compressed air for the pipes",
    "extinguisher": "Fire extinguisher",
    "contact": "Whom to call",
}
_WINTER: dict[WinterKind, str] = {
    "heat off": "Switch off {names} and let it cool.",
    "grey": "Empty {names} ({litres}, {place}) where that is allowed; leave the valve open.",
    "fresh": "Drain the fresh tank ({litres}, {place}); leave its valve open.",
    "drains": "The drain valves: {names}.",
    "hot tank": "When it is cold, drain {names}: {litres}. Open its relief valve to let air in.",
    "instant heater": "Drain {names} at its drain plug, as its manual says.",
    "taps": "Open the taps of {names}, hot and cold, until nothing comes.",
    "pump": "Run {names} dry for a few seconds, switch it off, empty its strainer.",
    "air": "Blow the pipes out tap by tap, at no more pressure than the pump’s maker allows: "
    "{names}.",
    "by gravity": "No port for compressed air is named: look for low points that hold water, and "
    "open them.",
    "traps": "Pour antifreeze for drinking-water systems into the traps of {names}.",
    "open": "Leave open until spring: the taps of {names}, every drain valve, the tank’s lid.",
    "pads": "Do not trust the heating pads of {names} while nobody charges the battery.",
    "own": "{names}",
    "propane": "Shut the propane off at the tank, and let the stove burn out what is in the line.",
    "battery": "Leave the battery at {charge} with the main switch off.{rest} {cold}",
    "panels": "Disconnect the panels from their controller before the battery, as its manual says.",
}
_WINTER_REST = " It loses {loss} of its charge in about {months} months: top it up before that."
_WINTER_COLD: dict[str, str] = {
    "lifepo4": "Never charge it below {freezing}.",
    "agm": "A discharged one freezes.",
    "flooded": "A discharged one freezes; see to its water.",
}
_TESTS: tuple[tuple[str, str], ...] = (
    (
        "alarms",
        "Each month: press the test button of the {alarms} alarm. Replace each at the date printed "
        "on it.",
    ),
    ("shore", "Each month on a plug: press the test button of the residual-current breaker."),
    ("flooded", "Each month: look at the battery’s water; distilled water only."),
    (
        "burns",
        "Before each winter: look at flues and air inlets for nests, snow and damage.",
    ),
    (
        "propane",
        "Propane: a leak test by a licensed fitter as often as the local code asks, and after each "
        "work on it.",
    ),
    ("panels", "After the first long drive and each spring: look at the fixings of the panels."),
    ("battery", "Each year: terminals of the battery tight and clean, with the main switch off."),
)
_NAMED = 5


def heading(customer: str | None, written: dt.date, writing: Writing) -> str:
    """For whose van the sheet is, and of which day."""
    date = writing.date(written)
    if customer is None:
        return WORDS["dated"].format(date=date)
    return WORDS["for"].format(customer=isolated(shortened(customer, 60)), date=date)


def charge_caption(sheet: HandoverSheet) -> str:
    """What the table of the charge at sunset counts."""
    winter, summer = (_draws(season) for season in sheet.seasons)
    alone = _alone(sheet.job)
    if winter == summer:
        return WORDS["charge_caption"].format(alone=alone, draws=winter)
    return WORDS["charge_caption_apart"].format(alone=alone, winter=winter, summer=summer)


def _alone(job: Job) -> str:
    """``Parked, without plug or driving``: without what is aboard to charge the battery."""
    aboard = {"plug": job.shore, "driving": job.alternator, "generator": job.generator}
    sources = [WORDS[key] for key, source in aboard.items() if source]
    return WORDS["alone_without"].format(sources=join_or(sources)) if sources else WORDS["alone"]


def _draws(season: Season) -> str:
    return f"{season.draws} {'years of the weather file' if season.years else 'simulated nights'}"


def charge_head() -> tuple[str, ...]:
    """Heads of that table."""
    return (
        WORDS["at_sunset"],
        *(
            WORDS[what].format(season=season)
            for season in SEASONS.values()
            for what in ("all", "essentials")
        ),
    )


def charge_rows(sheet: HandoverSheet, writing: Writing) -> Iterator[tuple[str, ...]]:
    """Its rows, from full downwards, as far as anything is on."""
    for index, level in enumerate(LEVELS):
        if level > sheet.job.battery.cutoff_soc:
            counts = (
                str(count[index])
                for season in sheet.seasons
                for count in (season.lasting, season.essentials)
            )
            yield (writing.percent(level), *counts)


def charge_sentences(sheet: HandoverSheet, writing: Writing) -> Iterator[str]:
    """Where that is, and the charge that more nights need."""
    winter, summer = sheet.seasons
    yield WORDS["where"].format(
        winter_month=month_name(winter.month),
        winter=isolated(winter.place),
        summer_month=month_name(summer.month),
        summer=isolated(summer.place),
    )
    for season in sheet.seasons:
        one, two, three = season.nights
        if one is None:
            yield WORDS["need_full"].format(season=SEASONS[season.name])
            continue
        if one == three:
            yield WORDS["need_same"].format(season=SEASONS[season.name], one=writing.percent(one))
            continue
        more = "" if two is None else WORDS["need_two"].format(two=writing.percent(two))
        if three is not None:
            more += WORDS["need_three"].format(three=writing.percent(three))
        yield WORDS["need"].format(season=SEASONS[season.name], one=writing.percent(one), more=more)


def dull_sentences(sheet: HandoverSheet, writing: Writing) -> Iterator[str]:
    """What a dull day costs in each season, and what brings it back."""
    for season in sheet.seasons:
        dull, name = season.dull, SEASONS[season.name]
        if dull.missing_wh <= 0.0:
            yield WORDS["dull_none"].format(season=name)
            continue
        ways = [
            WORDS[key].format(hours=_hours(hours, writing))
            for key, hours in (
                ("back_sun", dull.sun_hours),
                ("back_drive", dull.drive_hours),
                ("back_plug", dull.plug_hours),
                ("back_generator", dull.generator_hours),
            )
            if hours is not None
        ]
        yield WORDS["dull_sentence"].format(
            season=name,
            missing=writing.amount(dull.missing_wh, "Wh"),
            ways=WORDS["back"].format(ways=join_or(ways)) if ways else "",
        )


def _hours(hours: float, writing: Writing) -> str:
    """``1 hour``, ``2.4 hours``."""
    count = writing.number(max(hours, 0.1), 1)
    return WORDS["hour" if count == "1" else "hours"].format(count=count)


def habit_lines(sheet: HandoverSheet, writing: Writing) -> Iterator[str]:
    """Habits by what they save."""
    for habit in sheet.habits:
        what = habit_words(habit, writing.units)
        yield WORDS["habit"].format(
            what=isolated(shortened(what[:1].upper() + what[1:], 70)),
            saving=writing.amount(habit.saving_wh, "Wh"),
        )


def tank_head(sheet: HandoverSheet) -> tuple[str, ...]:
    """Heads of the table of tanks: one column where both seasons are one trip."""
    winter, summer = sheet.seasons
    if winter.trip == summer.trip:
        return WORDS["tank"], isolated(shortened(winter.trip))
    return WORDS["tank"], *SEASONS.values()


def tank_rows(sheet: HandoverSheet, writing: Writing) -> Iterator[tuple[str, ...]]:
    """Each tank with the nights that it lasts."""
    seasons = sheet.seasons[: len(tank_head(sheet)) - 1]
    for index, line in enumerate(sheet.tanks):
        nights = [season.tanks[index] for season in seasons]
        if any(value is not None for value in nights):
            cells = (
                WORDS["unused"] if value is None else writing.number(int(value)) for value in nights
            )
            yield (_tank_name(line, writing), *cells)


def _tank_name(line: StoreLine, writing: Writing) -> str:
    in_kg = line.unit == "kg"
    size = writing.weight(line.capacity) if in_kg else writing.volume(line.capacity)
    return WORDS[f"{line.kind}_tank"].format(name=isolated(shortened(line.name)), size=size)


def place_lines(job: Job) -> Iterator[tuple[str, str]]:
    """Where things are, as the job says."""
    sheet = job.handover or Handover()
    for key, label in PLACES.items():
        if (text := getattr(sheet, key)) is not None:
            yield label, isolated(text)


def winter_lines(sheet: HandoverSheet, writing: Writing) -> Iterator[str]:
    """The winter list, step by step."""
    for step in sheet.winter:
        if step.kind == "battery":
            yield _battery(sheet.job, writing)
        else:
            yield _WINTER[step.kind].format(
                names=_step_names(step),
                litres=writing.volume(step.litres),
                place=step.place,
            )


def _step_names(step: WinterStep) -> str:
    # What the builder wrote is short by its rule; names of appliances and tanks may be long.
    most = 200 if step.kind in ("own", "air", "drains") else 40
    return listed([isolated(shortened(name, most)) for name in step.names])


def _battery(job: Job, writing: Writing) -> str:
    bank, months, rest = job.battery, rest_months(job), ""
    if months is not None:
        rest = _WINTER_REST.format(loss=writing.percent(REST_LOSS), months=writing.number(months))
    return _WINTER["battery"].format(
        charge=writing.percent(REST_SOC[bank.chemistry]),
        rest=rest,
        cold=_WINTER_COLD[bank.chemistry].format(freezing=writing.temperature(bank.charge_above_c)),
    )


def frozen_sentence(sheet: HandoverSheet) -> str:
    """Where water would freeze on the job's own trips; empty where it would not."""
    stays = list(dict.fromkeys(isolated(place) for _, place in sheet.frozen))
    if len(stays) > _NAMED:
        stays = [*stays[: _NAMED - 1], f"{len(stays) - _NAMED + 1} more stops"]
    return WORDS["frozen"].format(stays=listed(stays)) if stays else ""


def service_lines(sheet: HandoverSheet, writing: Writing) -> Iterator[str]:
    """Dates that the job names, then the tests of what is aboard."""
    job = sheet.job
    for entry in (job.handover or Handover()).services:
        every = _every(entry.every_months, writing)
        what = isolated(entry.what)
        if entry.due is not None:
            key = "due_every" if every else "due"
            yield WORDS[key].format(what=what, date=writing.month(entry.due), every=every)
        else:
            yield WORDS["every"].format(what=what, every=every) if every else f"{what}."
    aboard = {
        "alarms": bool(sheet.alarms),
        "shore": bool(job.shore),
        "flooded": job.battery.chemistry == "flooded",
        "burns": sheet.burns,
        "propane": job.propane is not None,
        "panels": any(group.count and group.mount != "portable" for group in job.panels),
        "battery": True,
    }
    for key, text in _TESTS:
        if aboard[key]:
            yield text.format(alarms=listed(sheet.alarms))


def _every(months: int | None, writing: Writing) -> str:
    if months is None:
        return ""
    if months == 1:
        return WORDS["month"]
    if months % 12:
        return WORDS["months"].format(count=writing.number(months))
    years = months // 12
    return WORDS["year"] if years == 1 else WORDS["years"].format(count=writing.number(years))


def end_words(sheet: HandoverSheet, written: dt.date, version: str, writing: Writing) -> str:
    """How the figures can be had again."""
    return WORDS["end"].format(
        version=version,
        date=writing.date(written),
        draws=_draws(sheet.seasons[0]),
        seed=sheet.job.settings.seed,
    )
