"""What came of a trip whose battery was carried through, worked out as far as it is asked for.

A result keeps all of it; of a design that is tried beside many others only the answer is asked.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from sim.arrays import Floats
from sim.job.model.appliance_base import ApplianceBase
from sim.job.model.job import Job, Trip
from sim.job.model.living import PRIORITIES
from sim.ledger.lacking import Lacking
from sim.ledger.lines import LoadLine, by_kind
from sim.ledger.outcome import TripOutcome
from sim.ledger.promise import Lack, cold_lacks, store_lacks
from sim.ledger.served import Given, LoadSums
from sim.sky.sun import Sun
from sim.trip.demand import Demand
from sim.trip.frost import Frost
from sim.trip.prepare import PreparedTrip
from sim.trip.tanks import StoreLine, fuel_store, stores_of
from sim.trip.timeline import Timeline
from sim.van.bank.hours import BankHours
from sim.van.bank.offers import Offers
from sim.van.bank.sources import together


@dataclass(frozen=True)
class Around:
    """What all designs share that are tried on a trip: job and trip, weather and surroundings of
    the van; see `TripResult`."""

    job: Job
    trip: Trip
    timeline: Timeline
    ghi: Floats
    temp_air: Floats
    sun: Sun
    about: tuple[str, ...]
    years: tuple[int, ...]
    snowed_wh_day: float
    frost: Frost | None  # None: neither that nor cold boxes are asked for
    stores: tuple[StoreLine, ...]
    stores_lack: tuple[Lack, ...]
    cold_lack: tuple[Lack, ...]
    hot_short_w: Floats
    least_usable: Floats
    sums: LoadSums

    @classmethod
    def of(cls, prepared: PreparedTrip, frost: Frost | None) -> Around:
        job, timeline, wants = prepared.job, prepared.timeline, prepared.wants
        weather, draws, usable = prepared.sky.weather, prepared.draws, prepared.bank.usable
        stores = stores_of(job, prepared.trip, timeline, wants)
        # Without a heater nobody expects hot water.
        short_w = wants.hot.short_w if len(wants.hot.heat_w) else np.zeros(len(timeline))
        items = [line.appliance for line in wants.lines if line.appliance is not None]
        return cls(
            job=job,
            trip=prepared.trip,
            timeline=timeline,
            ghi=prepared.ghi,
            temp_air=weather.temp_air,
            sun=prepared.sky.sun,
            about=weather.about,
            years=weather.years,
            snowed_wh_day=sum(
                unit.group.count * unit.group.controller_efficiency * unit.snowed_wh_day
                for unit in prepared.units
            ),
            frost=frost,
            stores=stores,
            stores_lack=store_lacks(stores, items, draws),
            cold_lack=cold_lacks(wants.chill, short_w, timeline.step_hours),
            hot_short_w=short_w,
            least_usable=np.broadcast_to(
                np.ones(1) if usable is None else usable.min(axis=0), (draws,)
            ),
            sums=LoadSums(timeline.local_day, timeline.step_hours),
        )


class TriedTrip(TripOutcome):
    """What a design did in D draws of a trip.

    Parameters
    ----------
    around : Around
    wants : Demand
        The loads, with the heating pad of the design's battery.
    offers : Offers
        What was offered to its bank, in all draws as they are.
    hours : BankHours
    lacking : Lacking, optional
    unharvested_wh_day : float, optional
        Where these were summed up already, with what lies beside them.
    """

    def __init__(
        self,
        around: Around,
        wants: Demand,
        offers: Offers,
        hours: BankHours,
        lacking: Lacking | None = None,
        unharvested_wh_day: float | None = None,
    ) -> None:
        self.around, self.wants, self.offers, self.hours = around, wants, offers, hours
        self._given: dict[int, Given] = {}
        if lacking is not None:
            self.lacking = lacking
        if unharvested_wh_day is not None:
            self.unharvested_wh_day = unharvested_wh_day
        self.name, self.timeline, self.years = around.trip.name, around.timeline, around.years
        self.ample_share, self.tight_share = around.job.settings.bounds
        battery = around.job.battery
        self.floors = battery.cutoff_soc, battery.reserve_soc, battery.extras_soc
        self.lowest = hours.lowest_soc
        self.least_usable = around.least_usable

    @property
    def soc(self) -> Floats:  # type: ignore[override]
        return self.hours.soc

    @property
    def unserved_w(self) -> Floats:  # type: ignore[override]
        # What is held to a charge waits for it, and goes without nothing.
        return self.hours.unserved_w[: len(PRIORITIES)]

    def refused_w(self, groups: slice | int = slice(None), steps: slice = slice(None)) -> Floats:
        """Asked of the bank in some steps and not given, by group: what is beyond its reach it was
        never asked for. [W], shape (G, H, D), or (H, D) of one group"""
        unserved_w, beyond_w = self.hours.unserved_w[groups, steps], self.wants.beyond_w
        if beyond_w is None:
            return unserved_w
        return np.asarray(np.maximum(unserved_w - beyond_w[groups, steps], 0.0))

    def given(self, group: int) -> Given:
        """What was served of a group's loads."""
        if group not in self._given:
            refused_w = self.refused_w(group)
            self._given[group] = Given.of(self.wants.wanted_w[group], refused_w)
        return self._given[group]

    @cached_property
    def loads(self) -> tuple[LoadLine, ...]:
        """In the order of the job, the inverter last."""
        return self.around.sums.lines(self.wants, self.given)

    def lines(self) -> tuple[LoadLine, ...]:
        return self.loads

    def lines_of(self, *, essential: bool) -> tuple[LoadLine, ...]:
        return self.around.sums.lines(self.wants, self.given, essential=essential)

    def lines_wanted(self) -> tuple[LoadLine, ...]:
        return self.around.sums.lines(self.wants)

    def appliances(self) -> list[ApplianceBase]:
        return [line.appliance for line in self.wants.lines if line.appliance is not None]

    def served_w(self, steps: slice = slice(None)) -> Floats:
        """Given to appliances in some steps. [W], shape (H, D)"""
        past = [x.direct_w[steps] for x in self.offers.sources if x.direct_w is not None]
        asked_w = self.wants.wanted_w[:, steps].sum(axis=0)
        return np.asarray(asked_w - self.refused_w(steps=steps).sum(axis=0) + together(past))

    def wanted_w(self, steps: slice = slice(None)) -> Floats:
        return np.asarray(self.served_w(steps) + self.unserved_w[:, steps].sum(axis=0))

    def taken_each_w(self, steps: slice = slice(None)) -> list[Floats]:
        """Taken of each source, by the battery and past it. [W], each of shape (H, D)"""
        return [
            taken_w[steps] if source.direct_w is None else taken_w[steps] + source.direct_w[steps]
            for source, taken_w in zip(self.offers.sources, self.hours.taken_w, strict=True)
        ]

    def taken_w(self, steps: slice = slice(None)) -> dict[str, Floats]:
        return by_kind([x.kind for x in self.offers.sources], self.taken_each_w(steps))

    def unharvested_w(self) -> Floats:
        """Sun the panels could have given and nothing took. [W], shape (H, D)"""
        parts = []
        for k in self.offers.suns:
            source = self.offers.sources[k]
            rest = source.offered_w - self.hours.taken_w[k]
            # What is left of an offer that was used up may be a rounding below nothing.
            parts.append(np.maximum(rest, 0.0, out=rest))
            if source.lost_w is not None:
                parts.append(source.lost_w)
        return together(parts) if parts else np.zeros_like(self.hours.losses_w)

    @cached_property
    def unharvested_wh_day(self) -> float:
        return 24.0 * float(self.unharvested_w().mean())

    @cached_property
    def tanks(self) -> tuple[StoreLine, ...]:
        """Those that sources burn from."""
        step_hours, sources = self.timeline.step_hours, self.offers.sources
        return tuple(
            fuel_store(source.name, source.fuel, ran.tank, step_hours)
            for k, ran in self.hours.runs.items()
            if (source := sources[k]).fuel is not None and ran.tank is not None
        )

    def lacks_beside(self) -> tuple[Lack, ...]:
        around = self.around
        tanks_lack = store_lacks(self.tanks, (), self.draws)
        return *around.stores_lack, *tanks_lack, *around.cold_lack
