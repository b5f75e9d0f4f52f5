"""Results of a job: what every draw of every trip did, and the few numbers that answer.

Arrays have the step on axis 0 and the draw on axis 1. Powers are mean watts over the step,
at the battery's terminals; AC appliances fed by the plug directly count at the appliance. Of a
lean result, see `TripResult.lean`, powers and temperatures have one column: their mean.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from sim.arrays import Bools, Floats, quantiles, with_answers
from sim.job.model.job import Job
from sim.job.model.living import PRIORITIES
from sim.ledger.boxes import BoxWarmth
from sim.ledger.frames import TripFrames
from sim.ledger.lines import CAUSES, EnergyPerDay, LoadLine, SourceLine, by_kind
from sim.ledger.promise import Lack, cold_lacks, store_lacks
from sim.ledger.verdict import QUANTILES, Spread, Verdict, dark_hours_of
from sim.trip.cabin import Chill
from sim.trip.frost import Frost
from sim.trip.inverter import AcPeak
from sim.trip.tanks import FirstOut, StoreLine, first_out_of
from sim.trip.timeline import Timeline
from sim.van.bank.sources import together
from sim.van.bank.totals import UNSERVED_TOLERANCE_W
from sim.van.bank.wear import Life, expected_life

# What the ledger may leave over, relative to what went through it.
BALANCE_TOLERANCE = 1e-9
# Cycles are counted in so many draws: more would not change their mean.
_LIFE_DRAWS = 100
# One night is no sample of a year. [days]
_LIFE_DAYS = 2.0


@dataclass(frozen=True)
class TripResult(TripFrames):
    """One trip in all its draws.

    Attributes
    ----------
    name : str
    timeline : Timeline
        H steps.
    soc : ndarray, shape (H + 1, D)
        State of charge at the start of each step and after the last, 0 to 1.
    lowest : ndarray, shape (D,)
        Lowest state of charge, within steps that the battery does in parts too. 0 to 1
    cut_off_h : ndarray, shape (D,)
        Hours from the departure until the battery first cut off the essential loads; inf where
        it never did. Cold and heavy loads raise the floor of a lead-acid bank. [h]
    sources : tuple of SourceLine
        In the order of use.
    unharvested_w : ndarray, shape (H, D)
        Sun the panels could have given and nothing could take. [W]
    unharvested_by_cause_w : ndarray, shape (4, H)
        The same by cause in the order of `CAUSES`, mean over draws. [W]
    served_w : ndarray, shape (H, D)
        Given to appliances. [W]
    unserved_w : ndarray, shape (3, H, D)
        Wanted and not given: essential, comfort, extra. [W]
    losses_w : ndarray, shape (H, D)
        In the battery. [W]
    ghi, temp_air, cabin_c : ndarray, shape (H, D)
        Sun on a level surface at the stop [W/m2], air outside and inside [deg C].
    sun_up : ndarray of bool, shape (H,)
    capacity_wh : float
    chemistry : str
        Of the battery, as in the job.
    loads : tuple of LoadLine
        In the order of the job, the inverter last.
    ample_share, tight_share : float
        Bounds of the verdict.
    floors : tuple of 3 floats
        SOC at which essential, comfort and extra loads are switched off.
    least_usable : ndarray, shape (D,)
        Share of its capacity that the battery gives where it is coldest; 1 where cold takes
        nothing. 0 to 1
    about : tuple of str
        Where the weather comes from.
    stores : tuple of StoreLine
        Water and propane, those the job has.
    boxes : tuple of BoxWarmth
        How warm the cold boxes got.
    snowed_wh_day : float
        Sun that snow kept from the panels; no part of what went unharvested. [Wh/day]
    hot_short_w : ndarray, shape (H,)
        Heat that was wanted in hot water and not there; the same in all draws. [W]
    uncharged_wh_day : dict
        What devices would have charged and found no time for, by appliance. [Wh/day]
    chill : Chill
        Hours below the heaters' set point.
    damp_hours : ndarray, shape (D,)
        In which water runs down the windows while people are aboard. [h]
    frost : Frost
        What could freeze.
    engine_fuel_l_day : dict
        What heaters burn from the vehicle's own tank, by appliance. [L/day]
    years : tuple of int
        Where the draws are the years of a weather file, the year of each; else empty.
    file_days_soc : ndarray, shape (H + 1,), or None
        State of charge on a weather file's own days, where the file holds one year: its months
        are in every draw, its days are these.
    ac_peak : AcPeak or None
        What may run on the inverter at once; None where nothing does.
    """

    name: str
    timeline: Timeline
    soc: Floats
    lowest: Floats
    cut_off_h: Floats
    sources: tuple[SourceLine, ...]
    unharvested_w: Floats
    unharvested_by_cause_w: Floats
    served_w: Floats
    unserved_w: Floats
    losses_w: Floats
    ghi: Floats
    temp_air: Floats
    cabin_c: Floats
    sun_up: Bools
    capacity_wh: float
    chemistry: str
    loads: tuple[LoadLine, ...]
    ample_share: float
    tight_share: float
    floors: tuple[float, float, float]
    least_usable: Floats
    about: tuple[str, ...]
    stores: tuple[StoreLine, ...]
    boxes: tuple[BoxWarmth, ...]
    snowed_wh_day: float
    hot_short_w: Floats
    uncharged_wh_day: dict[str, float]
    chill: Chill
    damp_hours: Floats
    frost: Frost
    engine_fuel_l_day: dict[str, float]
    ac_peak: AcPeak | None
    years: tuple[int, ...] = ()
    file_days_soc: Floats | None = None

    @property
    def hours_long(self) -> float:
        """Length of the trip. [h]"""
        return len(self.timeline) * self.timeline.step_hours

    @cached_property
    def dark(self) -> Bools:
        """Whether each hour since departure was dark, in each draw. shape (hours, D)"""
        return dark_hours_of(self.missed_w, self.timeline.step_minutes)

    @cached_property
    def dark_steps_share(self) -> Floats:
        """Share of draws in which something wanted was not served, step by step. shape (H,)"""
        dark = self.missed_w > UNSERVED_TOLERANCE_W
        return np.asarray(dark.mean(axis=1))

    def dark_by_priority(self) -> dict[str, float]:
        """Mean dark hours of a draw, by the priority of what was not served. [h]"""
        means = [float(hours.mean()) for hours in self.lacking.dark_hours_of_groups]
        return dict(zip(PRIORITIES, means, strict=True))

    @cached_property
    def dark_hours(self) -> Floats:
        """Dark hours of each draw. [h], shape (D,)"""
        return self.lacking.dark_hours

    @cached_property
    def mean_outside_c(self) -> float:
        """[deg C]"""
        return float(self.temp_air.mean())

    @cached_property
    def mean_inside_c(self) -> float:
        """[deg C]"""
        return float(self.cabin_c.mean())

    @cached_property
    def missed_w(self) -> Floats:
        """Wanted and not given, of all priorities. [W], shape (H, D)"""
        return np.asarray(self.unserved_w.sum(axis=0))

    @property
    def share_without_dark(self) -> float:
        """Share of draws without a dark hour."""
        return float((self.dark_hours == 0).mean())

    def lines(self) -> tuple[LoadLine, ...]:
        return self.loads

    def lacks_beside(self) -> tuple[Lack, ...]:
        return (
            *store_lacks(self.stores, self.appliances(), self.draws),
            *cold_lacks(self.chill, self.hot_short_w, self.timeline.step_hours),
        )

    @property
    def hot_short_wh_day(self) -> float:
        """Heat that was wanted in hot water and not there. [Wh/day]"""
        return 24.0 * float(self.hot_short_w.mean())

    @property
    def verdict(self) -> Verdict:
        """ample, tight or short, by the job's bounds."""
        return self.promise.verdict

    @cached_property
    def lowest_soc(self) -> Spread:
        """Lowest state of charge of the trip, over draws."""
        return Spread(*quantiles(self.lowest, QUANTILES, axis=0).tolist())

    @property
    def ran_out_share(self) -> float:
        """Share of draws in which the battery cut off the essential loads."""
        return float(np.isfinite(self.cut_off_h).mean())

    @property
    def first_out(self) -> FirstOut:
        """What runs out, or fills up, first in most draws."""
        return first_out_of(self.cut_off_h, self.stores)

    @cached_property
    def energy(self) -> EnergyPerDay:
        """The ledger in a few figures. [Wh/day]"""
        return EnergyPerDay(
            taken={kind: _per_day(watts) for kind, watts in self.taken_w().items()},
            served=_per_day(self.served_w),
            unserved=_per_day(self.missed_w),
            losses=_per_day(self.losses_w),
            unharvested=self.unharvested_wh_day,
        )

    @cached_property
    def unharvested_wh_day(self) -> float:
        return _per_day(self.unharvested_w)

    @property
    def unharvested_by_cause(self) -> dict[str, float]:
        """Sun not harvested by its cause, mean over draws. [Wh/day]"""
        total = self.unharvested_by_cause_w.sum(axis=1) * self.timeline.step_hours
        return dict(zip(CAUSES, (total / self.days_long).tolist(), strict=True))

    @cached_property
    def battery_life(self) -> Life | None:
        """Life of the battery if the van were used as on this trip all year; None of a trip so
        short that it says nothing of a year."""
        if self.days_long < _LIFE_DAYS:
            return None
        return expected_life(self.soc[:, :_LIFE_DRAWS], self.days_long, self.chemistry)

    def balance_error(self) -> float:
        """Largest imbalance of any step and draw, relative to the energy that moved in it.

        What was taken of all sources, less ``served + losses``, must equal the change of the
        charge.
        """
        moved = together([source.taken_w for source in self.sources])
        change = np.diff(self.soc, axis=0) * (self.capacity_wh / self.timeline.step_hours)
        residual = np.abs(moved - self.served_w - self.losses_w - change)
        # Charge is a difference of two levels: its rounding is that of the level itself.
        scale = moved + self.served_w + self.capacity_wh / self.timeline.step_hours
        return float((residual / scale).max())

    def lean(self) -> TripResult:
        """The same in less memory: of powers, temperatures and what tanks moved the mean over the
        draws alone, shape (H, 1), and of them what is asked of all draws."""
        lean = replace(
            self,
            sources=tuple(source.lean() for source in self.sources),
            stores=tuple(store.lean() for store in self.stores),
            unharvested_w=_mean(self.unharvested_w),
            served_w=_mean(self.served_w),
            unserved_w=_mean(self.unserved_w),
            losses_w=_mean(self.losses_w),
            ghi=_mean(self.ghi),
            temp_air=_mean(self.temp_air),
            cabin_c=_mean(self.cabin_c),
        )
        # Of the sum, which is not the sum of means to the last digit.
        vars(lean)["missed_w"] = _mean(self.missed_w)
        return with_answers(lean, self, _OF_ALL_DRAWS)

    def taken_w(self, steps: slice = slice(None)) -> dict[str, Floats]:
        kinds = [source.kind for source in self.sources]
        return by_kind(kinds, [source.taken_w[steps] for source in self.sources])

    def wanted_w(self, steps: slice = slice(None)) -> Floats:
        return self.served_w[steps] + self.missed_w[steps]

    @cached_property
    def at_stops_w(self) -> tuple[dict[str, Floats], Floats]:
        """Mean powers at each of S stops, as of `at_stop_w`. [W], each of shape (S, D)"""
        stops = range(len(self.timeline.stays))
        taken, wanted = zip(*map(super().at_stop_w, stops), strict=True)
        kinds = {kind: np.array([each[kind] for each in taken]) for kind in taken[0]}
        return kinds, np.array(wanted)

    def at_stop_w(self, stop: int) -> tuple[dict[str, Floats], Floats]:
        taken, wanted = self.at_stops_w
        return {kind: watts[stop] for kind, watts in taken.items()}, wanted[stop]

    def spent_w(self) -> dict[str, Floats]:
        """What became of it, and what did not come of it. [W], each of shape (H, D)"""
        return {
            "served": self.served_w,
            "unserved": self.missed_w,
            "losses": self.losses_w,
            "unharvested": self.unharvested_w,
        }

    def powers(self) -> dict[str, Floats]:
        """What moved in each step, by name. [W], each of shape (H, D)"""
        return {**self.taken_w(), **self.spent_w()}


_OF_ALL_DRAWS = (
    *("dark", "dark_steps_share", "lacking", "promise"),
    *("energy", "unharvested_wh_day", "at_stops_w"),
    *("mean_outside_c", "mean_inside_c"),
)


def _mean(values: Floats) -> Floats:
    """Over the draws, in their place."""
    return np.asarray(values.mean(axis=-1, keepdims=True))


def _per_day(watts: Floats) -> float:
    """Mean over steps and draws. [Wh/day]"""
    return 24.0 * float(watts.mean())


@dataclass(frozen=True)
class Result:
    """A job simulated.

    Attributes
    ----------
    job : Job
    trips : tuple of TripResult
        In the order of the job.
    """

    job: Job
    trips: tuple[TripResult, ...]

    def trip(self, name: str) -> TripResult:
        """The trip of that name.

        Raises
        ------
        KeyError
            No such trip.
        """
        for trip in self.trips:
            if trip.name == name:
                return trip
        raise KeyError(name)
