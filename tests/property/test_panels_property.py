"""More panels never give less, whatever stands on the roof, lies on it, or shades the van."""

from __future__ import annotations

from typing import Any

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from sim.job.model.changes import with_values
from sim.job.model.job import Job
from sim.trip.designs import Design, design_of, offers_of
from sim.trip.prepare import PreparedTrip, prepare_trip

# Half of them where snow lies in winter, and most trips then.
PLACES = (
    *("64.15, -21.94", "47.48, 11.06", "67.86, 20.23", "46.81, -100.78"),
    *("38.57, -109.55", "-33.87, 151.21", "0.35, 32.58"),
)
MONTHS = (1, 2, 12, 1, 2, 4, 7)
PARTS: dict[str, Any] = {
    "title": "Panels",
    "van": {
        "length_m": 3.0,
        "width_m": 1.7,
        "height_m": 1.6,
        "shell_u_w_m2k": 2.0,
        "skin_absorptance": 0.4,
        "glass_m2": 1.5,
        "thermal_mass_kj_k": 250.0,
    },
    "battery": {
        "chemistry": "lifepo4",
        "capacity_ah": 100.0,
        "nominal_v": 12.8,
        "charging_v": 13.6,
        "max_charge_c": 0.5,
        "max_discharge_c": 1.0,
        "taper_from_soc": 0.95,
        "tail_c": 0.05,
        "coulombic_efficiency": 0.99,
        "resistance_mohm": 5.0,
        "self_discharge_pct_month": 3.0,
        "charge_above_c": 0.0,
    },
    "appliances": ({"name": "Load", "kind": "steady", "watts": 40.0},),
}


def share(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high).map(lambda value: round(value, 3))


@st.composite
def groups(draw: st.DrawFn) -> dict[str, Any]:
    """Panels of any mount, wiring and controller, under any shadow."""
    mount = draw(st.sampled_from(("flat", "tilted", "portable")))
    aim: dict[str, Any] = {} if mount == "flat" else {"tilt_deg": draw(share(0.0, 90.0))}
    if mount == "tilted":
        aim["side"] = draw(st.sampled_from((None, "front", "left")))
    series = draw(st.integers(1, 3))
    count = series * draw(st.integers(1, 3))
    watts = draw(share(20.0, 500.0))
    # Most controllers are about as large as what is behind them, where their limit tells.
    of_all = draw(st.one_of(share(0.2, 1.0), share(0.2, 1.0), share(1.0, 20.0)))
    return {
        "count": count,
        "series": series,
        "watts": watts,
        "temp_coeff_pct_c": draw(share(-0.6, 0.0)),
        "mount": mount,
        **aim,
        "controller": draw(st.sampled_from(("mppt", "pwm"))),
        "controller_amps": round(min(max(of_all * count * watts / 13.6, 1.0), 200.0), 3),
        "controller_standby_watts": draw(share(0.0, 6.0)),
        "vmp_v": 18.0,
        "obstructed_pct": draw(share(0.0, 100.0)),
        "soiling_pct": draw(share(0.0, 40.0)),
    }


@st.composite
def jobs(draw: st.DrawFn) -> Job:
    """A short trip, often in winter, with one or two groups."""
    stop = {
        "place": draw(st.sampled_from(PLACES)),
        "nights": draw(st.integers(1, 3)),
        "drive_hours": draw(share(0.0, 4.0)),
        "local_drive_hours": draw(share(0.0, 1.0)),
        "shade_pct": draw(share(0.0, 100.0)),
        "horizon_deg": draw(share(0.0, 40.0)),
    }
    living = {"people": 2, "clear_snow": draw(st.sampled_from(("never", "each morning")))}
    depart = f"2027-{draw(st.sampled_from(MONTHS)):02d}-10"
    return Job.model_validate(
        {
            **PARTS,
            "living": living,
            "panels": tuple(draw(st.lists(groups(), min_size=1, max_size=2))),
            "trips": ({"name": "Any trip", "depart": depart, "stops": (stop,)},),
            "settings": {"draws": 3, "step_minutes": draw(st.sampled_from((30, 60)))},
        }
    )


def with_more(job: Job, strings: int) -> Job:
    """More strings in the first group, behind the same controller."""
    first = job.panels[0]
    larger = with_values(first, {"count": first.count + strings * first.series})
    return with_values(job, {"panels": (larger, *job.panels[1:])})


@settings(max_examples=24)
@given(job=jobs(), strings=st.integers(1, 4))
def test_more_panels_never_give_less_with_everything_on(job: Job, strings: int) -> None:
    """Neither at the battery, nor before the controller's limit, nor with the snow off."""
    few, many = (
        panels_of(prepare_trip(made, made.trips[0])) for made in (job, with_more(job, strings))
    )
    for less, more in zip(few, many, strict=True):
        assert (more >= less - 1e-9 * (1.0 + less)).all()
        assert (less >= 0.0).all()


def panels_of(prepared: PreparedTrip, design: Design | None = None) -> list[np.ndarray]:
    """What the panels of a design give: at the battery, before the limit, and with the snow off."""
    design = design or design_of(prepared.job)
    sun = offers_of(prepared, [design]).sources[0]
    assert sun.lost_w is not None
    before_limit = sun.offered_w + sun.lost_w
    snowed_w = sum(
        count * unit.group.controller_efficiency * unit.snowed_wh_day / 24.0
        for count, unit in zip(design.panels, prepared.units, strict=True)
    )
    return [sun.offered_w, before_limit, before_limit.mean(keepdims=True) + snowed_w]


@settings(max_examples=16)
@given(job=jobs(), more=st.integers(1, 5))
def test_a_study_with_more_panels_never_has_less_sun(job: Job, more: int) -> None:
    """Panel by panel, as decisions count them: at the battery, and before the limit."""
    prepared = prepare_trip(job, job.trips[0])
    counts = tuple(group.count for group in job.panels)
    few = panels_of(prepared, Design(counts, 1))
    many = panels_of(prepared, Design((counts[0] + more, *counts[1:]), 1))
    for less, much in zip(few, many, strict=True):
        assert (much >= less - 1e-9 * (1.0 + less)).all()
