"""Sentences on a log against the promise: what was broken, what was kept, what nobody knows."""

from __future__ import annotations

import numpy as np

from sim.arrays import Floats
from sim.fit.estimate import Estimate
from sim.fit.findings import Finding, What
from sim.fit.fit import Fit
from sim.report.words.numbers import GAP, Manner, listed

NAMES: dict[What, str] = {
    "sun": "Sun",
    "sun_by_hour": "Sun by the hour",
    "standing_load": "Standing load",
    "loads": "Loads by use",
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
    manner = Manner(found.job.settings.units)
    by = {finding.what: finding for finding in found.findings}
    said, texts = set(), []
    for finding in found.broken:
        if finding.what in said:
            continue
        if finding.what in ("sun", "sun_by_hour") and _is_both(by):
            texts.append(_sun_in_part(by["sun"], by["sun_by_hour"], manner))
            said |= {"sun", "sun_by_hour"}
            continue
        texts.append(finding_sentence(finding, manner))
        said.add(finding.what)
    # Who names a weak morning does not praise the sun in the next breath.
    passed = {"sun"} if by["sun_by_hour"].broken else set()
    kept = [
        _KEPT[x.what]
        for x in found.findings
        if x.broken is False and x.what in _KEPT and x.what not in passed
    ]
    if kept:
        start = "As promised: " if texts else "All promises that the log can judge were kept: "
        texts.append(start + listed(kept) + ".")
    if not texts:
        texts.append("The log can judge none of the promises.")
    return tuple(texts)


def _is_both(by: dict[What, Finding]) -> bool:
    return bool(by["sun"].broken and by["sun_by_hour"].broken)


def finding_sentence(finding: Finding, manner: Manner) -> str:
    """What the log says of one promise."""
    if finding.estimate is None:
        return _UNKNOWN[finding.because] or "The van was never on the plug."
    if not finding.broken:
        return _kept_sentence(finding)
    since = _since(finding, manner)
    estimate = finding.estimate
    words = {
        "sun": lambda: (
            f"The sun brings {_less(estimate)} less than promised{since}, at all hours that the "
            f"log shows: a panel or string off, a blown fuse, or dirt ({_between(estimate)})."
        ),
        "sun_by_hour": lambda: (
            f"{_when(finding).capitalize()} the panels bring {_less(estimate)} less{since} than "
            f"the rest of the day promises: a shadow ({_between(estimate)})."
        ),
        "standing_load": lambda: (
            f"Something draws {estimate.value:.0f}{GAP}W day and night{since} that was not "
            f"promised ({estimate.interval[0]:.0f} to {estimate.interval[1]:.0f}{GAP}W)."
        ),
        "loads": lambda: (
            f"The loads take {100 * (estimate.value - 1):.0f}{GAP}% more than promised{since} "
            f"({_between(estimate)})."
        ),
        "engine": lambda: _charging("engine", "a blown fuse, a cable, or its start signal"),
        "plug": lambda: _charging("plug", "the charger, its breaker, or a weak outlet"),
        "capacity": lambda: _capacity_sentence(estimate),
        "losses": lambda: (
            f"Of what goes into the bank {_less(estimate)} more is lost than promised"
            f" ({_between(estimate)})."
        ),
        "counter": lambda: (
            f"The monitor's charge runs away by {100 * abs(estimate.value):.1f} points a day, "
            f"{'up' if estimate.value > 0 else 'down'}wards, until the battery is full again: do "
            "not trust what it shows in between."
        ),
        "clock": lambda: _clock_sentence(estimate, in_utc=finding.in_utc),
    }

    def _charging(what: str, why: str) -> str:
        if estimate.value < 0.1:
            return f"The {what} brings nothing{since}: {why} ({_between(estimate)})."
        return (
            f"The {what} brings {_less(estimate)} less than promised{since}: {why} "
            f"({_between(estimate)})."
        )

    return words[finding.what]()


def _capacity_sentence(estimate: Estimate) -> str:
    if estimate.value > 1.0:
        return (
            f"The bank takes {100 * (estimate.value - 1):.0f}{GAP}% more than its label: the "
            f"monitor is set to another size, or the job is ({_between(estimate)})."
        )
    return (
        f"The bank holds {_less(estimate)} less than its label ({_between(estimate)}); if it is "
        "new, look first at the size that the monitor is set to."
    )


def _clock_sentence(estimate: Estimate, *, in_utc: bool) -> str:
    if in_utc:
        return (
            "The log runs in UTC and not by the local clock; it was read as such, and nothing "
            "else hangs on it."
        )
    hours = f"{abs(estimate.value):.1f}".removesuffix(".0")
    side = "late" if estimate.value > 0 else "early"
    return (
        f"The log's clock is not the local one: its sun is about {hours}{GAP}hours {side}. It was "
        "put right before anything else was looked at."
    )


def _kept_sentence(finding: Finding) -> str:
    estimate = finding.estimate
    assert estimate is not None
    if finding.what == "sun_by_hour":
        return f"No part of the day is weaker than the others ({_between(estimate)})."
    if finding.what == "clock":
        return "The clock of the log fits the sun."
    text = _KEPT[finding.what]
    if finding.what == "sun" and estimate.value < _ABOUT:
        text = "the sun may bring less than promised, but the weather alone may do that"
    text = text[:1].upper() + text[1:]
    if finding.what == "standing_load":
        low, high = estimate.interval
        return f"{text} ({low:+.0f} to {high:+.0f}{GAP}W).".replace("-", "\N{MINUS SIGN}")
    if finding.what == "counter":
        return f"{text}."
    return f"{text} ({_between(estimate)})."


def _sun_in_part(whole: Finding, part: Finding, manner: Manner) -> str:
    assert whole.estimate is not None
    assert part.estimate is not None
    since = _since(part, manner) or _since(whole, manner)
    return (
        f"The sun brings {_less(whole.estimate)} less than promised{since}, only "
        f"{_when(part)}, when it is {_less(part.estimate)} less: shade, or a panel turned away "
        f"({_between(whole.estimate)})."
    )


def _when(finding: Finding) -> str:
    """``in the morning``."""
    return "around midday" if finding.part == "midday" else f"in the {finding.part}"


def _since(finding: Finding, manner: Manner) -> str:
    return "" if finding.since is None else f" since {manner.full_date(finding.since)}"


def _less(estimate: Estimate) -> str:
    return f"{100 * (1 - estimate.value):.0f}{GAP}%"


def _between(estimate: Estimate) -> str:
    """``between 62 and 75 % of the promise``."""
    low, high = (max(100 * value, 0.0) for value in estimate.interval)
    return f"between {low:.0f} and {high:.0f}{GAP}% of the promise"


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
    manner = Manner(found.job.settings.units)
    first, last = (found.clock.utc[n].astype("datetime64[D]").astype(object) for n in (0, -1))
    columns = [text for role, text in found.log.headings.items() if role != "time"]
    return (
        f"{found.days} days of a log with a row every {found.log.apart_min:g} minutes, "
        f"{manner.full_date(first)} to {manner.full_date(last)}; it shows {listed(columns)}."
    )


def cells(finding: Finding, manner: Manner) -> tuple[str, str, str, str, str]:
    """A row of a table: promise, kept or not, measured over promised, eight in ten, since."""
    state = {True: "broken", False: "kept", None: "not known"}[finding.broken]
    since = "" if finding.since is None else manner.full_date(finding.since)
    estimate, name = finding.estimate, NAMES[finding.what]
    if finding.part is not None:
        name = f"Sun {_when(finding)}"
    if estimate is None:
        return name, state, "–", "–", since
    low, high = estimate.interval
    if finding.what == "standing_load":
        value, span = f"{estimate.value:+.0f} W", f"{low:+.0f} to {high:+.0f} W"
    elif finding.what == "clock":
        value, span = f"{estimate.value:+.1f} h", f"{low:+.1f} to {high:+.1f} h"
    elif finding.what == "counter":
        value = f"{100 * estimate.value:+.1f} points/day"
        span = f"{100 * low:+.1f} to {100 * high:+.1f}"
    else:
        value = f"{100 * estimate.value:.0f} %"
        span = f"{max(100 * low, 0):.0f} to {100 * high:.0f} %"
    value, span = (text.replace("-", "\N{MINUS SIGN}") for text in (value, span))
    return name, state, value, span, since


def charge_caption(kept: float) -> str:
    """What the chart of the charge says."""
    return (
        f"The solid line is what the monitor shows; the dotted one the middle of the promise, the "
        f"band eight trips of ten. In {100 * kept:.0f}{GAP}% of the hours the charge was in "
        "the band or above."
    )


def days_caption(came: Floats, due: Floats, taken: Floats, *, is_sun: bool) -> str:
    """What the chart of the days says."""
    into, out = (_mean(values) for values in (came, taken))
    if not is_sun:
        return (
            f"Bars, what went into the battery, {into} a day; short dashes, what came out of it, "
            f"{out}."
        )
    return (
        f"Bars, what the panels gave, {into} a day; the broken line, what they could have given "
        f"by the promise, {_mean(due)}; short dashes, what the loads took, {out}. A full battery "
        "leaves sun unused."
    )


def hours_caption(sun_w: Floats, loads_w: Floats) -> str:
    """What the chart of the hours says."""
    texts = []
    for values, name in ((sun_w, "The sun"), (loads_w, "The loads")):
        if not np.isfinite(values).any():
            texts.append(f"{name} cannot be measured by the hour.")
            continue
        hour = int(np.nanargmax(np.abs(values)))
        side = "above" if values[hour] > 0 else "below"
        texts.append(
            f"{name} lies farthest from the promise at {hour:02d}:00, by {abs(values[hour]):.0f}"
            f"{GAP}W {side} it."
        )
    return " ".join(texts)


def _mean(values: Floats) -> str:
    if not np.isfinite(values).any():
        return "not known"
    return f"{np.nanmean(values):,.0f}{GAP}Wh"
