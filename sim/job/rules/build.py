"""Rules for the build: battery, van, living, appliances, panels and roof."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations, pairwise
from math import floor

from sim.job.model.appliances import Appliance, ColdBox
from sim.job.model.fields import DAY_MINUTES
from sim.job.model.job import Job
from sim.job.model.power import STEP_DOWN, Inverter, PanelGroup, Shore
from sim.job.reading.toml_lines import Path
from sim.job.rules.findings import Finding, clock_text
from sim.units import celsius_to_fahrenheit

# A cold box is rated in a room that is warmer than its inside (common practice, no source).
LEAST_RISE_K = 5.0
_EXACT_M = 1e-6


def build_findings(job: Job) -> Iterator[Finding]:
    """What contradicts itself in the build."""
    for rule in (_battery, _van, _living, _appliances, _converter, _panels, _roof):
        yield from rule(job)
    if job.inverter is not None:
        yield from _inverter(job.inverter)


def _battery(job: Job) -> Iterator[Finding]:
    bank = job.battery
    floors = [("cutoff_soc", bank.cutoff_soc), ("reserve_soc", bank.reserve_soc)]
    floors.append(("extras_soc", bank.extras_soc))
    for (low_name, low), (name, value) in pairwise(floors):
        if value < low:
            yield ("battery", name), value, f"must not be below {low_name}, which is {low:g}"
    if bank.extras_soc + bank.reconnect_above_soc > 0.95:
        yield (
            ("battery", "extras_soc"),
            bank.extras_soc,
            "with reconnect_above_soc this leaves no charge at which loads come back; "
            "their sum must be at most 0.95",
        )
    if bank.charging_v < bank.nominal_v:
        yield (
            ("battery", "charging_v"),
            bank.charging_v,
            f"must not be below nominal_v, which is {bank.nominal_v:g}",
        )
    if bank.tail_c > bank.max_charge_c:
        yield (
            ("battery", "tail_c"),
            bank.tail_c,
            f"must not be above max_charge_c, which is {bank.max_charge_c:g}",
        )
    # Above this the bank's resistance would lose as much as is charged.
    limit_mohm = 250.0 * bank.nominal_v / (bank.max_charge_c * bank.capacity_ah)
    if bank.resistance_mohm > limit_mohm:
        yield (
            ("battery", "resistance_mohm"),
            bank.resistance_mohm,
            f"too high for max_charge_c: at that current a unit of this size may have at most "
            f"{floor(10 * limit_mohm) / 10:.1f} milliohm",
        )


def _van(job: Job) -> Iterator[Finding]:
    van = job.van
    # Both sides, front and back.
    sides_m2 = 2.0 * van.height_m * (van.length_m + van.width_m)
    if van.glass_m2 > sides_m2:
        rule = f"more than all four sides of the van, which have {sides_m2:.1f} square metres"
        yield ("van", "glass_m2"), van.glass_m2, rule


def _living(job: Job) -> Iterator[Finding]:
    wake_at, sleep_at = job.living.wake_at, job.living.sleep_at
    if wake_at % DAY_MINUTES == sleep_at % DAY_MINUTES and (wake_at, sleep_at) != (0, DAY_MINUTES):
        rule = 'must not be the time of wake_at; awake all day is "00:00" to "24:00"'
        yield ("living", "sleep_at"), clock_text(sleep_at), rule


def _appliances(job: Job) -> Iterator[Finding]:
    for index, item in enumerate(job.appliances):
        path: Path = ("appliances", index)
        if item.runs == "plugged" and job.plug is None:
            rule = f"{item.name} runs only on the plug, but the job has no [shore]; add it"
            yield (*path, "runs"), item.runs, rule
        elif item.runs == "plugged" and job.plug is not None and item.supply == "ac":
            yield from _on_inlet(item, job.plug, path)
        elif item.supply == "ac" and item.runs != "plugged":
            yield from _on_inverter(job, item, path)
        if isinstance(item, ColdBox):
            yield from _cold_box(item, path)
        if item.above_soc is not None:
            yield from _waiting(job, item, item.above_soc, (*path, "above_soc"))


def _waiting(job: Job, item: Appliance, above_soc: float, path: Path) -> Iterator[Finding]:
    """What may not be held to a charge, or not to this one."""
    least = job.battery.extras_soc
    if not item.may_wait:
        rule = (
            f"{item.name} is counted on for heat or water and cannot wait for charge; hold it to "
            "the plug or the sun (runs), or to hours (at)"
        )
        yield path, above_soc, rule
    elif item.priority == "essential" or item.medical:
        rule = f"{item.name} is essential and cannot wait for charge; leave above_soc out"
        yield path, above_soc, rule
    elif above_soc < least:
        rule = f"must not be below extras_soc of the battery, which is {least:g}"
        yield path, above_soc, rule


def _converter(job: Job) -> Iterator[Finding]:
    converter, bank_v = job.converter, job.battery.nominal_v
    if converter is not None and bank_v < STEP_DOWN * converter.volts:
        rule = (
            f"steps the bank down to {converter.volts:g} V, and the bank has {bank_v:g} V; leave "
            "the section out"
        )
        yield ("converter",), None, rule


def _inverter(inverter: Inverter) -> Iterator[Finding]:
    least, most = inverter.full_load_efficiency, inverter.efficiency
    if least is not None and least > most:
        rule = f"must not be above efficiency, the highest at any load, which is {most:g}"
        yield ("inverter", "full_load_efficiency"), least, rule
    search, idle = inverter.search_watts, inverter.idle_watts
    if search is not None and search > idle:
        rule = f"must not be above idle_watts, which is {idle:g}: searching saves the idle draw"
        yield ("inverter", "search_watts"), search, rule
    if inverter.runs == "by hand" and not inverter.at:
        rule = 'this key is missing: say when people switch it on, such as at = ["07:00-22:00"]'
        yield ("inverter", "at"), None, rule
    elif inverter.at and inverter.runs != "by hand":
        rule = 'an inverter with times of its own is switched by hand; write runs = "by hand"'
        yield ("inverter", "runs"), inverter.runs, rule


def _on_inlet(item: Appliance, shore: Shore, path: Path) -> Iterator[Finding]:
    most = shore.inlet_volts * shore.inlet_amps
    if item.most_watts > most:
        key = _watts_key(item)
        rule = (
            f"{item.name} draws {item.most_watts:.0f} watts; the inlet's breaker trips above "
            f"{most:.0f}, which is inlet_volts times inlet_amps of [shore]"
        )
        yield (*path, key), getattr(item, key), rule


def _watts_key(item: Appliance) -> str:
    """The key that holds the most an appliance draws."""
    keys = ("max_watts", "heat_watts", "cool_watts", "watts")
    return next(key for key in keys if hasattr(item, key))


def _on_inverter(job: Job, item: Appliance, path: Path) -> Iterator[Finding]:
    if job.inverter is None:
        yield (
            (*path, "supply"),
            item.supply,
            f"{item.name} needs AC, but the job has no [inverter]; add one or take a DC type",
        )
        return
    if item.most_watts > job.inverter.watts:
        key = _watts_key(item)
        yield (
            (*path, key),
            getattr(item, key),
            f"{item.name} draws {item.most_watts:.0f} watts, more than the inverter gives, which "
            f"is {job.inverter.watts:g} watts",
        )


def _cold_box(item: ColdBox, path: Path) -> Iterator[Finding]:
    if item.rated_ambient_c < item.inside_c + LEAST_RISE_K:
        yield (
            (*path, "rated_ambient_c"),
            item.rated_ambient_c,
            f"must be {LEAST_RISE_K:g} degrees C ({LEAST_RISE_K * 1.8:g} degrees F) or more above "
            f"the inside, which has {item.inside_c:.1f} degrees C "
            f"({celsius_to_fahrenheit(item.inside_c):.1f} degrees F)",
        )
    if item.max_watts * 24.0 < item.rated_wh_day:
        yield (
            (*path, "rated_wh_day"),
            item.rated_wh_day,
            f"max_watts, which is {item.max_watts:g}, brings no more than "
            f"{item.max_watts * 24.0:g} in a day",
        )


def _panels(job: Job) -> Iterator[Finding]:
    for index, group in enumerate(job.panels):
        path: Path = ("panels", index)
        if group.mount == "tilted" and group.tilt_deg is None:
            yield (*path, "mount"), group.mount, "a tilted group needs tilt_deg too, such as 30"
        aims = (("tilt_deg", group.tilt_deg), ("facing_deg", group.facing_deg))
        for key, value in (*aims, ("side", group.side)):
            if group.mount == "flat" and value is not None:
                rule = 'a flat group has none; write mount = "tilted", or leave it out'
                yield (*path, key), value, rule
        if group.side is not None and group.mount == "portable":
            rule = "portable panels are turned by hand; write facing_deg, or leave both out"
            yield (*path, "side"), group.side, rule
        if group.side is not None and group.facing_deg is not None:
            yield (
                (*path, "side"),
                group.side,
                "cannot be given with facing_deg; leave one of them out",
            )
        if 0 < group.count < group.series:
            rule = f"more panels in a string than the group has; count is {group.count}"
            yield (*path, "series"), group.series, rule
        if group.controller == "pwm":
            yield from _pwm(job, group, path)


def _pwm(job: Job, group: PanelGroup, path: Path) -> Iterator[Finding]:
    if group.vmp_v is None:
        rule = "a PWM controller needs vmp_v too, the panel's voltage at its maximum power point"
        yield (*path, "controller"), group.controller, rule
    elif group.vmp_v * group.series < job.battery.charging_v:
        yield (
            (*path, "vmp_v"),
            group.vmp_v,
            "too low to charge the bank through a PWM controller; with series it must reach "
            f"charging_v, which is {job.battery.charging_v:g}",
        )


def _roof(job: Job) -> Iterator[Finding]:
    """What contradicts itself on a roof."""
    for index, group in enumerate(job.panels):
        if (group.length_m is None) != (group.width_m is None):
            key = "width_m" if group.width_m is None else "length_m"
            yield ("panels", index, key), None, "length and width of a panel go together; give both"
    roof = job.roof
    if roof is None:
        return
    for index, item in enumerate(roof.obstacles):
        for at, size, key in (("x_m", "length_m", "length_m"), ("y_m", "width_m", "width_m")):
            end, most = getattr(item, at) + getattr(item, size), getattr(roof, key)
            if end > most + _EXACT_M:
                rule = (
                    f"{item.name} ends {end:.2f} m along, beyond the roof, whose {key} is {most:g}"
                )
                yield ("roof", "obstacles", index, at), getattr(item, at), rule
    names = [item.name for item in roof.obstacles]
    for first, second in combinations(range(len(names)), 2):
        if names[first] == names[second]:
            rule = "another obstacle has this name; tell them apart"
            yield ("roof", "obstacles", second, "name"), names[second], rule
    for key in ("length_m", "width_m"):
        taken = 2.0 * roof.edge_m + (roof.walkway_m if key == "width_m" else 0.0)
        if taken >= getattr(roof, key):
            rule = f"nothing is left between the clearances, which take {taken:.2f} m"
            yield ("roof", key), getattr(roof, key), rule
