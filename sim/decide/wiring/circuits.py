"""Which circuits a van has, and what current each is designed for."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from sim.decide.wiring.rows import CurrentRule, Figures, FusePlace, RatingRule
from sim.job.model.job import Job
from sim.job.model.power import Alternator, PanelGroup, Shore
from sim.job.model.wiring import CableEntry, WiringPlan
from sim.job.peaks import LOWEST_OVER_NOMINAL, peak_watts
from sim.van import conductors

# Loads of so many amps have a run of their own on the sheet (our own bound).
LARGE_LOAD_A = 5.0
# Working voltage of a panel over its open-circuit voltage (common practice, no source).
WORKING_OVER_OPEN = 0.82


@dataclass(frozen=True)
class Circuit:
    """A run of cable and what it must carry.

    Attributes
    ----------
    name : str
    key : str
        Where a job describes it, as in ``wiring.inverter``.
    amps : float
        Design current. [A]
    rule : str
        How it comes about.
    figures : mapping
        From which it comes about.
    rating_a : float
        What fuse and cable must be good for at least. [A]
    basis : str
        The rule behind `rating_a`.
    working_a, volts : float
        Current and voltage for the voltage drop. [A], [V]
    drop_pct : float
        What may be lost. [%]
    fuse_at : str
        Where its fuse sits.
    planned : CableEntry or None
        What the job says of it.
    inlet_a : float or None
        Rating of a plug's inlet that the breaker may not pass. [A]
    """

    name: str
    key: str
    amps: float
    rule: CurrentRule
    figures: Figures
    rating_a: float
    basis: RatingRule
    working_a: float
    volts: float
    drop_pct: float
    fuse_at: FusePlace
    planned: CableEntry | None
    inlet_a: float | None = None


def lowest_volts(job: Job, plan: WiringPlan) -> float:
    """The bank's voltage at which loads draw most current. [V]"""
    if plan.lowest_v is not None:
        return plan.lowest_v
    return LOWEST_OVER_NOMINAL * job.battery.nominal_v


def charger_input_amps(source: Alternator, job: Job) -> float:
    """What a DC-DC charger draws from its alternator at full output. [A]"""
    output = source.dcdc_amps * job.battery.charging_v
    return output / (source.efficiency * source.alternator_v)


def strings(group: PanelGroup) -> int:
    """How many rows of panels in series stand side by side."""
    return max(1, group.count // group.series)


def circuits(job: Job, plan: WiringPlan) -> Iterator[Circuit]:
    """All circuits of a job, from the roof to the loads.

    Parameters
    ----------
    job : Job
    plan : WiringPlan
        The job's own, or an empty one.
    """
    yield from _sun(job, plan)
    yield from _engine(job, plan)
    yield from _plug(job, plan)
    yield from _bank(job, plan)


def _sun(job: Job, plan: WiringPlan) -> Iterator[Circuit]:
    groups = [group for group in job.panels if group.count > 0]
    for number, group in enumerate(groups, 1):
        suffix = f" {number}" if len(groups) > 1 else ""
        if group.isc_a is not None and group.voc_v is not None:
            rows = strings(group)
            yield Circuit(
                name=f"Panels{suffix} to controller",
                key="wiring.roof",
                amps=conductors.design_current(group.isc_a, rows),
                rule="panels",
                figures={"rows": rows, "isc_a": group.isc_a},
                rating_a=conductors.rating_current(group.isc_a, rows),
                basis="panels",
                working_a=group.isc_a * rows,
                volts=WORKING_OVER_OPEN * group.voc_v * group.series,
                drop_pct=plan.drop_pct,
                fuse_at="roof",
                planned=plan.roof,
            )
        yield _charging(
            job, plan, f"Controller{suffix} to battery", "controller", group.controller_amps
        )


def _engine(job: Job, plan: WiringPlan) -> Iterator[Circuit]:
    for number, source in enumerate(job.alternator, 1):
        suffix = f" {number}" if len(job.alternator) > 1 else ""
        yield from _alternator(source, suffix, job, plan)


def _alternator(source: Alternator, suffix: str, job: Job, plan: WiringPlan) -> Iterator[Circuit]:
    draw = charger_input_amps(source, job)
    yield Circuit(
        name=f"Alternator{suffix} to DC-DC charger",
        key="wiring.alternator",
        amps=draw,
        rule="dcdc",
        figures={
            "dcdc_a": source.dcdc_amps,
            "charging_v": job.battery.charging_v,
            "efficiency": source.efficiency,
            "alternator_v": source.alternator_v,
        },
        rating_a=conductors.CONTINUOUS * draw,
        basis="continuous",
        working_a=draw,
        volts=source.alternator_v,
        drop_pct=plan.drop_pct,
        fuse_at="starter battery",
        planned=plan.alternator,
    )
    yield _charging(job, plan, f"DC-DC charger{suffix} to battery", "dcdc", source.dcdc_amps)


def _plug(job: Job, plan: WiringPlan) -> Iterator[Circuit]:
    for number, shore in enumerate(job.shore, 1):
        suffix = f" {number}" if len(job.shore) > 1 else ""
        yield from _on_shore(shore, suffix, job, plan)


def _on_shore(shore: Shore, suffix: str, job: Job, plan: WiringPlan) -> Iterator[Circuit]:
    yield Circuit(
        name=f"Shore inlet{suffix} to AC panel",
        key="wiring.shore",
        amps=shore.inlet_amps,
        rule="inlet",
        figures={"inlet_a": shore.inlet_amps, "inlet_v": shore.inlet_volts},
        rating_a=shore.inlet_amps,
        basis="inlet",
        working_a=shore.inlet_amps,
        volts=shore.inlet_volts,
        drop_pct=plan.drop_pct,
        fuse_at="AC panel",
        planned=plan.shore,
        inlet_a=shore.inlet_amps,
    )
    yield _charging(job, plan, f"Shore charger{suffix} to battery", "charger", shore.charger_amps)


def _bank(job: Job, plan: WiringPlan) -> Iterator[Circuit]:
    low = lowest_volts(job, plan)
    if job.inverter is not None:
        draw = job.inverter.watts / (job.inverter.least_efficiency * low)
        yield Circuit(
            name="Battery to inverter",
            key="wiring.inverter",
            amps=draw,
            rule="inverter",
            figures={
                "inverter_w": job.inverter.watts,
                "efficiency": job.inverter.least_efficiency,
                "low_v": low,
            },
            rating_a=conductors.CONTINUOUS * draw,
            basis="continuous",
            working_a=draw,
            volts=job.battery.nominal_v,
            drop_pct=plan.drop_pct,
            fuse_at="battery",
            planned=plan.inverter,
        )
    yield from _converter(job, plan, low)
    direct = [item for item in job.appliances if item.supply == "dc" and item.count > 0]
    total = sum(peak_watts(item) for item in direct)
    if total > 0 and job.converter is None:
        yield _load(job, plan, "Battery to DC panel", total, plan.drop_pct, plan.dc_panel)
    planned = {cable.name: cable for cable in plan.loads}
    for item in direct:
        if peak_watts(item) / house_volts(job, plan)[0] >= LARGE_LOAD_A:
            drop = plan.drop_pct if item.priority == "essential" else plan.loads_drop_pct
            yield _load(job, plan, item.name, peak_watts(item), drop, planned.get(item.name))


def house_volts(job: Job, plan: WiringPlan) -> tuple[float, float]:
    """What DC appliances run on, at its lowest and as it is named. [V]"""
    if job.converter is not None:
        return job.converter.volts, job.converter.volts
    return lowest_volts(job, plan), job.battery.nominal_v


def _converter(job: Job, plan: WiringPlan, low: float) -> Iterator[Circuit]:
    """To the converter at the bank's lowest voltage, and from it to the DC panel."""
    part = job.converter
    if part is None:
        return
    draw = part.rated_watts / (part.efficiency * low)
    yield Circuit(
        name="Battery to converter",
        key="wiring.converter",
        amps=draw,
        rule="converter",
        figures={"rated_w": part.rated_watts, "efficiency": part.efficiency, "low_v": low},
        rating_a=conductors.CONTINUOUS * draw,
        basis="continuous",
        working_a=draw,
        volts=job.battery.nominal_v,
        drop_pct=plan.drop_pct,
        fuse_at="battery",
        planned=plan.converter,
    )
    yield Circuit(
        name="Converter to DC panel",
        key="wiring.dc_panel",
        amps=part.rated_amps,
        rule="converter out",
        figures={"rated_w": part.rated_watts, "volts": part.volts},
        rating_a=conductors.CONTINUOUS * part.rated_amps,
        basis="continuous",
        working_a=part.rated_amps,
        volts=part.volts,
        drop_pct=plan.drop_pct,
        fuse_at="converter",
        planned=plan.dc_panel,
    )


def _charging(job: Job, plan: WiringPlan, name: str, key: str, rated_a: float) -> Circuit:
    """A charger's output to the bank."""
    return Circuit(
        name=name,
        key=f"wiring.{key}",
        amps=rated_a,
        rule="charger",
        figures={},
        rating_a=conductors.CONTINUOUS * rated_a,
        basis="continuous",
        working_a=rated_a,
        volts=job.battery.nominal_v,
        drop_pct=plan.drop_pct,
        fuse_at="battery",
        planned=getattr(plan, key),
    )


def _load(
    job: Job,
    plan: WiringPlan,
    name: str,
    draw_w: float,
    drop_pct: float,
    planned: CableEntry | None,
) -> Circuit:
    """DC loads, at the lowest voltage they run on."""
    low, named = house_volts(job, plan)
    is_panel = name == "Battery to DC panel"
    return Circuit(
        name=name,
        key="wiring.dc_panel" if is_panel else "wiring.loads",
        amps=draw_w / low,
        rule="all loads" if is_panel else "load",
        figures={"draw_w": draw_w, "low_v": low},
        rating_a=conductors.CONTINUOUS * draw_w / low,
        basis="continuous",
        working_a=draw_w / low,
        volts=named,
        drop_pct=drop_pct,
        fuse_at="battery" if is_panel else "DC panel",
        planned=planned,
    )
