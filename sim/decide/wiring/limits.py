"""Limits of the parts: alternator, bank, converter, inverter, plug; panels in `panel_limits`."""

from __future__ import annotations

from collections.abc import Iterator

from sim.decide.wiring.circuits import charger_input_amps, lowest_volts
from sim.decide.wiring.panel_limits import panel_checks
from sim.decide.wiring.rows import Check, Subject, limit_check
from sim.job.model.appliances import Appliance
from sim.job.model.job import Job
from sim.job.model.power import Alternator, Shore
from sim.job.model.wiring import WiringPlan
from sim.job.peaks import at_once, total_watts
from sim.van import conductors
from sim.van.inverter import COMPRESSOR_START

# What an alternator gives for hours on end, of its rating (common practice, no source).
ALTERNATOR_SHARE = 0.5


def checks(job: Job, plan: WiringPlan) -> Iterator[Check]:
    """Every limit that is not a cable's.

    Parameters
    ----------
    job : Job
    plan : WiringPlan
        The job's own, or an empty one.
    """
    groups = [group for group in job.panels if group.count > 0]
    for number, group in enumerate(groups, 1):
        name = f"Panels {number}" if len(groups) > 1 else "Panels"
        yield from panel_checks(job, plan, group, name)
    yield from _alternator(job, plan)
    yield from _bank(job, plan)
    yield from _converter(job)
    yield from _inverter(job, plan)
    yield from _inlet(job)


def _alternator(job: Job, plan: WiringPlan) -> Iterator[Check]:
    for number, source in enumerate(job.alternator, 1):
        suffix = f" {number}" if len(job.alternator) > 1 else ""
        yield from _on_alternator(source, f"Alternator{suffix}", job, plan)


def _on_alternator(source: Alternator, name: str, job: Job, plan: WiringPlan) -> Iterator[Check]:
    draw, rated = charger_input_amps(source, job), source.rated_amps
    gives = source.spare_amps if rated is None else rated
    if gives is not None:
        spare = gives * (1.0 - source.hot_loss_pct / 100.0)
        spare -= 0.0 if rated is None else source.vehicle_amps
        figures = {"draw_a": draw, "spare_a": spare}
        yield limit_check(name, "alternator spare", figures, "above", ok=draw <= spare)
    rating = plan.alternator_amps if rated is None else rated
    if rating is None:
        yield limit_check(name, "alternator share", {"draw_a": draw}, "unknown", ok=None)
        return
    may = ALTERNATOR_SHARE * rating
    figures = {"draw_a": draw, "may_a": may, "alternator_a": rating}
    yield limit_check(name, "alternator share", figures, "above", ok=draw <= may)


def _bank(job: Job, plan: WiringPlan) -> Iterator[Check]:
    bank, name = job.battery, "Battery"
    size_ah = bank.count * bank.capacity_ah
    low = lowest_volts(job, plan)
    out_w = total_watts(_on_dc(job))
    if job.converter is not None:
        out_w = min(out_w, job.converter.rated_watts) / job.converter.efficiency
    inverter_a = 0.0
    if job.inverter is not None:
        inverter_a = job.inverter.watts / (job.inverter.least_efficiency * low)
    out_a, most = inverter_a + out_w / low, bank.max_discharge_c * size_ah
    figures = {"out_a": out_a, "may_a": most, "c_rate": bank.max_discharge_c}
    yield limit_check(name, "bank discharge", figures, "above", ok=out_a <= most)
    sun = sum(group.controller_amps for group in job.panels if group.count > 0)
    may = bank.max_charge_c * size_ah
    sources: tuple[tuple[Subject, float], ...] = (
        ("charge driving", sum(x.dcdc_amps for x in job.alternator)),
        ("charge plugged", sum(x.charger_amps for x in job.shore)),
    )
    for subject, source in sources:
        if source > 0:
            figures = {"in_a": sun + source, "may_a": may, "c_rate": bank.max_charge_c}
            yield limit_check(name, subject, figures, "above", ok=sun + source <= may)
    yield _interrupting(job, plan)


def _interrupting(job: Job, plan: WiringPlan) -> Check:
    """What the bank drives through a short, beside what its fuse cuts off."""
    bank, cuts = job.battery, plan.bank_fuse_interrupts_amps
    is_given = bank.short_circuit_amps is not None
    short = conductors.short_circuit_amps(bank.short_circuit_amps, bank.count)
    basis = "given" if is_given else "assumed"
    high = conductors.HIGH_INTERRUPTING_A
    figures = {"short_a": short, "high_a": high, "unit_a": conductors.ASSUMED_SHORT_CIRCUIT_A}
    if cuts is None:
        return limit_check(
            "Battery", "short circuit", figures, f"unknown {basis}", ok=None, basis=basis
        )
    figures["cuts_a"] = cuts
    wanted = short if is_given else max(short, high)
    if not is_given and high <= cuts < wanted:
        return limit_check("Battery", "short circuit", figures, "many", ok=None, basis=basis)
    case = "above" if is_given else "below class"
    return limit_check("Battery", "short circuit", figures, case, ok=cuts >= wanted, basis=basis)


def _converter(job: Job) -> Iterator[Check]:
    if job.converter is None:
        return
    rated = job.converter.rated_watts
    together, by_clock = at_once(_on_dc(job), job.living)
    ok: bool | None = together <= rated
    if not ok and by_clock <= rated:
        ok = None
    figures = {"by_clock_w": by_clock, "together_w": together, "rated_w": rated}
    case = "by clock" if ok is None else "above"
    yield limit_check("Converter", "DC at once", figures, case, ok=ok)


def _inverter(job: Job, plan: WiringPlan) -> Iterator[Check]:
    if job.inverter is None:
        return
    name = "Inverter"
    together, by_clock = at_once(_on_inverter(job), job.living)
    ok: bool | None = together <= job.inverter.watts
    if not ok and by_clock <= job.inverter.watts:
        ok = None
    figures = {"by_clock_w": by_clock, "together_w": together, "inverter_w": job.inverter.watts}
    yield limit_check(name, "AC at once", figures, "by clock" if ok is None else "above", ok=ok)
    start = _start_watts(job)
    if start is None:
        return
    figures = {"start_w": start, "times": COMPRESSOR_START}
    surge = plan.inverter_surge_watts
    if surge is None:
        yield limit_check(name, "compressor start", figures, "unknown", ok=None)
        return
    yield limit_check(
        name, "compressor start", {**figures, "surge_w": surge}, "above", ok=start <= surge
    )


def _on_dc(job: Job) -> list[Appliance]:
    return [item for item in job.appliances if item.supply == "dc" and item.count > 0]


def _ac_items(job: Job) -> list[Appliance]:
    return [item for item in job.appliances if item.supply == "ac" and item.count > 0]


def _on_inverter(job: Job) -> list[Appliance]:
    """AC loads that run without a plug."""
    return [item for item in _ac_items(job) if item.runs != "plugged"]


def _start_watts(job: Job) -> float | None:
    """The heaviest start of one compressor while all else runs, None without one. [W]"""
    items = _on_inverter(job)
    together = total_watts(items)
    single = max((item.compressor_watts or 0.0 for item in items), default=0.0)
    return together + (COMPRESSOR_START - 1.0) * single if single > 0.0 else None


def _inlet(job: Job) -> Iterator[Check]:
    for number, shore in enumerate(job.shore, 1):
        suffix = f" {number}" if len(job.shore) > 1 else ""
        # AC appliances hang on the first.
        items = _ac_items(job) if number == 1 else []
        yield _on_inlet(shore, items, f"Shore inlet{suffix}", job)


def _on_inlet(shore: Shore, items: list[Appliance], name: str, job: Job) -> Check:
    charger_w = shore.charger_amps * job.battery.charging_v / shore.charger_efficiency
    together, by_clock = at_once(items, job.living)
    may = shore.inlet_volts * shore.inlet_amps / conductors.CONTINUOUS
    need = charger_w + by_clock
    all_on = charger_w + together
    ok: bool | None = all_on <= may
    if not ok and charger_w <= may:
        ok = None
    figures = {
        "need_w": need,
        "all_on_w": all_on,
        "may_w": may,
        "inlet_w": shore.inlet_volts * shore.inlet_amps,
    }
    case = "by clock" if ok is None else "above"
    return limit_check(name, "inlet at once", figures, case, ok=ok)
