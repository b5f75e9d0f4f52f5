"""The converter over a trip: what it carries of the DC loads, and what it takes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from sim.job.model.living import PRIORITIES
from sim.job.model.power import Converter
from sim.trip.lines import Line
from sim.van import chargers

CONVERTER_NAME = "Converter (its own draw and losses)"


def carried(converter: Converter, lines: Sequence[Line]) -> list[Line]:
    """The lines, those on DC with the share of them that the converter can carry, the essential
    before the rest.

    Parameters
    ----------
    converter : Converter
    lines : sequence of Line
        All appliances, as means over a step: what peaks within it is for the wiring sheet.
    """
    made, left = list(lines), np.full((1, 1), converter.rated_watts)
    for priority in PRIORITIES:
        own = [n for n, x in enumerate(made) if x.supply == "dc" and x.priority == priority]
        wanted = sum((made[n].watts for n in own), np.zeros((1, 1)))
        share = chargers.within_rating(wanted, left)
        if (share < 1.0).any():
            for n in own:
                made[n] = replace(made[n], live=made[n].live * share)
        left = np.maximum(left - wanted * share, 0.0)
    return made


def converter_lines(converter: Converter, lines: Sequence[Line]) -> list[Line]:
    """What the converter takes on top of what it delivers: its losses have the priority of the
    appliances they serve, its idle draw that of the most important ones.

    Parameters
    ----------
    converter : Converter
    lines : sequence of Line
        All appliances, as `carried` leaves them.
    """
    fed = [line for line in lines if line.supply == "dc"]
    made: list[Line] = []
    for group in sorted({line.group for line in fed}):
        own = [line for line in fed if line.group == group]
        load_w = sum((line.asked_w for line in own), np.zeros((1, 1)))
        watts = chargers.converter_loss_watts(load_w, efficiency=converter.efficiency)
        watts = watts if made else watts + converter.idle_watts
        made.append(Line(CONVERTER_NAME, own[0].priority, "converter", watts, held=own[0].held))
    return made
