"""The inverter over a trip: when it is on, what it takes, and what may run on it at once."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from sim.arrays import Floats
from sim.job.model.appliance_base import ApplianceBase
from sim.job.model.job import Job
from sim.job.model.living import PRIORITIES, Priority
from sim.job.model.power import Inverter
from sim.trip.kinds.load import ApplianceLoad
from sim.trip.lines import Line, held_number
from sim.trip.timeline import Timeline, within
from sim.van.inverter import COMPRESSOR_START, LossCurve, loss_curve, on_off_losses_w

INVERTER_NAME = "Inverter (its own draw and losses)"
# Part of its idle draw that an inverter takes while it searches (common practice, no source).
SEARCH_SHARE = 0.25

_Loaded = Iterable[tuple[ApplianceBase, ApplianceLoad]]


def keeps_awake(job: Job) -> list[str]:
    """The appliances that may start on AC day and night, so that nobody can switch it off."""
    waits = (x for x in job.appliances if x.on_inverter and x.waits == "always")
    return [x.name for x in waits if x.runs == "always" and not x.at]


def curve_of(inverter: Inverter) -> LossCurve:
    """Its losses over what it delivers."""
    return loss_curve(
        watts=inverter.watts,
        idle_watts=inverter.idle_watts,
        efficiency=inverter.efficiency,
        full_load_efficiency=inverter.least_efficiency,
    )


def own_draw_w(inverter: Inverter, loads: _Loaded, timeline: Timeline) -> Floats:
    """What it takes for being on, off the plug. [W], shape (H, 1) or (H, D)

    Parameters
    ----------
    inverter : Inverter
    loads : pairs of ApplianceBase and ApplianceLoad
        All appliances.
    timeline : Timeline
        H steps.
    """
    loads = [(item, load) for item, load in loads if item.on_inverter]
    search = inverter.search_watts
    match inverter.runs:
        case "when needed":
            own = inverter.idle_watts * _on(loads, timeline, is_ready=True)
        case "search":
            search = SEARCH_SHARE * inverter.idle_watts if search is None else search
            runs = _on(loads, timeline, is_ready=False)
            own = inverter.idle_watts * runs + search * (1.0 - runs)
        case "by hand":
            own = inverter.idle_watts * timeline.share_within(inverter.at)[:, None]
        case _:
            own = np.full((len(timeline), 1), inverter.idle_watts)
    return np.asarray(own * (1.0 - timeline.plugged)[:, None])


def own_draws_w(
    job: Job, inverter: Inverter, loads: _Loaded, timeline: Timeline
) -> tuple[Floats, ...]:
    """The same for what is held to no charge, then what each charge adds that loads are held to.
    [W], each of shape (H, 1) or (H, D)"""
    numbered = [(held_number(job, item), item, load) for item, load in loads]
    up_to = [
        own_draw_w(inverter, [(i, x) for n, i, x in numbered if n <= held], timeline)
        for held in range(len(job.held_socs) + 1)
    ]
    return (up_to[0], *(np.maximum(b - a, 0.0) for a, b in pairwise(up_to)))


def _on(loads: _Loaded, timeline: Timeline, *, is_ready: bool) -> Floats:
    """Share of each step in which any of them runs, or may start. shape (H, 1) or (H, D)

    What goes by the clock is laid out by the minute; the rest comes at any time of the step.
    """
    windows: list[tuple[int, int]] = []
    off = np.ones((len(timeline), 1))
    for item, load in loads:
        if item.clock_watts is not None and item.runs == "always":
            windows += item.at
        else:
            on = _ready(item, load, timeline) if is_ready else load.share
            off = off * (1.0 - on)
    return 1.0 - off * (1.0 - timeline.share_within(windows)[:, None])


def _ready(item: ApplianceBase, load: ApplianceLoad, timeline: Timeline) -> Floats:
    """Share of each step in which an appliance runs or may start by itself.

    What is not wanted every day people switch off on the days that do not call for it.
    """
    if load.ready is None:
        return load.share
    ready = load.ready
    if item.waits == "at times":
        day = timeline.local_day
        first = np.flatnonzero(np.diff(day, prepend=-1))
        ready = ready * (np.add.reduceat(load.share, first, axis=0) > 0.0)[day]
    return np.maximum(load.share, ready)


def inverter_lines(
    inverter: Inverter, lines: Sequence[Line], own_w: Sequence[Floats]
) -> list[Line]:
    """What the inverter takes on top of what it delivers: its losses have the priority of the
    appliance they serve, its own draw that of the most important one.

    Parameters
    ----------
    inverter : Inverter
    lines : sequence of Line
        All appliances.
    own_w : sequence of ndarray, shape (H, 1) or (H, D)
        From `own_draws_w`. [W]
    """
    curve = curve_of(inverter)
    fed = [line for line in lines if line.supply == "ac" and not line.only_plugged]
    total = sum((line.asked_w for line in fed), np.zeros_like(own_w[0]))
    made: list[Line] = []
    for held, own in enumerate(own_w):
        there = [line for line in fed if line.held == held]
        present = [name for name in PRIORITIES if any(line.priority == name for line in there)]
        # What it takes for being on has a priority even where it feeds nothing.
        names: list[Priority] = present if present or held else ["comfort"]
        for number, name in enumerate(names):
            watts = np.zeros_like(own) if number else own
            for line in there:
                if line.priority == name:
                    mean_w = line.asked_w
                    running_w = max(line.running_w, float(mean_w.max()))
                    watts = watts + on_off_losses_w(curve, mean_w, running_w, total - mean_w)
            made.append(Line(INVERTER_NAME, name, "inverter", watts, held=held))
    return made


@dataclass(frozen=True)
class AcPeak:
    """What may run on the inverter at once, in the hour in which that is most.

    Attributes
    ----------
    rated_w : float
        Of the inverter. [W]
    together_w : float
        All that may run in one minute of it. [W]
    names : tuple of str
        Of what that is, the strongest first.
    step : int
        The first step in which it comes to that.
    start_w : float
        The most at the start of a compressor, with what may run then; 0 without one. [W]
    over_h : ndarray, shape (D,)
        Hours in which more may run than the inverter is rated for. [h]
    """

    rated_w: float
    together_w: float
    names: tuple[str, ...]
    step: int
    start_w: float
    over_h: Floats


def ac_peak(job: Job, timeline: Timeline, loads: _Loaded, draws: int) -> AcPeak | None:
    """What may run on the inverter at once, step by step; None where nothing does.

    Parameters
    ----------
    job : Job
    timeline : Timeline
        H steps.
    loads : pairs of ApplianceBase and ApplianceLoad
        All appliances.
    draws : int
        D.

    Notes
    -----
    What the clock switches counts in its minutes; what a thermostat or people start may meet
    anything else that runs within the step.
    """
    fed = [(item, load) for item, load in loads if item.on_inverter]
    if job.inverter is None or not fed:
        return None
    off_plug = (timeline.plugged < 1.0)[:, None]
    by_minute = np.zeros(timeline.clock.shape)
    together: Floats = np.zeros((len(timeline), 1))
    runs = []
    for item, load in fed:
        on = (load.share > 0.0) & off_plug
        windows, watts = item.windows(job.living), item.most_watts * item.count
        if windows is not None and on.shape[1] == 1:
            minutes = within(timeline.clock, windows) & on
            by_minute += watts * minutes
        else:
            minutes = None
            together = together + watts * on
        runs.append((watts, item, on, minutes))
    together = together + by_minute.max(axis=1)[:, None]
    step, draw = np.unravel_index(int(together.argmax()), together.shape)
    minute = int(by_minute[step].argmax())
    names = [
        item.name
        for _, item, on, minutes in sorted(runs, key=lambda run: -run[0])
        if (on[step, draw % on.shape[1]] if minutes is None else minutes[step, minute])
    ]
    starts = [
        float(np.broadcast_to(together, (len(timeline), draws)).max(where=on, initial=0.0))
        + (COMPRESSOR_START - 1.0) * item.compressor_watts
        for _, item, on, _ in runs
        if item.compressor_watts is not None and on.any()
    ]
    over_h = (together > job.inverter.watts).sum(axis=0) * timeline.step_hours
    return AcPeak(
        rated_w=job.inverter.watts,
        together_w=float(together[step, draw]),
        names=tuple(names),
        step=int(step),
        start_w=max(starts, default=0.0),
        over_h=np.broadcast_to(over_h, (draws,)),
    )
