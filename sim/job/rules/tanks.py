"""Rules between tanks, drains, fuels and the appliances that need them."""

from __future__ import annotations

from collections.abc import Iterator
from math import ceil

import numpy as np

from sim.job.model.appliances import Cooking, Fan
from sim.job.model.fields import DAY_MINUTES
from sim.job.model.job import Job
from sim.job.model.living import Living
from sim.job.model.tanks import Drain
from sim.job.reading.toml_lines import Path
from sim.job.rules.findings import Finding


def tank_findings(job: Job) -> Iterator[Finding]:
    """What is wrong between a job's stores and those who use them.

    Yields
    ------
    (path, value, rule)
    """
    yield from _fuels(job)
    yield from _drains(job)


def _fuels(job: Job) -> Iterator[Finding]:
    for index, item in enumerate(job.appliances):
        path: Path = ("appliances", index)
        key, fuel = "source" if hasattr(item, "source") else "fuel", item.heat_from
        if item.count == 0:
            continue
        if fuel in ("diesel", "petrol") and fuel != job.van.engine_fuel:
            has = job.van.engine_fuel
            tank = "holds no fuel" if has == "none" else f"holds {has}"
            rule = f"the van's own tank {tank} (engine_fuel of [van]); they must be the same"
            yield (*path, key), fuel, rule
        if isinstance(item, Fan) and item.on_above_c is None and not item.at:
            rule = "this key is missing: a fan starts at on_above_c, or by hand in the times of at"
            yield (*path, "on_above_c"), None, rule
        if isinstance(item, Cooking) and item.fuel == "electricity":
            yield from _cooks_in_time(item, job.living, path)


def _cooks_in_time(item: Cooking, living: Living, path: Path) -> Iterator[Finding]:
    """What cooks with electricity must be strong enough for the time of the meals."""
    most = meals_watts(item, living)
    if item.watts == 0.0:
        yield (*path, "watts"), item.watts, "must be more than 0: it cooks with electricity"
    elif most > item.watts * item.count:
        yield (
            (*path, "watts"),
            item.watts,
            f"too little: meals for {living.people} in the time of meals_at take "
            f"{ceil(most / item.count)}; give more watts, or longer times of meals_at of [living]",
        )


def meals_watts(item: Cooking, living: Living) -> float:
    """The most that the meals of a day take at one time. [W]"""
    wanted = np.zeros(DAY_MINUTES)
    meal_wh = item.meal_wh_person * item.meals_pct / 100.0 * living.people
    for start, end in living.meals_at:
        minutes = np.arange(start, end if end > start else end + DAY_MINUTES) % DAY_MINUTES
        wanted[minutes] += meal_wh / (len(minutes) / 60.0)
    return float(wanted.max())


def _drains(job: Job) -> Iterator[Finding]:
    water = job.water
    if water is None:
        return
    taken_by: dict[Drain, str] = dict.fromkeys(water.open_drains, "open_drains")
    names: set[str] = set()
    for index, tank in enumerate(water.grey):
        path: Path = ("water", "grey", index)
        if tank.name in names:
            yield (*path, "name"), tank.name, "another tank has this name; tell them apart"
        names.add(tank.name)
        for drain in tank.takes:
            if drain in taken_by:
                rule = f"the {drain} drain runs into {taken_by[drain]} already; name it once"
                yield (*path, "takes"), drain, rule
            taken_by[drain] = tank.name


def drain_runs(job: Job, drain: Drain) -> bool:
    """Whether any water runs down a drain."""
    living = job.living
    litres = {
        "kitchen": living.kitchen_l_person_day - living.drunk_l_person_day,
        "basin": living.basin_l_person_day,
        "shower": living.shower_l * living.showers_person_week * (living.shower_place == "inside"),
    }
    return litres[drain] > 0.0
