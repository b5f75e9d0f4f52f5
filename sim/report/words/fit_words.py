"""Sentences on a log against the promise: what was broken, what was kept, what nobody knows."""

from __future__ import annotations

from sim.fit.estimate import Estimate
from sim.fit.findings import Finding, What
from sim.fit.fit import Fit
from sim.report.words.by_locale import Writing
from sim.report.words.numbers import GAP, listed

NAMES: dict[What, str] = {
    "sun": "Sun",
    "sun_by_hour": "Sun by the hour",
    "standing_load": "Standing load",
    "loads": "Loads by use",
    "loads_by_temperature": "Loads by temperature",
    "engine": "Charging by the engine",
    "plug": "Charging by the plug",
    "capacity": "Size of the bank",
    "losses": "Losses of the bank",
    "clock": "Clock of the log",
    "counter": "Counter of the monitor",
}
_KEPT: dict[What, str] = {
    "sun": "the sun brings what was promised",
    "standing_load": "nothing unknown draws at night",
    "loads": "the loads are as promised",
    "loads_by_temperature": "the loads rise with the temperature as they should",
    "engine": "the engine charges as promised",
    "plug": "the plug charges as promised",
    "capacity": "the bank holds what its label says",
    "losses": "it loses no more than promised",
    "counter": "the monitor's counter is steady",
}
_UNKNOWN: dict[str, str] = {
    "no_panels": "The job has no panels.",
    "few_sunny_hours": "What the panels could give: the battery was too full to take it, or the "
    "sun was too weak.",
    "no_charge": "What the panels could give: without charge or voltage nobody sees when a full "
    "battery turned the sun away.",
    "few_nights": "What draws at night: too few nights without engine and plug are in the log.",
    "no_day_loads": "What people use by day: for that the log needs a column of the loads, or of "
    "the power from the panels.",
    "no_temperature": "Whether the loads rise with the temperature as promised: for that the log "
    "needs the outside temperature, or fit the weather as it was (--weather).",
    "steady_temperature": "Whether the loads rise with the temperature as promised: it was much "
    "the same on all days.",
    "no_engine": "What the engine charges: no drive is in the log.",
    "little_engine": "What the engine charges: on fewer than two drives had the battery room for "
    "it, or the sun hides it.",
    "no_plug": "",
    "little_plug": "What the plug charges: on fewer than two nights had the battery room for it.",
    "no_soc_and_current": "Size and losses of the bank, and the counter: for that the log needs "
    "both the state of charge and the battery's current.",
    "few_turns": "Size and losses of the bank: too little went through it.",
    "never_deep": "Size and losses of the bank: it was hardly discharged.",
    "no_sun_seen": "Whether its clock is right: the log does not show the sun.",
}
# What to measure next where a promise was broken, by what.
_NEXT: dict[What, str] = {
    "sun": "Measure the current of each string at noon under a clear sky, one after the other, and "
    "clean the glass before.",
    "sun_by_hour": "Look at the panels at the hour when they are weak: what throws the shadow, and "
    "does the van always park the same way round?",
    "standing_load": "Measure the standing amps at night with everything switched off, then pull "
    "one fuse after the other until they fall.",
    "loads": "Note for two days what runs and when, beside the amps that the monitor shows.",
    "loads_by_temperature": "On a warm day, feel whether air gets past the back of the "
    "refrigerator, look at its door seal and frost, and see what else runs with the warmth.",
    "engine": "With the engine running and the battery below 80 %, measure the DC-DC charger's "
    "output current; then look at its fuses and at the wire that tells it that the engine runs.",
    "plug": "On the plug with the battery below 80 %, measure the charger's output current and the "
    "voltage at its inlet.",
    "capacity": "Charge to full, then discharge to 20 % and count the ampere-hours; look at the "
    "voltage at the bank under load.",
    "losses": "Measure the voltage at the bank and at the charger at the same time under full "
    "charge: a warm cable or terminal lies between them.",
    "clock": "Set the monitor's clock, or its time zone, before the next log.",
    "counter": "Set the monitor's zero with everything off, check its full-charge voltage and tail "
    "current, and charge to full once.",
}
# And where the log does not tell.
_NEXT_UNKNOWN: dict[str, str] = {
    "few_sunny_hours": "Discharge the battery to 60 % the evening before a clear day, and log the "
    "next one.",
    "no_day_loads": "Export the power from the panels, or that of the loads, with the next log.",
    "little_engine": "Drive for an hour with the battery below 80 %, the monitor on.",
    "never_deep": "Let the battery go down to 30 % once, away from frost, and log the way back.",
    "few_turns": "Let the battery go down to 30 % once, away from frost, and log the way back.",
    "no_soc_and_current": "Export state of charge and battery current together.",
    "no_charge": "Export the state of charge or the battery's voltage too.",
}
# From here on a factor reads as kept without a but.
_ABOUT = 0.9
CAUTION = (
    "Panels in the sun and a battery cannot be switched off: what is to be measured at open "
    "terminals is work for somebody with insulated tools and training, by local rules."
)

TABLE_CAPTION = "Every promise beside what the log shows; 100 % is as promised"


def answer_sentences(found: Fit) -> tuple[str, ...]:
    """The answer first: every broken promise, then those kept, in one sentence each."""
    writing = Writing.of(found.job)
    by = {finding.what: finding for finding in found.findings}
    said, texts = set(), []
    for finding in found.broken:
        if finding.what in said:
            continue
        if finding.what in ("sun", "sun_by_hour") and _is_both(by):
            texts.append(_sun_in_part(by["sun"], by["sun_by_hour"], writing))
            said |= {"sun", "sun_by_hour"}
            continue
        texts.append(finding_sentence(finding, writing))
        said.add(finding.what)
    # Who names a weak morning does not praise the sun in the next breath.
    passed = {"sun"} if by["sun_by_hour"].broken else set()
    kept = [x for x in found.findings if x.broken is False and x.what in _KEPT]
    kept = [x for x in kept if x.what not in passed]
    plain = [_KEPT[x.what] for x in kept if not _but(x)]
    if plain:
        start = "As promised: " if texts else "All promises that the log can judge were kept: "
        texts.append(start + listed(plain) + ".")
    texts += [f"{text[:1].upper()}{text[1:]}." for x in kept if (text := _but(x))]
    if not texts:
        texts.append("The log can judge none of the promises.")
    return tuple(texts)


def _is_both(by: dict[What, Finding]) -> bool:
    return bool(by["sun"].broken and by["sun_by_hour"].broken)


def finding_sentence(finding: Finding, writing: Writing) -> str:
    """What the log says of one promise."""
    if finding.estimate is None:
        return _UNKNOWN[finding.because] or "The van was never on the plug."
    if not finding.broken:
        return _kept_sentence(finding, writing)
    since = _since(finding, writing)
    estimate = finding.estimate
    less, between = _less(estimate, writing), _between(estimate, writing)
    words = {
        "sun": lambda: (
            f"The sun brings {less} less than promised{since}, at all hours that the "
            f"log shows: a panel or string off, a blown fuse, or dirt ({between})."
        ),
        "sun_by_hour": lambda: (
            f"{_when(finding).capitalize()} the panels bring {less} less{since} than "
            f"the rest of the day promises: a shadow ({between})."
        ),
        "standing_load": lambda: (
            f"Something draws {writing.number(estimate.value)}{GAP}W day and night{since} that was "
            f"not promised ({' to '.join(map(writing.number, estimate.interval))}{GAP}W)."
        ),
        "loads": lambda: (
            f"The loads take {writing.percent(estimate.value - 1)} more than promised{since} "
            f"({between})."
        ),
        "loads_by_temperature": lambda: (
            f"With each {_degree(writing)} that it is warmer outside the loads take "
            f"{writing.number(_by_degree(estimate.value, writing), 1)}{GAP}W more than promised: "
            "a refrigerator without air or with a bad seal, or fans "
            f"({_per_degree_between(estimate, writing)})."
        ),
        "engine": lambda: _charging("engine", "a blown fuse, a cable, or its start signal"),
        "plug": lambda: _charging("plug", "the charger, its breaker, or a weak outlet"),
        "capacity": lambda: _capacity_sentence(estimate, writing),
        "losses": lambda: (
            f"Of what goes into the bank {less} more is lost than promised ({between})."
        ),
        "counter": lambda: (
            "The monitor's charge runs away by "
            f"{writing.number(100 * abs(estimate.value), 1)} points a day{since}, "
            f"{'up' if estimate.value > 0 else 'down'}wards, until the battery is full "
            "again: do not trust what it shows in between."
        ),
        "clock": lambda: _clock_sentence(estimate, writing, in_utc=finding.in_utc),
    }

    def _charging(what: str, why: str) -> str:
        if estimate.value < 0.1:
            return f"The {what} brings nothing{since}: {why} ({between})."
        return f"The {what} brings {less} less than promised{since}: {why} ({between})."

    return words[finding.what]()


def _capacity_sentence(estimate: Estimate, writing: Writing) -> str:
    if estimate.value > 1.0:
        return (
            f"The bank takes {writing.percent(estimate.value - 1)} more than its label: the "
            f"monitor is set to another size, or the job is ({_between(estimate, writing)})."
        )
    return (
        f"The bank holds {_less(estimate, writing)} less than its label "
        f"({_between(estimate, writing)}); if it is new, look first at the size that the monitor "
        "is set to."
    )


def _clock_sentence(estimate: Estimate, writing: Writing, *, in_utc: bool) -> str:
    if in_utc:
        return (
            "The log runs in UTC and not by the local clock; it was read as such, and nothing "
            "else hangs on it."
        )
    hours = writing.number(abs(estimate.value), 1)
    side = "late" if estimate.value > 0 else "early"
    return (
        f"The log's clock is not the local one: its sun is about {hours}{GAP}hours {side}. It was "
        "put right before anything else was looked at."
    )


def _but(finding: Finding) -> str:
    """What is said of a promise that was kept, though not to the letter; empty of the others."""
    estimate = finding.estimate
    if finding.what == "sun" and estimate is not None and estimate.value < _ABOUT:
        return "the sun may bring less than promised, but the weather alone may do that"
    if finding.what == "loads" and estimate is not None and estimate.interval[0] > 1.0:
        return "the loads take a little more than promised, no more than people differ"
    return ""


def _kept_sentence(finding: Finding, writing: Writing) -> str:
    estimate = finding.estimate
    assert estimate is not None
    if finding.what == "sun_by_hour":
        return f"No part of the day is weaker than the others ({_between(estimate, writing)})."
    if finding.what == "clock":
        return "The clock of the log fits the sun."
    text = _but(finding) or _KEPT[finding.what]
    text = text[:1].upper() + text[1:]
    if finding.what == "standing_load":
        low, high = estimate.interval
        return f"{text} ({_signed(low, writing)} to {_signed(high, writing)}{GAP}W)."
    if finding.what == "loads_by_temperature":
        return f"{text} ({_per_degree_between(estimate, writing)})."
    if finding.what == "counter":
        return f"{text}."
    return f"{text} ({_between(estimate, writing)})."


def _sun_in_part(whole: Finding, part: Finding, writing: Writing) -> str:
    assert whole.estimate is not None
    assert part.estimate is not None
    since = _since(part, writing) or _since(whole, writing)
    return (
        f"The sun brings {_less(whole.estimate, writing)} less than promised{since}, only "
        f"{_when(part)}, when it is {_less(part.estimate, writing)} less: shade, or a panel turned "
        f"away ({_between(whole.estimate, writing)})."
    )


def _when(finding: Finding) -> str:
    """``in the morning``."""
    return "around midday" if finding.part == "midday" else f"in the {finding.part}"


def _since(finding: Finding, writing: Writing) -> str:
    return "" if finding.since is None else f" since {writing.date(finding.since)}"


def _less(estimate: Estimate, writing: Writing) -> str:
    return writing.percent(1.0 - estimate.value)


def _signed(value: float, writing: Writing, digits: int = 0) -> str:
    """``+1.2``, ``−0.4``."""
    sign = "\N{MINUS SIGN}" if value < 0.0 else "+"
    return sign + writing.number(abs(value), digits)


def _degree(writing: Writing) -> str:
    return "°F" if writing.units == "us" else "°C"


def _by_degree(per_kelvin: float, writing: Writing) -> float:
    """Watts per degree of the reader's thermometer."""
    return per_kelvin / 1.8 if writing.units == "us" else per_kelvin


def _per_degree_between(estimate: Estimate, writing: Writing) -> str:
    """``+0.4 to +1.2 W per °C beyond the promise``."""
    low, high = (_by_degree(x, writing) for x in estimate.interval)
    span = f"{_signed(low, writing, 1)} to {_signed(high, writing, 1)}"
    return f"{span}{GAP}W per {_degree(writing)} beside the promise"


def _between(estimate: Estimate, writing: Writing) -> str:
    """``between 62 % and 75 % of the promise``."""
    low, high = (writing.percent(max(value, 0.0)) for value in estimate.interval)
    if low == high:
        return f"{low} of the promise"
    return f"between {low} and {high} of the promise"


def unknown_sentences(found: Fit) -> tuple[str, ...]:
    """What the log cannot tell."""
    texts = [_UNKNOWN[x.because] for x in found.findings if x.broken is None]
    return tuple(dict.fromkeys(text for text in texts if text))


def next_sentences(found: Fit) -> tuple[str, ...]:
    """What to measure next: at what was broken, then at what is not known."""
    texts = [_NEXT[x.what] for x in found.broken]
    texts += [_NEXT_UNKNOWN[x.because] for x in found.findings if x.because in _NEXT_UNKNOWN]
    return tuple(dict.fromkeys(texts))


def log_sentence(found: Fit) -> str:
    """What the log is: days, rows, columns."""
    writing = Writing.of(found.job)
    first, last = (found.clock.utc[n].astype("datetime64[D]").astype(object) for n in (0, -1))
    columns = [text for role, text in found.log.headings.items() if role != "time"]
    return (
        f"{found.days} days of a log with a row every "
        f"{writing.number(found.log.apart_min, 1)} minutes, {writing.date(first)} to "
        f"{writing.date(last)}; it shows {listed(columns)}. {_weather_sentence(found)}"
    )


def _weather_sentence(found: Fit) -> str:
    """Which weather the log was held against."""
    if found.promised.file_w is not None:
        return "Its days were held against the same days of the weather file."
    stops = {stop.weather for trip in found.job.trips for stop in trip.stops}
    if {found.job.settings.weather, *stops} - {None, "climate", "clear"}:
        return (
            "The weather file has not all days of the trips in their own year: it only says what "
            "the months are like, and the days stay unknown."
        )
    return "The weather of its days is not known: the climate of the place says what may have been."


def cells(finding: Finding, writing: Writing) -> tuple[str, str, str, str, str]:
    """A row of a table: promise, kept or not, measured over promised, eight in ten, since."""
    state = {True: "broken", False: "kept", None: "not known"}[finding.broken]
    since = "" if finding.since is None else writing.short_date(finding.since)
    estimate, name = finding.estimate, NAMES[finding.what]
    if finding.part is not None:
        name = f"Sun {_when(finding)}"
    if estimate is None:
        return name, state, "–", "–", since
    # What is no factor has a unit, a scale and so many digits.
    unit, scale, digits = {
        "standing_load": ("W", 1.0, 0),
        "loads_by_temperature": (f"W/{_degree(writing)}", _by_degree(1.0, writing), 1),
        "clock": ("h", 1.0, 1),
        "counter": ("points/day", 100.0, 1),
    }.get(finding.what, ("", 1.0, 0))
    low, high = estimate.interval
    if unit:
        value, low_text, high_text = (
            _signed(scale * x, writing, digits) for x in (estimate.value, low, high)
        )
        # That of a rate stands once: the table has to fit a screen of 80 columns.
        value = f"{value} {unit}"
        high_text += "" if finding.what == "counter" else f" {unit}"
    else:
        value, low_text, high_text = (
            writing.percent(max(x, 0.0)) for x in (estimate.value, low, high)
        )
    return name, state, value, f"{low_text} to {high_text}", since
