"""Which column of a log is what, by its heading, and in which unit."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from sim.errors import Fault, LogError, join_or, shown

# What a column may be, as the command line names it, and what it is in words.
ROLES = {
    "time": "the time",
    "soc": "the state of charge",
    "current": "the battery's current",
    "power": "the battery's power",
    "voltage": "the battery's voltage",
    "solar": "the power from the panels",
    "solar_current": "the panels' current into the battery",
    "load": "the power of the loads",
    "load_current": "the current of the loads",
    "temperature": "the outside temperature",
}
# A log says something with one of these beside the time.
TELLING = ("soc", "current", "power", "solar", "solar_current", "load", "load_current")
_SUN = r"solar|pv|photovoltaic|panels?|mppt|sun"
_LOAD = r"loads?|consumption|consumed|consumers?|house|usage"
_NEVER = (
    r"min|max|minimum|maximum|total|totals|yield|history|historic|cumulative|error|alarm|alarms|"
    r"relay|starter|aux|auxiliary|midpoint|mid|input|time to go|ttg|remaining|deepest|average|"
    r"consumed ah|consumed amphours|cell|cells|target|limit|wh|kwh|ah|setpoint"
)
_AMPS, _WATTS, _VOLTS = r"current|amps?|amperes?|a|ma", r"power|watts?|w|kw", r"voltage|volts?|v|mv"


@dataclass(frozen=True)
class Column:
    """A column that is understood.

    Attributes
    ----------
    number : int
        From 0.
    heading : str
    scale : float
        To volts, amps, watts; 0 where the range of the values must tell it.
    is_discharge : bool
        Whether a positive value takes from the battery, as the heading has it.
    is_fahrenheit : bool
    """

    number: int
    heading: str
    scale: float = 1.0
    is_discharge: bool = False
    is_fahrenheit: bool = False


def recognised(headings: tuple[str, ...], asked: Mapping[str, str], file: str) -> dict[str, Column]:
    """The columns by what they are.

    Parameters
    ----------
    headings : tuple of str
    asked : mapping
        From a key of `ROLES` to the heading that the user names for it.
    file : str
        For messages.

    Raises
    ------
    LogError
        An asked-for column is not there, two columns fit alike, or nothing is understood.
    """
    found = {role: _asked(role, heading, headings, file) for role, heading in asked.items()}
    taken = {column.number for column in found.values()}
    for role in ROLES:
        if role in found:
            continue
        scored = [
            (score, number)
            for number, heading in enumerate(headings)
            if number not in taken and (score := _score(role, _words(heading)))
        ]
        if not scored:
            continue
        best = max(score for score, _ in scored)
        fits = [number for score, number in scored if score == best]
        if len(fits) > 1:
            names = " and ".join(shown(headings[number]) for number in fits[:3])
            rule = (
                f"the columns {names} may both be {ROLES[role]}; say which: "
                f"--column {role}={shown(headings[fits[0]])}"
            )
            raise LogError(Fault(rule, file=file))
        found[role] = _column(fits[0], headings[fits[0]])
        taken.add(fits[0])
    _expect_enough(found, headings, file)
    return found


def _expect_enough(found: Mapping[str, Column], headings: tuple[str, ...], file: str) -> None:
    listed = ", ".join(shown(heading) for heading in headings if heading)[:300]
    if "time" not in found:
        rule = f'has no column of times; name it: --column time="...". Its columns are {listed}'
        raise LogError(Fault(rule, file=file))
    if not set(TELLING) & set(found):
        rule = (
            "has no column of the state of charge, battery current, solar power or load; name "
            f'one: --column soc="...". Its columns are {listed}'
        )
        raise LogError(Fault(rule, file=file))


def _asked(role: str, heading: str, headings: tuple[str, ...], file: str) -> Column:
    if role not in ROLES:
        rule = f"no such kind of column; name {join_or(ROLES)}"
        raise LogError(Fault(rule, key="--column", value=role))
    same = [n for n, text in enumerate(headings) if text.casefold() == heading.strip().casefold()]
    if not same:
        listed = ", ".join(shown(text) for text in headings if text)[:300]
        rule = f"no such column in {file}; it has {listed}"
        raise LogError(Fault(rule, key=f"--column {role}", value=heading))
    return _column(same[0], headings[same[0]])


def _words(heading: str) -> str:
    """A heading in small letters, its words apart by single blanks."""
    text = re.sub(r"(?<=[a-z]{2})(?=[A-Z])", " ", heading.replace("SoC", "SOC"))  # batteryCurrent
    return " ".join(re.findall(r"[a-z]+|%|°[cf]|\d+", text.lower()))


def _has(pattern: str, words: str) -> bool:
    return re.search(rf"(?:^| )(?:{pattern})(?= |$)", words) is not None


def _score(role: str, words: str) -> int:
    """How well a heading fits, 0 for not at all."""
    if role == "time":
        known = ("timestamp", "datetime", "date time", "time", "date", "zeit", "logged at", "day")
        return next((9 - n for n, word in enumerate(known) if _has(word, words)), 0)
    if role == "soc":
        if _has("soc|state of charge", words):
            return 0 if _has("min|max|target|limit|cells?|\\d+", words) else 5
        return 3 * (_has("%|percent", words) and _has("charge|battery|level", words))
    if _has(_NEVER, words):
        return 0
    sun, load = _has(_SUN, words), _has(_LOAD, words)
    amps, watts, volts = _has(_AMPS, words), _has(_WATTS, words), _has(_VOLTS, words)
    own = 1 + _has("battery|batt|bank|shunt|monitor|net|bmv", words)
    is_volts = volts and not amps and not watts
    fits = {
        "current": own * (amps and not sun and not load and not volts),
        "power": own * (watts and own > 1 and not sun and not load and not amps),
        "voltage": own * (is_volts and not sun and not load),
        "solar": 2 * (sun and watts and not volts) + (sun and watts and not amps),
        "solar_current": 2 * (sun and amps and not watts),
        "load": 2 * (load and watts and not amps),
        "load_current": 2 * (load and amps and not watts),
        "temperature": _has("temp|temperature|°c|°f", words)
        * (2 * _has("outside|ambient|air|outdoor", words)),
    }
    return int(fits[role])


def _column(number: int, heading: str) -> Column:
    words = _words(heading)
    scale = 1.0
    if _has("ma|mv|milliamps?|millivolts?", words):
        scale = 0.001
    elif _has("kw|kilowatts?", words):
        scale = 1000.0
    return Column(
        number,
        heading,
        scale,
        is_discharge=_has("discharge|discharging|out", words),
        is_fahrenheit=_has("f|°f|fahrenheit", words),
    )
