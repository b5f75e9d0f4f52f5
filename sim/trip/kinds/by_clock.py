"""What goes by the clock and by what people use: lights, pumps, chargers, meals."""

from __future__ import annotations

import numpy as np

from sim.job.model.appliances import Charging, Cooking, Lights, Pump, Steady, Timed
from sim.trip.availability import ac_live, may_run
from sim.trip.kinds.load import ApplianceLoad, ClockInputs, electric
from sim.van import appliances


def steady(item: Steady, inputs: ClockInputs) -> ApplianceLoad:
    """The same all the time that it may run."""
    may = may_run(item, inputs.timeline, inputs.sun)[:, None]
    return electric(item.watts * may, may)


def timed(item: Timed, inputs: ClockInputs) -> ApplianceLoad:
    """In its parts of the day."""
    share = may_run(item, inputs.timeline, inputs.sun)[:, None]
    return electric(item.watts * item.duty * share, share)


def lights(item: Lights, inputs: ClockInputs) -> ApplianceLoad:
    """While it is dark; on the road nobody sits in the lit cabin."""
    may = may_run(item, inputs.timeline, inputs.sun)[:, None]
    parked = inputs.timeline.awake * (1.0 - inputs.timeline.driving)
    dark = appliances.lights_share(inputs.sun.apparent_zenith, parked)
    return electric(item.watts * dark[:, None] * may, dark[:, None] * may)


def pump(item: Pump, inputs: ClockInputs) -> ApplianceLoad:
    """For every litre drawn."""
    may = may_run(item, inputs.timeline, inputs.sun)[:, None]
    flow_l = item.flow_l_min * item.count * inputs.timeline.step_minutes
    share = np.minimum(inputs.uses.water_l / flow_l, 1.0)[:, None] * may
    return electric(item.watts * share, share, may)


def charging(item: Charging, inputs: ClockInputs) -> ApplianceLoad:
    """A day's energy of devices, in the time there is for it."""
    living, line = inputs.job.living, inputs.timeline
    wh_day = item.wh_day
    if wh_day is None:
        wh_day = living.devices_wh_person_day * living.people / item.count
    day = line.local_day
    when = may_run(item, line, inputs.sun)
    if item.runs in ("always", "plugged") and not item.at:
        when = when * line.awake
    if item.supply == "ac" and item.runs != "plugged":
        when = when * ac_live(inputs.job.inverter, line)
    # On a day on which nobody comes aboard, nothing is used.
    is_used = np.bincount(day, line.people) > 0.0
    day_long = np.bincount(day) * line.step_hours / 24.0
    taken = appliances.charging(
        when,
        np.where(is_used, wh_day * day_long, 0.0),
        day,
        watts=item.watts,
        step_hours=line.step_hours,
    )
    share = taken.share[:, None]
    watts = item.watts * share
    return ApplianceLoad(watts, share, watts, missed_wh=taken.missed_wh, ready=when[:, None])


def cooking(item: Cooking, inputs: ClockInputs) -> ApplianceLoad:
    """For every meal, spread over the time in which meals are cooked."""
    heat_w = (
        inputs.uses.meals[:, None]
        * (item.meal_wh_person * item.meals_pct / 100.0 / inputs.timeline.step_hours)
        * may_run(item, inputs.timeline, inputs.sun)[:, None]
        / item.count
    )
    cabin_w = heat_w * item.cabin_pct / 100.0
    if item.fuel == "electricity":
        return ApplianceLoad(heat_w, heat_w / item.watts, cabin_w)
    at_meals = inputs.timeline.share_within(inputs.job.living.meals_at)
    share = at_meals[:, None] * (heat_w > 0.0)
    return ApplianceLoad(item.watts * share, share, cabin_w, "propane", heat_w)
