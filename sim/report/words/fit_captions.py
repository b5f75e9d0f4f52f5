"""What the charts of a log against the promise say."""

from __future__ import annotations

import numpy as np

from sim.arrays import Floats
from sim.report.words.by_locale import Writing
from sim.report.words.numbers import GAP


def charge_caption(kept: float, writing: Writing) -> str:
    """What the chart of the charge says."""
    return (
        f"The solid line is what the monitor shows; the dotted one the middle of the promise, the "
        f"band eight trips of ten. In {writing.percent(kept)} of the hours the charge was in "
        "the band or above."
    )


def days_caption(
    came: Floats, due: Floats, taken: Floats, writing: Writing, *, is_sun: bool
) -> str:
    """What the chart of the days says."""
    into, out = (_mean(values, writing) for values in (came, taken))
    if not is_sun:
        return (
            f"Bars, what went into the battery, {into} a day; short dashes, what came out of it, "
            f"{out}."
        )
    return (
        f"Bars, what the panels gave, {into} a day; the broken line, what they could have given "
        f"by the promise, {_mean(due, writing)}; short dashes, what the loads took, {out}. A full "
        "battery leaves sun unused."
    )


def hours_caption(sun_w: Floats, loads_w: Floats, writing: Writing) -> str:
    """What the chart of the hours says."""
    texts = []
    for values, name in ((sun_w, "The sun lies"), (loads_w, "The loads lie")):
        if not np.isfinite(values).any():
            texts.append(f"{name.rsplit(' ', 1)[0]} cannot be told by the hour.")
            continue
        hour = int(np.nanargmax(np.abs(values)))
        side = "above" if values[hour] > 0 else "below"
        texts.append(
            f"{name} farthest from the promise at {hour:02d}:00, by "
            f"{writing.number(abs(values[hour]))}{GAP}W {side} it."
        )
    return " ".join(texts)


def _mean(values: Floats, writing: Writing) -> str:
    if not np.isfinite(values).any():
        return "not known"
    return f"{writing.number(float(np.nanmean(values)))}{GAP}Wh"
