"""From a job to its result: what `prepare` works out, the battery over it, and what came of it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from sim.arrays import Floats, Ints
from sim.job.model.job import Job, Trip
from sim.job.model.living import PRIORITIES, Priority
from sim.ledger.boxes import boxes_of
from sim.ledger.lines import LoadLine
from sim.ledger.results import BALANCE_TOLERANCE, Result, TripResult
from sim.ledger.study import design_of, sun_of
from sim.threads import Progress
from sim.trip.bank import bank_of, with_heating
from sim.trip.demand import Demand
from sim.trip.frost import frost_of
from sim.trip.prepare import prepare_trip
from sim.trip.tanks import engine_fuel_l_day, stores_of
from sim.van.bank.loop import Offers, run_bank


def simulate(job: Job, *, progress: Progress | None = None) -> Result:
    """Run every trip of a job in all its draws.

    Parameters
    ----------
    job : Job
        From `sim.load_job`.
    progress : callable, optional
        Called with the share of the work done, 0 to 1.

    Returns
    -------
    Result

    Raises
    ------
    WeatherError
        A weather file cannot be used, or a place has no climate.
    """
    trips = []
    for index, trip in enumerate(job.trips):
        share = 1.0 / len(job.trips)

        def tell(done: float, base: float = index * share, share: float = share) -> None:
            if progress is not None:
                progress(base + done * share)

        trips.append(simulate_trip(job, trip, progress=tell))
    return Result(job, tuple(trips))


def simulate_trip(job: Job, trip: Trip, *, progress: Progress | None = None) -> TripResult:
    """Run one trip of a job in all its draws; see `simulate`."""
    result = _carried(job, trip, progress or (lambda done: None))
    error = result.balance_error()
    if not error <= BALANCE_TOLERANCE:
        raise AssertionError(f"the ledger of {trip.name} does not close: {error:.2e}")
    return result


def _carried(job: Job, trip: Trip, tell: Progress) -> TripResult:
    """From timeline to result, unchecked."""
    prepared = prepare_trip(job, trip, progress=lambda done: tell(0.4 * done))
    timeline, sun, bank = prepared.timeline, prepared.sky.sun, prepared.bank
    temp_air, about = prepared.sky.weather.temp_air, prepared.sky.weather.about
    heating_w = None if bank.heating_w is None else bank.heating_w * job.battery.count
    wants = with_heating(prepared.wants, heating_w)
    sun_w, clipped_w = sun_of(prepared, design_of(job))
    drive_w, parts, ghi = prepared.drive_w, prepared.parts, prepared.ghi
    stores = stores_of(job, trip, timeline, wants)
    snowed_wh_day = sum(
        group.count * group.controller_efficiency * lost
        for group, lost in zip(job.panels, prepared.unit_snowed_wh_day, strict=True)
    )
    del prepared  # a year of draws is large: the beam and the diffuse light are done with
    hours = run_bank(
        bank_of(job.battery),
        Offers(
            wanted_w=wants.wanted_w,
            sun_w=sun_w,
            drive_w=drive_w,
            shore_w=wants.plug_offer_w,
            charge_allowed=bank.charge_allowed,
            usable=bank.usable,
            pace=bank.pace,
            beyond_w=wants.beyond_w,
            parts=parts,
        ),
        start_soc=trip.start_soc,
        step_hours=timeline.step_hours,
        progress=lambda done: tell(0.4 + 0.6 * done),
    )
    # Of the bank alone: what is beyond the inlet it was never asked for.
    missed_w = hours.unserved_w
    if wants.beyond_w is not None:
        missed_w = np.maximum(missed_w - wants.beyond_w, 0.0)
    given = _served_shares(wants.wanted_w, missed_w)
    boxes = boxes_of(timeline, wants, given)
    loads = _load_lines(wants, given, timeline.local_day, timeline.step_hours)
    del given
    # What is left of an offer that was used up may be a rounding below nothing.
    unharvested_w = np.maximum(sun_w - hours.sun_w, 0.0)
    del sun_w
    unharvested_w += clipped_w
    return TripResult(
        name=trip.name,
        timeline=timeline,
        soc=hours.soc,
        lowest=hours.lowest_soc,
        cut_off_h=hours.cut_off_h,
        sun_w=hours.sun_w,
        drive_w=hours.drive_w,
        shore_w=hours.shore_w + wants.plug_w,
        unharvested_w=unharvested_w,
        unharvested_by_cause_w=np.vstack([hours.refused_sun_w, clipped_w.mean(axis=1)]),
        served_w=wants.wanted_w.sum(axis=0) - missed_w.sum(axis=0) + wants.plug_w,
        unserved_w=hours.unserved_w,
        losses_w=hours.losses_w,
        ghi=ghi,
        temp_air=temp_air,
        cabin_c=wants.cabin_c,
        sun_up=sun.apparent_zenith < 90.0,
        capacity_wh=job.battery.capacity_wh,
        chemistry=job.battery.chemistry,
        loads=loads,
        ample_share=job.settings.ample_share,
        tight_share=job.settings.tight_share,
        floors=(job.battery.cutoff_soc, job.battery.reserve_soc, job.battery.extras_soc),
        about=about,
        stores=stores,
        boxes=boxes,
        snowed_wh_day=snowed_wh_day,
        # Without a heater nobody expects hot water.
        hot_short_wh_day=24.0 * float(wants.hot.short_w.mean()) if len(wants.hot.heat_w) else 0.0,
        uncharged_wh_day={
            name: missed / (len(timeline) * timeline.step_hours / 24.0)
            for name, missed in wants.uncharged_wh.items()
        },
        chill=wants.chill,
        damp_hours=wants.damp_hours,
        frost=frost_of(job, timeline, temp_air, wants.cabin_c),
        engine_fuel_l_day=engine_fuel_l_day(wants),
    )


def _load_lines(
    wants: Demand, given: dict[Priority, Floats], day: Ints, step_hours: float
) -> tuple[LoadLine, ...]:
    """Each appliance's energies: what its group was refused, it was refused in proportion."""
    shape = wants.cabin_c.shape
    starts = np.flatnonzero(np.diff(day, prepend=-1))
    lines: list[LoadLine] = []
    for line in wants.lines:
        share = line.served_share(given[line.priority])
        per_day = np.add.reduceat(line.watts, starts, axis=0) * step_hours
        made = LoadLine(
            name=line.name,
            priority=line.priority,
            supply=line.supply,
            wanted_wh_day=np.broadcast_to(per_day, (len(starts), shape[1])),
            wanted_wh=np.broadcast_to(per_day.sum(axis=0), shape[1:]),
            served_wh=np.broadcast_to((line.watts * share).sum(axis=0), shape[1:]) * step_hours,
            appliance=line.appliance,
        )
        if line.supply == "inverter" and lines and lines[-1].supply == "inverter":
            made = _together(lines.pop(), made)
        lines.append(made)
    return tuple(lines)


def _served_shares(wanted_w: Floats, unserved_w: Floats) -> dict[Priority, Floats]:
    """Share of each group's loads that was served, by priority. shape (H, D)"""
    return {
        name: _served_share(wanted, unserved)
        for name, wanted, unserved in zip(PRIORITIES, wanted_w, unserved_w, strict=True)
    }


def _served_share(wanted_w: Floats, unserved_w: Floats) -> Floats:
    """Share of a group's loads that was served, 1 where none was wanted. shape (H, D)"""
    if not unserved_w.any():
        return np.broadcast_to(1.0, wanted_w.shape)
    refused = np.divide(unserved_w, wanted_w, out=np.zeros_like(wanted_w), where=wanted_w > 0.0)
    return np.asarray(1.0 - refused)


def _together(first: LoadLine, second: LoadLine) -> LoadLine:
    """Two parts of one line, under the priority of the first."""
    return replace(
        first,
        wanted_wh_day=first.wanted_wh_day + second.wanted_wh_day,
        wanted_wh=first.wanted_wh + second.wanted_wh,
        served_wh=first.served_wh + second.served_wh,
    )
