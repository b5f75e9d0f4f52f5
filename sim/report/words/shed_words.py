"""What goes off first in a van, and at which charge."""

from __future__ import annotations

from collections.abc import Iterator

from sim.decide.handover import HandoverSheet, ShedGroup
from sim.report.words.by_locale import Writing
from sim.report.words.handover_words import WORDS
from sim.report.words.numbers import isolated, listed, shortened

_NAMED = 5
# A floor that cold raises by less is the floor. 0 to 1
_COLD_MATTERS = 0.02


def shed_sentences(sheet: HandoverSheet, writing: Writing) -> Iterator[str]:
    """What goes off first, then next, each at its charge."""
    for group in sheet.shed:
        key = "shed_line"
        if group.priority == "essential":
            key = "shed_all" if group.names else "shed_bare"
        yield WORDS[key].format(
            floor=_floor(group, writing),
            back=writing.percent(group.back_soc),
            names=_names(group),
        )


def _floor(group: ShedGroup, writing: Writing) -> str:
    """``5 %``, ``5 % (in the cold 24 %)``."""
    floor = writing.percent(group.floor_soc)
    if group.cold_soc < group.floor_soc + _COLD_MATTERS:
        return floor
    return WORDS["floor_cold"].format(floor=floor, cold=writing.percent(group.cold_soc))


def _names(group: ShedGroup) -> str:
    names = [isolated(shortened(name)) for name in group.names]
    if len(names) > _NAMED:
        names = [*names[: _NAMED - 1], f"{len(names) - _NAMED + 1} more"]
    return listed(names)
