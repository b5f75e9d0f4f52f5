"""Levers on strong loads: held to the plug, the road, the sun or a charge, on a timer, or smaller.

Each is offered only where it can work: held to the plug only where some night has one, to the sun
only what may run around noon, to the road only what runs by itself.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

from sim.decide.levers.lever import Lever, NotApplicable, with_appliances
from sim.job.model.appliance_base import ApplianceBase
from sim.job.model.appliances import (
    AirConditioner,
    Appliance,
    Charging,
    ColdBox,
    Heater,
    HotWater,
    Timed,
)
from sim.job.model.changes import with_values
from sim.job.model.fields import bounds, minutes_of, window_text
from sim.job.model.job import Job

# A load this strong is worth a habit of its own (common practice, no source).
STRONG_W = 300.0
# When the sun is high enough to count on (common practice, no source).
MIDDAY = (10 * 60, 16 * 60)
TIMER = ("11:00-13:00",)
NIGHT = (22 * 60, 6 * 60)
_HIGHEST_SOC = bounds(ApplianceBase, "above_soc")[1]
# A battery at least so full spares something for comforts (common practice, no source).
SPARE_SOC = 0.5
# How much warmer a cabin may get before it is cooled. [K]
WARMER_K = 3.0


def held_to(job: Job) -> Iterator[Lever]:
    """Strong loads kept for the plug, the road, the sun or a fuller battery."""
    strong = [item for item in job.appliances if _may_wait(item, job)]
    if not strong:
        raise NotApplicable("nothing strong")
    # On a trip without a plug what waits for one is left at home: that is a lever of its own.
    has_plug = bool(job.shore) and all(
        any(stop.plug_in != "never" for stop in trip.stops) for trip in job.trips
    )
    has_sun = any(group.count for group in job.panels)
    drives = bool(job.alternator) and all(
        any(stop.drive_hours or stop.local_drive_hours for stop in trip.stops) for trip in job.trips
    )
    spare_soc = max(SPARE_SOC, job.battery.extras_soc)
    made: list[tuple[str, Appliance, dict[str, Any]]] = []
    for item in strong:
        if has_plug:
            made.append((f"{item.name} only on the plug", item, {"runs": "plugged"}))
        if has_sun and _runs_at_midday(item, job):
            made.append((f"{item.name} only while the sun is high", item, {"runs": "sun"}))
        if drives and isinstance(item, (HotWater, Charging)):
            made.append((f"{item.name} only while driving", item, {"runs": "driving"}))
        if item.may_wait and item.above_soc is None and spare_soc <= _HIGHEST_SOC:
            name = f"{item.name} only above {spare_soc:.0%} charge".replace("%", " %")
            made.append((name, item, {"above_soc": spare_soc}))
    if not made:
        raise NotApplicable("nothing to wait for")
    for name, item, values in made:
        yield Lever(name, _set(item, values), 0.0, 0.0)


def _may_wait(item: Appliance, job: Job) -> bool:
    """Whether nobody goes cold, hungry or ill while a strong load waits."""
    if item.count == 0 or item.runs != "always" or item.most_watts < STRONG_W:
        return False
    if isinstance(item, ColdBox) or item.priority == "essential" or item.medical:
        return False
    return not isinstance(item, Heater) or _is_spare(item, job)


def _is_spare(item: Heater, job: Job) -> bool:
    """Whether another heater keeps the cabin warm while an electric one waits."""
    others = [x for x in job.appliances if isinstance(x, Heater) and x is not item and x.count]
    return any(x.fuel != "electricity" for x in others)


def _runs_at_midday(item: Appliance, job: Job) -> bool:
    if isinstance(item, (AirConditioner, Heater)):
        return False
    windows = item.windows(job.living)
    return windows is None or any(_meets(window, MIDDAY) for window in windows)


def _meets(one: tuple[int, int], other: tuple[int, int]) -> bool:
    """Whether two parts of a day share a minute; either may go over midnight."""
    return bool(minutes_of([one]) & minutes_of([other]))


def shorter(job: Job) -> Iterator[Lever]:
    """Strong loads used for less time, on a timer, or of half the power."""
    made = list(_less(job))
    if not made:
        raise NotApplicable("nothing strong")
    for name, item, values in made:
        yield Lever(name, _set(item, values), 0.0 if "half the power" not in name else None, 0.0)


def _less(job: Job) -> Iterator[tuple[str, Appliance, dict[str, Any]]]:
    for item in job.appliances:
        if item.count == 0 or item.runs == "plugged" or item.most_watts < STRONG_W or item.medical:
            continue
        match item:
            case Timed() if item.priority != "essential":
                yield f"{item.name} half as long", item, {"duty": item.duty / 2.0}
            case HotWater() if item.source == "electricity" and item.tank_l > 0.0 and not item.at:
                hours = f"{TIMER[0].replace('-', ' to ')}"
                yield f"{item.name} on a timer, {hours}", item, {"at": TIMER}
            case AirConditioner():
                most = bounds(AirConditioner, "on_above_c")[1]
                if item.on_above_c + WARMER_K <= most:
                    values = {"on_above_c": item.on_above_c + WARMER_K}
                    yield f"{item.name} from a warmth {WARMER_K:g} kelvin higher", item, values
            case Heater() if item.fuel == "electricity":
                half = item.heat_watts / 2.0
                if half >= bounds(Heater, "heat_watts")[0]:
                    yield f"{item.name} of half the power", item, {"heat_watts": half}
            case _:
                pass


def inverter_off_at_night(job: Job) -> Iterator[Lever]:
    """An inverter switched off while people sleep, where nothing needs it then."""
    inverter = job.inverter
    if inverter is None:
        raise NotApplicable("no inverter")
    if inverter.runs == "by hand":
        raise NotApplicable("so already")
    fed = [item for item in job.appliances if item.on_inverter]
    if inverter.runs == "when needed" and not any(item.waits == "always" for item in fed):
        raise NotApplicable("so already")
    if any(_needs_the_night(item, job) for item in fed):
        raise NotApplicable("needed at night")

    def change(job: Job) -> Job:
        assert job.inverter is not None
        day = window_text((NIGHT[1], NIGHT[0]))
        switched = with_values(job.inverter, {"runs": "by hand", "at": (day,)})
        return with_values(job, {"inverter": switched})

    yield Lever("Inverter off at night, 22:00 to 06:00", change, 0.0, 0.0)


def _needs_the_night(item: Appliance, job: Job) -> bool:
    """Whether something on AC is wanted while people sleep: a tank of hot water is not."""
    if item.medical or item.priority == "essential" or isinstance(item, (ColdBox, Heater)):
        return True
    if isinstance(item, (HotWater, Charging)):
        return False
    windows = item.windows(job.living)
    return windows is None or any(_meets(window, NIGHT) for window in windows)


def _set(item: Appliance, values: dict[str, Any]) -> Callable[[Job], Job]:
    name = item.name

    def change(job: Job) -> Job:
        return with_appliances(job, lambda x: with_values(x, values) if x.name == name else x)

    return change
