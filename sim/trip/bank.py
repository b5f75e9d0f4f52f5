"""A job's battery as numbers for the kernel, and what the trip's temperatures do to it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from sim.arrays import Floats
from sim.job.model.job import Job
from sim.job.model.power import Battery
from sim.sky.sun import Sun
from sim.trip.demand import Demand
from sim.trip.lines import OWN_DRAW, Line
from sim.trip.timeline import Timeline
from sim.van.bank import cells
from sim.van.bank.lanes import Bank
from sim.van.cabin import lagged

# A bank in its box follows the air around it over a night (common practice, no source).
BATTERY_LAG_HOURS = 6.0
HEATING_NAME = "Battery heating"


@dataclass(frozen=True)
class BankWeather:
    """What its temperature does to the bank. Arrays of shape (H, D), as in `battery.Offers`.

    Attributes
    ----------
    charge_allowed : ndarray
    usable, pace : ndarray or None
        None where temperature changes nothing.
    heating_w : ndarray or None
        Drawn by the heating pad, None without one. [W]
    """

    charge_allowed: Floats
    usable: Floats | None
    pace: Floats | None
    heating_w: Floats | None


def bank_of(battery: Battery, held_socs: Sequence[float] = ()) -> Bank:
    """A job's battery as numbers for the stepping kernel; `held_socs` as of the job."""
    capacity = battery.capacity_wh
    # Equal units in parallel share the current; a worn one has as much resistance as a new one.
    resistance_ohm = battery.resistance_mohm / 1000.0 / battery.count
    return Bank(
        capacity_wh=capacity,
        charge_limit_w=battery.max_charge_c * capacity,
        discharge_limit_w=battery.max_discharge_c * capacity,
        taper_from_soc=battery.taper_from_soc,
        tail_share=min(battery.tail_c / battery.max_charge_c, 0.95),
        charge_efficiency=battery.charge_efficiency,
        resistance_per_w=resistance_ohm / battery.nominal_v**2,
        self_discharge_per_h=battery.self_discharge_pct_month / 100.0 / (30.0 * 24.0),
        floors=(battery.cutoff_soc, battery.reserve_soc, battery.extras_soc, *held_socs),
        reconnect_above=battery.reconnect_above_soc,
        peukert=battery.peukert,
        rated_hours=battery.peukert_hours,
    )


def bank_weather(
    job: Job, timeline: Timeline, temp_air: Floats, sun: Sun, cabin_c: Floats
) -> BankWeather:
    """Temperature of the bank over a trip, and what it allows.

    Parameters
    ----------
    job : Job
    timeline : Timeline
        H steps.
    temp_air : ndarray, shape (H, D)
        [deg C]
    sun : Sun
        H steps.
    cabin_c : ndarray, shape (H, D)
        [deg C]

    Returns
    -------
    BankWeather
        The heating pad runs while the sun is up, the engine runs or the van is plugged in: its
        controls wait for a source.
    """
    battery = job.battery
    around = cabin_c if job.van.battery_place == "cabin" else temp_air
    hours = timeline.step_hours
    heating = None
    if battery.heating_watts > 0.0:
        day = (sun.apparent_zenith < 90.0).astype(np.float64)
        runs = timeline.driving + timeline.idling + timeline.plugged
        on = np.maximum(np.minimum(runs, 1.0), day)
        cell_c, heating = cells.heated_bank(
            around,
            np.broadcast_to(on[:, None], around.shape),
            watts=battery.heating_watts * battery.count,
            target_c=battery.heat_to_c,
            heat_wh_k=cells.HEAT_WH_K_PER_WH * battery.capacity_wh * 100.0 / battery.health_pct,
            step_hours=hours,
            lag_hours=BATTERY_LAG_HOURS,
        )
    else:
        cell_c = lagged(around, hours, BATTERY_LAG_HOURS)
    cool_share = 1.0
    if battery.cool_max_charge_c is not None:
        cool_share = min(battery.cool_max_charge_c / battery.max_charge_c, 1.0)
    is_lead = battery.chemistry != "lifepo4"
    return BankWeather(
        charge_allowed=cells.charge_share(
            cell_c,
            above_c=battery.charge_above_c,
            cool_below_c=battery.cool_below_c,
            cool_share=cool_share,
        ),
        usable=_usable(cell_c, is_lead=is_lead),
        pace=cells.lead_pace(cell_c) if is_lead else None,
        heating_w=heating,
    )


def _usable(cell_c: Floats, *, is_lead: bool) -> Floats | None:
    """Share of the capacity that the cells' temperature leaves, None where it leaves all."""
    share = cells.lead_capacity_share if is_lead else cells.lithium_capacity_share
    usable = share(cell_c)
    return usable if is_lead or usable.min() < 1.0 else None


def with_heating(wants: Demand, heating_w: Floats | None, wanted_w: Floats) -> Demand:
    """The loads with the battery's heating pad among the essential ones, as a line of its own;
    `wanted_w` has it already."""
    if heating_w is None:
        return wants
    own = [line for line in wants.lines if line.supply in OWN_DRAW]
    others = [line for line in wants.lines if line.supply not in OWN_DRAW]
    pad = Line(HEATING_NAME, "essential", "dc", heating_w)
    return replace(wants, lines=(*others, pad, *own), wanted_w=wanted_w)
