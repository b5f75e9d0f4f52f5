"""Limits of the parts: panel voltage, controllers, alternator, bank, inverter, plug; and ticks."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from sim.arrays import Floats
from sim.decide.wiring.circuits import charger_input_amps, lowest_volts, peak_watts
from sim.decide.wiring.rows import Check, Status, System, amps, celsius, volts, watts
from sim.job.model.appliances import Appliance
from sim.job.model.job import Job
from sim.job.model.living import Living
from sim.job.model.power import PanelGroup
from sim.job.model.wiring import WiringPlan
from sim.van import conductors

# A compressor draws so many times its running power when it starts (common practice, no source).
COMPRESSOR_START = 5.0
# What an alternator gives for hours on end, of its rating (common practice, no source).
ALTERNATOR_SHARE = 0.5
# Panels above this many watts of the controller's output bring nothing worth having (common
# practice, no source).
ARRAY_OVER_CONTROLLER = 1.3
_PRACTICE = "common practice, no source"
_DAY_MINUTES = 1440


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
        yield from _panels(job, plan, group, name)
    yield from _alternator(job, plan)
    yield from _bank(job, plan)
    yield from _inverter(job, plan)
    yield from _inlet(job)


def _check(
    run: str, what: str, value: str, limit: str, basis: str, *, ok: bool | None, advice: str
) -> Check:
    """A check whose `ok` may be None: only the builder can say."""
    status: Status = "say" if ok is None else "pass" if ok else "change"
    return Check(run, what, value, limit, status, "" if ok else advice, basis)


def _panels(job: Job, plan: WiringPlan, group: PanelGroup, name: str) -> Iterator[Check]:
    system: System = job.settings.units
    if group.voc_v is None or group.isc_a is None:
        yield Check(
            name, "Voltage and current", "not known", "", "say",
            "say voc_v and isc_a of the panel, from its data sheet", "NEC 690.7, 690.8",
        )  # fmt: skip
    else:
        yield from _cold_voltage(group, plan, name, system)
    if group.count % group.series:
        yield Check(
            name, "Strings", f"{group.count} panels", f"{group.series} in series", "change",
            "the count must be a multiple of series", "strings side by side must be equal",
        )  # fmt: skip
    given = group.array_watts * group.controller_efficiency / job.battery.charging_v
    fits = given <= group.controller_amps
    within = given <= ARRAY_OVER_CONTROLLER * group.controller_amps
    yield _check(
        name, "Controller's output",
        f"{amps(given)} from {watts(group.array_watts)} at {volts(job.battery.charging_v)}",
        f"{amps(group.controller_amps)}, its rating", "rating of the controller",
        ok=True if fits else None if within else False,
        advice="it clips in full sun; see whether its data sheet allows so many panels"
        if within
        else "far above the rating: a larger controller, a second one, or fewer panels",
    )  # fmt: skip


def _cold_voltage(
    group: PanelGroup, plan: WiringPlan, name: str, system: System
) -> Iterator[Check]:
    assert group.voc_v is not None
    where = f"{group.series} in series at {celsius(plan.coldest_c, system)}"
    found = [
        (
            "by the panel's coefficient, NEC 690.7(A)(1)",
            conductors.cold_voltage(
                group.voc_v, plan.coldest_c, coeff_pct_c=group.voc_temp_coeff_pct_c
            ),
        )
    ]
    if plan.coldest_c >= conductors.COLDEST_C:
        by_table = conductors.cold_voltage_by_table(group.voc_v, plan.coldest_c)
        found.append(("by NEC table 690.7(A)", by_table))
    highest = plan.controller_max_volts
    for basis, one in found:
        ok, limit, advice = None, "not known", "say controller_max_volts under [wiring]"
        if highest is not None:
            ok = one * group.series <= highest + 1e-9
            limit = f"{volts(highest)}, the controller's highest"
            most = conductors.longest_string(highest, one)
            advice = f"at most {most} in series, or a controller of higher voltage"
            if most == 0:
                advice = "not even one panel is safe: take a controller of higher voltage"
        yield _check(
            name, "Open-circuit voltage in the cold", f"{volts(one * group.series)}, {where}",
            limit, basis, ok=ok, advice=advice,
        )  # fmt: skip


def _alternator(job: Job, plan: WiringPlan) -> Iterator[Check]:
    if job.alternator is None:
        return
    name, draw = "Alternator", charger_input_amps(job)
    if job.alternator.spare_amps is not None:
        spare = job.alternator.spare_amps * (1.0 - job.alternator.hot_loss_pct / 100.0)
        yield _check(
            name, "Draw of the DC-DC charger", amps(draw),
            f"{amps(spare)}, what it can spare when hot", "spare_amps and hot_loss_pct of the job",
            ok=draw <= spare,
            advice="set the charger lower, or fit a smaller one",
        )  # fmt: skip
    rating = plan.alternator_amps
    limit = "rating not known"
    if rating is not None:
        limit = f"{amps(ALTERNATOR_SHARE * rating)}, half of {amps(rating)}"
    yield _check(
        name, "Share of its rating for hours on end", amps(draw), limit, _PRACTICE,
        ok=None if rating is None else draw <= ALTERNATOR_SHARE * rating,
        advice="say alternator_amps under [wiring]"
        if rating is None
        else "set the charger lower, fit a smaller one, or a larger alternator",
    )  # fmt: skip


def _bank(job: Job, plan: WiringPlan) -> Iterator[Check]:
    bank, name = job.battery, "Battery"
    size_ah = bank.count * bank.capacity_ah
    low = lowest_volts(job, plan)
    out_w = sum(peak_watts(item) for item in job.appliances if item.supply == "dc")
    inverter_a = 0.0
    if job.inverter is not None:
        inverter_a = job.inverter.watts / (job.inverter.efficiency * low)
    most = bank.max_discharge_c * size_ah
    yield _check(
        name, "Discharge with inverter and DC loads at full",
        amps(inverter_a + out_w / low), f"{amps(most)}, {bank.max_discharge_c:g} C",
        "max_discharge_c of the battery, see its data sheet",
        ok=inverter_a + out_w / low <= most,
        advice="a larger bank, a smaller inverter, or loads that never run together",
    )  # fmt: skip
    sun = sum(group.controller_amps for group in job.panels if group.count > 0)
    may = bank.max_charge_c * size_ah
    for what, source in (
        ("Charge while driving", job.alternator.dcdc_amps if job.alternator else 0.0),
        ("Charge on the plug", job.shore.charger_amps if job.shore else 0.0),
    ):
        if source > 0:
            yield _check(
                name, f"{what}, sun included", amps(sun + source),
                f"{amps(may)}, {bank.max_charge_c:g} C",
                "max_charge_c of the battery, see its data sheet",
                ok=sun + source <= may,
                advice=f"set the chargers to {amps(may)} together, or a larger bank",
            )  # fmt: skip
    yield _interrupting(job, plan)


def _interrupting(job: Job, plan: WiringPlan) -> Check:
    bank = job.battery
    name, what = "Battery", "Short circuit at its terminals"
    basis = (
        "interrupting rating, NEC 110.9; bolted strip and blade fuses cut off 1 to 6 kA, class T "
        "types 20 kA (from memory)"
    )
    if bank.resistance_mohm == 0:
        advice = "say resistance_mohm of the battery; take a fuse for the highest short circuit"
        return _check(name, what, "not known", "", basis, ok=None, advice=advice)
    inner_ohm = bank.resistance_mohm / 1000.0 / bank.count
    short = conductors.short_circuit_amps(bank.charging_v, inner_ohm, conductors.Cable(-3), 0.0)
    cuts = plan.bank_fuse_interrupts_amps
    return _check(
        name, what, f"{short:,.0f} A",
        "not known" if cuts is None else f"{cuts:,.0f} A, what its fuse cuts off", basis,
        ok=None if cuts is None else short <= cuts,
        advice=f"the fuse at the bank must be rated to cut off {short:,.0f} A of direct current; "
        "say bank_fuse_interrupts_amps under [wiring]"
        if cuts is None
        else "take a fuse of higher interrupting rating at the bank",
    )  # fmt: skip


def _inverter(job: Job, plan: WiringPlan) -> Iterator[Check]:
    if job.inverter is None:
        return
    name = "Inverter"
    together, by_clock = _at_once(_on_inverter(job), job.living)
    ok: bool | None = together <= job.inverter.watts
    if not ok and by_clock <= job.inverter.watts:
        ok = None
    yield _check(
        name, "AC loads at once", f"{watts(by_clock)} by the clock, {watts(together)} all on",
        f"{watts(job.inverter.watts)}, for good", "rating of the inverter", ok=ok,
        advice="tell the customer what may not run together"
        if ok is None
        else "a larger inverter, or loads at other hours",
    )  # fmt: skip
    start = _start_watts(job)
    if start is None:
        return
    surge = plan.inverter_surge_watts
    yield _check(
        name, "Start of a compressor beside the other AC loads", watts(start),
        "not known" if surge is None else f"{watts(surge)}, its surge",
        f"{COMPRESSOR_START:g} times its running power, {_PRACTICE}",
        ok=None if surge is None else start <= surge,
        advice="say inverter_surge_watts under [wiring]"
        if surge is None
        else "an inverter with more surge, or a compressor with a soft start",
    )  # fmt: skip


def _ac_items(job: Job) -> list[Appliance]:
    return [item for item in job.appliances if item.supply == "ac" and item.count > 0]


def _on_inverter(job: Job) -> list[Appliance]:
    """AC loads that run without a plug."""
    return [item for item in _ac_items(job) if item.runs != "plugged"]


def _at_once(items: list[Appliance], living: Living) -> tuple[float, float]:
    """All loads together, and the most that their clocks let run together. [W]"""
    by_clock: Floats = np.zeros(_DAY_MINUTES)
    for item in items:
        by_clock += peak_watts(item) * _may_run(item, living)
    return sum(peak_watts(item) for item in items), float(by_clock.max())


def _may_run(item: Appliance, living: Living) -> Floats:
    """1 in each minute of the local day in which an appliance may run, else 0."""
    windows = item.windows(living)
    if windows is None:
        return np.ones(_DAY_MINUTES)
    on = np.zeros(_DAY_MINUTES)
    for start, end in windows:
        length = (end - start) % _DAY_MINUTES or _DAY_MINUTES
        on[np.arange(start, start + length) % _DAY_MINUTES] = 1.0
    return on


def _start_watts(job: Job) -> float | None:
    """The heaviest start of one compressor while all else runs, None without one. [W]"""
    items = _on_inverter(job)
    together = sum(peak_watts(item) for item in items)
    single = max((item.compressor_watts or 0.0 for item in items), default=0.0)
    return together + (COMPRESSOR_START - 1.0) * single if single > 0.0 else None


def _inlet(job: Job) -> Iterator[Check]:
    if job.shore is None:
        return
    shore = job.shore
    charger_w = shore.charger_amps * job.battery.charging_v / shore.charger_efficiency
    together, by_clock = _at_once(_ac_items(job), job.living)
    may = shore.inlet_volts * shore.inlet_amps / conductors.CONTINUOUS
    need = charger_w + by_clock
    all_on = charger_w + together
    ok: bool | None = all_on <= may
    if not ok and charger_w <= may:
        ok = None
    yield _check(
        "Shore inlet", "Charger and AC loads at once",
        f"{watts(need)} by the clock, {watts(all_on)} all on",
        f"{watts(may)}, 80 % of {watts(shore.inlet_volts * shore.inlet_amps)}",
        "a load that lasts takes at most 80 % of its breaker, NEC 210.20(A)", ok=ok,
        advice="set the charger lower while large AC loads run, or fit one that does so itself"
        if ok is None
        else "the charger alone is too much for this inlet: set it lower or fit a larger inlet",
    )  # fmt: skip


_TICKS = (
    ("main_switch", "Battery", "A main switch cuts all house power", _PRACTICE, "always"),
    ("fuse_at_battery", "Battery", "A fuse within 7 in (18 cm) of the bank's positive terminal",
     "ABYC E-11, from memory", "always"),
    ("ac_dc_apart", "Panels of breakers", "AC and DC protection sit in separate compartments",
     _PRACTICE, "ac"),
    ("extinguisher", "Safety", "A fire extinguisher is at hand by the door", _PRACTICE, "always"),
    ("smoke_alarm", "Safety", "Smoke alarm (UL 217)", "NFPA 1192, from memory", "always"),
    ("co_alarm", "Safety", "Carbon monoxide alarm (UL 2034)", "NFPA 1192, from memory", "fuel"),
    ("propane_alarm", "Safety", "Propane alarm, low down (UL 1484)", "NFPA 1192, from memory",
     "propane"),
    ("propane_outside", "Safety", "Propane is stored outside the living space", _PRACTICE,
     "propane"),
)  # fmt: skip


def ticks(job: Job, plan: WiringPlan) -> Iterator[Check]:
    """What must be there and no figure can tell: yes, no, or for the builder to tick.

    Parameters
    ----------
    job : Job
    plan : WiringPlan
        The job's own, or an empty one.
    """
    asked = {"always"}
    if job.inverter is not None or job.shore is not None:
        asked.add("ac")
    if burns_fuel(job):
        asked.add("fuel")
    if job.propane is not None:
        asked.add("propane")
    for key, run, what, basis, when in _TICKS:
        there = getattr(plan, key)
        if when in asked:
            yield _check(
                run, what, {True: "yes", False: "no", None: "☐"}[there], "must be there", basis,
                ok=there,
                advice=f"tick it, or write {key} = true under [wiring]"
                if there is None
                else "fit it before the van is lived in",
            )  # fmt: skip


def burns_fuel(job: Job) -> bool:
    """Whether anything aboard burns fuel."""
    present = [item for item in job.appliances if item.count > 0]
    return any(item.heat_from not in (None, "electricity", "engine") for item in present)
