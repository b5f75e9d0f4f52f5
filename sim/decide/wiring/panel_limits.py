"""Limits of the panels: voltage of their strings in cold and heat, fuses, controller."""

from __future__ import annotations

from collections.abc import Iterator

from sim.decide.wiring.circuits import strings
from sim.decide.wiring.rows import Check, limit_check
from sim.job.model.job import Job
from sim.job.model.power import PanelGroup
from sim.job.model.wiring import WiringPlan
from sim.job.rules.string_volts import string_volts
from sim.van import conductors

# Panels above this many watts of the controller's output bring nothing worth having (common
# practice, no source).
ARRAY_OVER_CONTROLLER = 1.3


def panel_checks(job: Job, plan: WiringPlan, group: PanelGroup, name: str) -> Iterator[Check]:
    """Limits of a group of panels and its controller.

    Parameters
    ----------
    job : Job
    plan : WiringPlan
        The job's own, or an empty one.
    group : PanelGroup
    name : str
        What the sheet calls it.
    """
    if group.voc_v is None or group.isc_a is None:
        yield Check(name, "panel figures", "say", "unknown", {})
    else:
        yield from _cold_voltage(group, plan, name)
    if group.count % group.series:
        figures = {"count": group.count, "series": group.series}
        yield Check(name, "strings", "change", "unequal", figures)
    yield from _string_voltage(job, plan, group, name)
    yield from _string_fuse(plan, group, name)
    given = group.array_watts * group.controller_efficiency / job.battery.charging_v
    fits = given <= group.controller_amps
    within = given <= ARRAY_OVER_CONTROLLER * group.controller_amps
    yield limit_check(
        name,
        "controller output",
        {
            "given_a": given,
            "array_w": group.array_watts,
            "charging_v": job.battery.charging_v,
            "controller_a": group.controller_amps,
        },
        "clips" if within else "far above",
        ok=True if fits else None if within else False,
    )


def _cold_voltage(group: PanelGroup, plan: WiringPlan, name: str) -> Iterator[Check]:
    assert group.voc_v is not None
    by_coefficient = conductors.voltage_at(
        group.voc_v, plan.coldest_c, coeff_pct_c=group.voc_temp_coeff_pct_c
    )
    found = [("coefficient", by_coefficient)]
    if plan.coldest_c >= conductors.COLDEST_C:
        by_table = conductors.cold_voltage_by_table(group.voc_v, plan.coldest_c)
        found.append(("table", by_table))
    highest = group.controller_max_v
    for basis, one in found:
        figures = {
            "string_v": one * group.series,
            "series": group.series,
            "coldest_c": plan.coldest_c,
        }
        ok, case = None, "unknown"
        if highest is not None:
            ok = one * group.series <= highest + 1e-9
            most = conductors.longest_string(highest, one)
            figures |= {"highest_v": highest, "most": most}
            case = "fewer" if most else "not one"
        yield limit_check(name, "cold voltage", figures, case, ok=ok, basis=basis)


def _string_voltage(job: Job, plan: WiringPlan, group: PanelGroup, name: str) -> Iterator[Check]:
    """Whether the controller can harvest the string beside the bank's voltage."""
    if group.controller == "pwm":
        return
    found = string_volts(group, job.battery, plan.coldest_c)
    if found is None:
        yield Check(name, "string voltage", "say", "unknown", {}, group.controller)
        return
    figures = {
        "string_v": found.string_v,
        "limit_v": found.limit_v,
        "cell_c": found.cell_c,
        "series": group.series,
        "wanted": found.series,
    }
    case = "not one" if found.fit == "above" and found.series == 0 else found.fit
    ok = found.fit == "fits"
    yield limit_check(name, "string voltage", figures, case, ok=ok, basis=group.controller)


def _string_fuse(plan: WiringPlan, group: PanelGroup, name: str) -> Iterator[Check]:
    """A fuse in each of three or more strings: one at the roof's end protects none of them."""
    rows = strings(group)
    if rows < conductors.STRINGS_TO_FUSE or group.isc_a is None:
        return
    least, most = conductors.rating_current(group.isc_a), group.series_fuse_a
    best, fitted = conductors.next_rating(least), plan.string_fuse_amps
    figures: dict[str, float] = {"rows": rows, "least_a": least}
    basis = "open" if most is None else "module"
    if most is not None:
        figures["most_a"] = most
    if best is None or (most is not None and best > most):
        yield Check(name, "string fuse", "change", "none fits", figures, basis)
        return
    figures["best_a"] = best
    if fitted is not None:
        figures["fuse_a"] = fitted
        if fitted < least - 1e-9 or (most is not None and fitted > most):
            yield Check(name, "string fuse", "change", "other", figures, basis)
        else:
            ok = None if most is None else True
            yield limit_check(name, "string fuse", figures, "unrated", ok=ok, basis=basis)
    elif plan.roof is not None and plan.roof.fuse_amps is not None:
        figures["roof_a"] = plan.roof.fuse_amps
        yield Check(name, "string fuse", "change", "roof alone", figures, basis)
    elif most is None:
        yield Check(name, "string fuse", "say", "unknown", figures, basis)
    else:
        yield Check(name, "string fuse", "choose", "choose", figures, basis)
