"""What came of a trip with one design, as far as its answer and the words on it ask."""

from __future__ import annotations

import datetime as dt
from functools import cached_property

import numpy as np

from sim.arrays import Floats, Ints
from sim.job.model.appliance_base import ApplianceBase
from sim.ledger.lacking import Lacking
from sim.ledger.lines import LoadLine
from sim.ledger.promise import (
    Lack,
    Promise,
    electric_lacks,
    medical_lacks,
    missing_most,
)
from sim.trip.timeline import Timeline


class TripOutcome:
    """`results.TripResult` keeps every step of it, `tried.TriedTrip` works out what is asked of it
    alone; attributes as of the result."""

    name: str
    timeline: Timeline
    soc: Floats
    lowest: Floats
    unserved_w: Floats
    ample_share: float
    tight_share: float
    floors: tuple[float, float, float]
    least_usable: Floats
    years: tuple[int, ...]

    @property
    def draws(self) -> int:
        """Number of draws, D."""
        return len(self.lowest)

    @property
    def day_index(self) -> Ints:
        """Number of the local calendar day of each step, from 0. shape (H,)"""
        return self.timeline.local_day

    def local_times(self) -> list[dt.datetime]:
        """Start of every step by the clock people live by, with its offset; one more for the
        end of the last step."""
        return list(self.timeline.local_times)

    @cached_property
    def lacking(self) -> Lacking:
        """What was wanted and not given, in each draw."""
        return Lacking.of(self.unserved_w, self.timeline.step_minutes)

    @cached_property
    def unharvested_wh_day(self) -> float:
        """Sun that nothing took, mean over draws. [Wh/day]"""
        raise NotImplementedError

    def lines(self) -> tuple[LoadLine, ...]:
        """What each appliance wanted and got, in the order of the job, the inverter last."""
        raise NotImplementedError

    def lines_wanted(self) -> tuple[LoadLine, ...]:
        """The same of which only what was wanted counts: what was got may be left out."""
        return self.lines()

    def lines_of(self, *, essential: bool) -> tuple[LoadLine, ...]:
        """The same of the essentials alone, or of all others."""
        return tuple(x for x in self.lines() if (x.priority == "essential") == essential)

    def appliances(self) -> list[ApplianceBase]:
        """What of the job wants something."""
        return [line.appliance for line in self.lines() if line.appliance is not None]

    def lacks_beside(self) -> tuple[Lack, ...]:
        """What else may fall behind than electricity: tanks, warmth and hot water."""
        raise NotImplementedError

    def taken_w(self, steps: slice = slice(None)) -> dict[str, Floats]:
        """What was taken of the sources in some steps, by their kind. [W], each of shape (H, D)"""
        raise NotImplementedError

    def wanted_w(self, steps: slice = slice(None)) -> Floats:
        """What was given and what was not, in some steps. [W], shape (H, D)"""
        raise NotImplementedError

    @cached_property
    def promise(self) -> Promise:
        """What held of what was promised: essentials, comforts, stores and cold."""
        lacks = (
            *electric_lacks(self.lacking.first_h, self.lacking.missed_wh),
            *self.lacks_beside(),
        )
        # Without such a device nobody need ask what each got.
        medical = medical_lacks(self.lines()) if any(x.medical for x in self.appliances()) else ()
        return Promise(lacks, medical, self.draws, (self.ample_share, self.tight_share))

    def who_lacks(self, lack: Lack) -> tuple[str, ...]:
        """Who goes without, those that miss most first; or the tank."""
        if lack.kind != "electricity":
            return lack.names
        own = self.lines_of(essential=lack.is_essential)
        return missing_most([x for x in own if x.supply != "inverter"])

    def at_stop_w(self, stop: int) -> tuple[dict[str, Floats], Floats]:
        """Mean powers at a stop and on the way there: what was taken of the sources, by their
        kind, and what was wanted. [W], each of shape (D,)"""
        # Stops come one after the other.
        first, last = np.searchsorted(self.timeline.stop, [stop, stop + 1]).tolist()
        steps = slice(first, last)

        def mean(watts: Floats) -> Floats:
            # A stop that is passed within a step has none of its own.
            return np.asarray(np.add.reduce(watts, axis=0) / max(last - first, 1))

        taken = {kind: mean(watts) for kind, watts in self.taken_w(steps).items()}
        return taken, mean(self.wanted_w(steps))
