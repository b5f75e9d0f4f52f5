"""The wiring sheet: a cable list and the checks a builder wants before ordering."""

from __future__ import annotations

from dataclasses import replace

from sim.decide.wiring import limits
from sim.decide.wiring.circuits import Circuit, circuits
from sim.decide.wiring.rows import (
    OPENING,
    CableRun,
    Check,
    Status,
    System,
    WiringSheet,
    amps,
    cable_text,
    celsius,
    length,
    percent,
    volts,
)
from sim.job.model.job import Job
from sim.job.model.wiring import WiringPlan
from sim.van import conductors
from sim.van.conductors import Cable

_DROP_BASIS = (
    "circular mil rule with K 10.75, ABYC E-11; 3 % for feeders, charging and essential loads, "
    "10 % for the rest"
)
_AMPACITY_BASIS = {
    75: "NEC tables 310.16 and 310.15(B)(1), 75 °C column",
    90: "NEC tables 310.16 and 310.15(B)(1), 90 °C column, terminals for 75 °C by 110.14(C)",
    105: "boat cable of 105 °C, ABYC E-11",
}


def wiring(job: Job) -> WiringSheet:
    """Check the currents, voltages, cables and fuses of a job.

    Parameters
    ----------
    job : Job
        Its ``[wiring]`` section says lengths and what is fitted; without it cables are chosen
        by ampacity alone and lengths are asked for.

    Returns
    -------
    WiringSheet
    """
    plan = job.wiring or WiringPlan()
    runs, checks = [], []
    for circuit in circuits(job, plan):
        run = _cable_run(circuit, plan)
        runs.append(run)
        checks += [
            _fuse_check(circuit, run),
            _ampacity_check(circuit, run, plan, job.settings.units),
            _drop_check(circuit, run, plan, job.settings.units),
        ]
    checks += limits.checks(job, plan)
    checks += limits.ticks(job, plan)
    return WiringSheet(
        job.title, job.customer, OPENING, job.settings.units, tuple(runs), tuple(checks)
    )


def _ratings(circuit: Circuit) -> tuple[float, ...]:
    is_230v = circuit.inlet_a is not None and circuit.volts >= 200
    return conductors.BREAKERS_230V_A if is_230v else conductors.FUSES_A


def _insulation(circuit: Circuit, plan: WiringPlan) -> int:
    # The plug's side is wired in a building's manner whatever the DC side is.
    return min(plan.insulation_c, 90) if circuit.inlet_a is not None else plan.insulation_c


def _ambient(circuit: Circuit, plan: WiringPlan) -> float:
    if circuit.planned is not None and circuit.planned.place == "engine":
        return max(conductors.ENGINE_SPACE_C, plan.ambient_c)
    return plan.ambient_c


def _fuse(circuit: Circuit) -> float | None:
    if circuit.planned is not None and circuit.planned.fuse_amps is not None:
        return circuit.planned.fuse_amps
    if circuit.inlet_a is not None:
        return conductors.rating_within(circuit.inlet_a, _ratings(circuit))
    return conductors.next_rating(circuit.rating_a, _ratings(circuit))


def _fitted(circuit: Circuit, insulation_c: int) -> Cable | None:
    planned = circuit.planned
    if planned is None:
        return None
    one = None
    if planned.cable_awg is not None:
        one = next(
            x for gauge in range(-3, 19) if (x := Cable(gauge)).name == f"{planned.cable_awg} AWG"
        )
    elif planned.cable_mm2 is not None:
        one = conductors.of_area(planned.cable_mm2, insulation_c) or Cable(18)
    return one and replace(one, parallel=planned.parallel)


def _chosen(circuit: Circuit, fuse_a: float | None, plan: WiringPlan) -> Cable | None:
    """The thicker of what the fuse and what the voltage drop want."""
    if fuse_a is None:
        return None
    insulation, ambient = _insulation(circuit, plan), _ambient(circuit, plan)
    wanted = [conductors.for_fuse(fuse_a, insulation_c=insulation, ambient_c=ambient)]
    if circuit.planned is not None:
        allowed_v = circuit.volts * circuit.drop_pct / 100.0
        wanted.append(
            conductors.for_drop(
                circuit.working_a, circuit.planned.length_m, allowed_v, insulation_c=insulation
            )
        )
    if any(cable is None for cable in wanted):
        return None
    return max((cable for cable in wanted if cable), key=lambda cable: cable.area_mm2)


def _cable_run(circuit: Circuit, plan: WiringPlan) -> CableRun:
    fuse_a = _fuse(circuit)
    fitted = _fitted(circuit, _insulation(circuit, plan))
    cable = fitted or _chosen(circuit, fuse_a, plan)
    one_way = circuit.planned.length_m if circuit.planned else None
    drop = None
    if cable is not None and one_way is not None:
        drop = conductors.drop_volts(cable, circuit.working_a, one_way)
    return CableRun(
        name=circuit.name,
        amps=circuit.amps,
        rule=circuit.rule,
        rating_a=circuit.rating_a,
        volts=circuit.volts,
        length_m=one_way,
        fuse_a=fuse_a,
        fuse_at=circuit.fuse_at,
        cable=cable,
        is_fitted=fitted is not None,
        drop_v=drop,
        drop_pct=None if drop is None else 100.0 * drop / circuit.volts,
    )


def _fuse_check(circuit: Circuit, run: CableRun) -> Check:
    is_inlet = circuit.inlet_a is not None
    edge = "at most" if is_inlet else "at least"
    limit = f"{edge} {amps(run.rating_a)}"
    is_fitted = circuit.planned is not None and circuit.planned.fuse_amps is not None
    right = conductors.rating_within if is_inlet else conductors.next_rating
    best = right(run.rating_a, _ratings(circuit))
    status: Status = "pass" if is_fitted else "choose"
    advice = "" if is_fitted else f"fit {amps(run.fuse_a or 0.0)} at the {circuit.fuse_at}"
    if run.fuse_a is None or best is None:
        status = "change"
        advice = (
            f"no standard rating up to {amps(_ratings(circuit)[-1])} is right; split the load or "
            "raise the bank's voltage"
        )
    elif (run.fuse_a > run.rating_a + 1e-9) if is_inlet else (run.fuse_a < run.rating_a - 1e-9):
        status = "change"
        advice = f"take {amps(best)}, the standard rating for this current"
    value = "none" if run.fuse_a is None else amps(run.fuse_a)
    return Check(run.name, "Fuse or breaker", value, limit, status, advice, circuit.basis)


def _ampacity_check(circuit: Circuit, run: CableRun, plan: WiringPlan, system: System) -> Check:
    insulation, ambient = _insulation(circuit, plan), _ambient(circuit, plan)
    what, basis = "Cable carries its fuse", _AMPACITY_BASIS[insulation]
    limit = "no fuse found" if run.fuse_a is None else f"at least {amps(run.fuse_a)}, its fuse"
    if run.cable is None or run.fuse_a is None:
        advice = "no cable in the table is thick enough; split the load or raise the bank's voltage"
        return Check(run.name, what, "none", limit, "change", advice, basis)
    may = conductors.largest_fuse(run.cable, insulation_c=insulation, ambient_c=ambient)
    carries = amps(may) if may > 0 else "not in the table for this use,"
    value = f"{cable_text(run.cable)}: {carries} at {celsius(ambient, system)}"
    if not run.is_fitted:
        advice = f"fit {cable_text(run.cable)} or thicker, insulation {insulation} °C"
        return Check(run.name, what, value, limit, "choose", advice, basis)
    if run.cable.parallel > 1 and run.cable.gauge > conductors.SMALLEST_PARALLEL_GAUGE:
        advice = "cables thinner than 1/0 AWG may not share a current; take one thicker cable"
        return Check(run.name, what, value, limit, "change", advice, "NEC 310.10(G), from memory")
    if may < run.fuse_a - 1e-9:
        better = _chosen(circuit, run.fuse_a, plan)
        right = f"take {cable_text(better)} or thicker" if better else "no cable is thick enough"
        smaller = conductors.rating_within(may, _ratings(circuit))
        if smaller is not None and smaller >= run.rating_a - 1e-9:
            right += f", or a fuse of {amps(smaller)}"
        return Check(run.name, what, value, limit, "change", right, basis)
    return Check(run.name, what, value, limit, "pass", "", basis)


def _drop_check(circuit: Circuit, run: CableRun, plan: WiringPlan, system: System) -> Check:
    what = "Voltage drop"
    limit = f"{percent(circuit.drop_pct)} of {volts(circuit.volts)}"
    if run.length_m is None:
        unit = "length_ft" if system == "us" else "length_m"
        where = f"[{circuit.key}]"
        if circuit.key == "wiring.loads":
            where = f'[[wiring.loads]] with name = "{circuit.name}"'
        advice = f"say how long the run is: {unit} under {where}"
        return Check(run.name, what, "length not known", limit, "say", advice, _DROP_BASIS)
    if run.cable is None or run.drop_v is None or run.drop_pct is None:
        advice = "move the ends closer together or raise the voltage"
        return Check(run.name, what, "no cable found", limit, "change", advice, _DROP_BASIS)
    value = f"{volts(run.drop_v)}, {percent(run.drop_pct)} over {length(run.length_m, system)}"
    if run.drop_pct <= circuit.drop_pct * (1.0 + 1e-9):
        return Check(run.name, what, value, limit, "pass", "", _DROP_BASIS)
    better = conductors.for_drop(
        circuit.working_a,
        run.length_m,
        circuit.volts * circuit.drop_pct / 100.0,
        insulation_c=_insulation(circuit, plan),
    )
    advice = f"take {cable_text(better)} or thicker" if better else "no cable is thick enough"
    return Check(run.name, what, value, limit, "change", advice, _DROP_BASIS)
