"""The wiring sheet: a cable list and the checks a builder wants before ordering."""

from __future__ import annotations

from dataclasses import replace

from sim.decide.wiring import limits
from sim.decide.wiring.circuits import Circuit, circuits
from sim.decide.wiring.rows import CableRun, Check, WiringSheet
from sim.decide.wiring.ticks import ticks
from sim.job.model.job import Job
from sim.job.model.wiring import WiringPlan
from sim.van import conductors
from sim.van.conductors import Cable


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
            _ampacity_check(circuit, run, plan),
            _drop_check(circuit, run, plan),
        ]
    checks += limits.checks(job, plan)
    checks += ticks(job, plan)
    return WiringSheet(job.title, job.customer, job.settings.units, tuple(runs), tuple(checks))


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
        figures=circuit.figures,
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
    right = conductors.rating_within if is_inlet else conductors.next_rating
    best = right(run.rating_a, _ratings(circuit))
    figures: dict[str, float | str | Cable] = {
        "rating_a": run.rating_a,
        "largest_a": _ratings(circuit)[-1],
        "fuse_at": circuit.fuse_at,
    }
    if run.fuse_a is None:
        return Check(run.name, "fuse", "change", "none", figures, circuit.basis)
    figures["fuse_a"] = run.fuse_a
    if best is None:
        return Check(run.name, "fuse", "change", "no rating", figures, circuit.basis)
    if (run.fuse_a > run.rating_a + 1e-9) if is_inlet else (run.fuse_a < run.rating_a - 1e-9):
        figures["best_a"] = best
        return Check(run.name, "fuse", "change", "other", figures, circuit.basis)
    if circuit.planned is not None and circuit.planned.fuse_amps is not None:
        return Check(run.name, "fuse", "pass", "", figures, circuit.basis)
    return Check(run.name, "fuse", "choose", "choose", figures, circuit.basis)


def _ampacity_check(circuit: Circuit, run: CableRun, plan: WiringPlan) -> Check:
    insulation, ambient = _insulation(circuit, plan), _ambient(circuit, plan)
    basis = str(insulation)
    if run.fuse_a is None:
        return Check(run.name, "ampacity", "change", "no fuse", {}, basis)
    figures: dict[str, float | str | Cable] = {"fuse_a": run.fuse_a}
    if run.cable is None:
        return Check(run.name, "ampacity", "change", "no cable", figures, basis)
    may = conductors.largest_fuse(run.cable, insulation_c=insulation, ambient_c=ambient)
    figures |= {
        "cable": run.cable,
        "carries_a": may,
        "ambient_c": ambient,
        "insulation_c": insulation,
    }
    if not run.is_fitted:
        return Check(run.name, "ampacity", "choose", "choose", figures, basis)
    if run.cable.parallel > 1 and run.cable.gauge > conductors.SMALLEST_PARALLEL_GAUGE:
        return Check(run.name, "ampacity", "change", "parallel", figures, "parallel")
    if may >= run.fuse_a - 1e-9:
        return Check(run.name, "ampacity", "pass", "", figures, basis)
    better = _chosen(circuit, run.fuse_a, plan)
    case = "none thick" if better is None else "thicker"
    if better is not None:
        figures["better"] = better
    smaller = conductors.rating_within(may, _ratings(circuit))
    if smaller is not None and smaller >= run.rating_a - 1e-9:
        case += " or fuse"
        figures["smaller_a"] = smaller
    return Check(run.name, "ampacity", "change", case, figures, basis)


def _drop_check(circuit: Circuit, run: CableRun, plan: WiringPlan) -> Check:
    figures: dict[str, float | str | Cable] = {
        "may_pct": circuit.drop_pct,
        "volts": circuit.volts,
        "key": circuit.key,
    }
    if run.length_m is None:
        case = "no length of load" if circuit.key == "wiring.loads" else "no length"
        return Check(run.name, "drop", "say", case, figures)
    if run.cable is None or run.drop_v is None or run.drop_pct is None:
        return Check(run.name, "drop", "change", "no cable", figures)
    figures |= {"drop_v": run.drop_v, "drop_pct": run.drop_pct, "length_m": run.length_m}
    if run.drop_pct <= circuit.drop_pct * (1.0 + 1e-9):
        return Check(run.name, "drop", "pass", "", figures)
    better = conductors.for_drop(
        circuit.working_a,
        run.length_m,
        circuit.volts * circuit.drop_pct / 100.0,
        insulation_c=_insulation(circuit, plan),
    )
    if better is None:
        return Check(run.name, "drop", "change", "none thick", figures)
    return Check(run.name, "drop", "change", "thicker", {**figures, "better": better})
