"""Steps in which a source or a strong load starts or stops: laid out by the minute."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

import numpy as np

from sim.arrays import Bools, Floats, Ints
from sim.job.model.job import Job
from sim.job.model.living import PRIORITIES
from sim.sky.sun import Sun
from sim.trip.availability import held, live_minutes
from sim.trip.inverter import curve_of
from sim.trip.lines import group_of, held_number
from sim.trip.timeline import Timeline, within
from sim.van.bank.substeps import Substep

# A load by the clock counts as strong from this share of the bank's capacity an hour: a weaker
# one moves the charge within its hour by less than a point.
STRONG_PER_H = 0.04


def parts_of(
    job: Job, timeline: Timeline, sun: Sun, shares: Sequence[Floats | None]
) -> dict[int, tuple[Substep, ...]]:
    """The steps of a trip that the battery does in parts.

    Parameters
    ----------
    job : Job
    timeline : Timeline
    sun : Sun
        H steps.
    shares : sequence of ndarray, shape (H,), or None
        Part of each step in which each source runs; None for one whose mean is used for the step.

    Returns
    -------
    dict
        By step. What sources offer and strong timed loads want in the parts of a step makes up
        the means of the step.
    """
    minutes = timeline.step_minutes
    run = [k for k, share in enumerate(shares) if share is not None]
    strong = _strong(job, timeline, sun)
    shape = (len(timeline), minutes)
    on = np.stack(
        [
            *(_laid_out(share, minutes) for share in shares if share is not None),
            *(own & (watts != 0.0)[:, None] for own, _, watts in strong),
        ]
    ).reshape(-1, *shape)
    changes = (on[:, :, 1:] != on[:, :, :-1]).any(axis=0)
    watts = np.zeros((len(strong), len(timeline)))
    groups = np.zeros((len(PRIORITIES) + len(job.held_socs), len(strong)))
    for number, (_, group, drawn) in enumerate(strong):
        watts[number] = drawn
        groups[group, number] = 1.0
    found = {}
    for step in np.flatnonzero(changes.any(axis=1)).tolist():
        edges = np.flatnonzero(changes[step]) + 1
        parts = _parts(on[: len(run), step], on[len(run) :, step], edges, groups * watts[:, step])
        found[step] = tuple(
            Substep(
                share,
                tuple(over_mean[run.index(k)] if k in run else 1.0 for k in range(len(shares))),
                more_w,
            )
            for share, over_mean, more_w in parts
        )
    return found


def _parts(
    sources: Bools, loads: Bools, edges: Ints, group_w: Floats
) -> Iterator[tuple[float, list[float], Floats]]:
    """One step between the minutes at which something changes: share of it, what each source
    offers in it over its mean, and what the loads want above theirs by group [W], shape (G, 1).

    `sources` (m, minutes) and `loads` (n, minutes) are on or off; `group_w` (G, n) is what the
    loads draw from the bank, by group.
    """
    minutes = sources.shape[1]
    offered, wanted = sources.mean(axis=1).tolist(), loads.mean(axis=1)
    for first, last in pairwise([0, *edges.tolist(), minutes]):
        over_mean = [
            float(now) / share if share > 0.0 else 0.0
            for now, share in zip(sources[:, first], offered, strict=True)
        ]
        more_w = group_w @ (loads[:, first] - wanted)
        yield (last - first) / minutes, over_mean, more_w[:, None]


def _laid_out(share: Floats, minutes: int) -> Bools:
    """Minutes of each step in which something runs that runs for a share of it: the last ones
    if it runs on in the next step for longer, else the first. shape (H, minutes)"""
    runs = np.round(share * minutes)[:, None]
    goes_on = np.append(share[1:] > share[:-1], False)[:, None]
    minute = np.arange(minutes)
    return np.asarray(np.where(goes_on, minute >= minutes - runs, minute < runs))


def _strong(job: Job, timeline: Timeline, sun: Sun) -> list[tuple[Bools, int, Floats]]:
    """Strong loads by the clock: whether on in each minute, group, and what they draw from
    the bank while they are on; 0 in steps in which they cannot run, or run for a part that the
    clock does not give. [W], shape (H,)"""
    found = []
    for item in job.appliances:
        windows = item.windows(job.living)
        if item.clock_watts is None or windows is None or item.runs == "plugged":
            continue
        minutes = within(timeline.clock, windows)
        watts = item.clock_watts * item.count
        free = held(item, timeline, sun) == 1.0
        if item.supply == "ac":
            if job.inverter is not None:
                minutes &= live_minutes(job.inverter, timeline)
                curve = curve_of(job.inverter)
                watts *= 1.0 + curve.slope + curve.bend_per_w * item.most_watts * item.count
            # On the plug the inlet carries it.
            free &= timeline.plugged == 0.0
        if watts >= STRONG_PER_H * job.battery.capacity_wh:
            found.append((minutes, group_of(item.priority, held_number(job, item)), watts * free))
    return found
