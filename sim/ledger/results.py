"""Results of a job: what every draw of every trip did, and the few numbers that answer.

Arrays have the step on axis 0 and the draw on axis 1. Powers are mean watts over the step,
at the battery's terminals; AC appliances fed by the plug directly count at the appliance.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Literal
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from sim.job.living_model import PRIORITIES, Priority
from sim.job.model import Job
from sim.job.timeline import Timeline
from sim.ledger.boxes import BoxWarmth
from sim.ledger.frost import Frost
from sim.ledger.inside import Chill
from sim.ledger.stores import FirstOut, StoreLine, first_out_of
from sim.van.battery import UNSERVED_TOLERANCE_W
from sim.van.refused import BANK_CAUSES
from sim.van.wear import Life, expected_life

if TYPE_CHECKING:
    import pandas as pd

Floats = NDArray[np.float64]
Verdict = Literal["ample", "tight", "short"]

# What the ledger may leave over, relative to what went through it.
BALANCE_TOLERANCE = 1e-9
QUANTILES = (0.1, 0.5, 0.9)
# Cycles are counted in so many draws: more would not change their mean.
_LIFE_DRAWS = 100
# Why sun was not harvested: the bank's causes, then the solar controllers' current limit.
CAUSES = (*BANK_CAUSES, "controller limit")


@dataclass(frozen=True)
class LoadLine:
    """One appliance's line in the ledger.

    Attributes
    ----------
    name : str
    priority : str
        essential, comfort or extra.
    supply : str
        "dc", "ac" or "inverter" for the inverter's own draw and losses.
    wanted_wh_day : ndarray, shape (days, D)
        Wanted on each local day. [Wh]
    wanted_wh, served_wh : ndarray, shape (D,)
        Over the trip. [Wh]
    """

    name: str
    priority: Priority
    supply: Literal["dc", "ac", "inverter"]
    wanted_wh_day: Floats
    wanted_wh: Floats
    served_wh: Floats


@dataclass(frozen=True)
class Spread:
    """Three quantiles over the draws: 10 %, median, 90 %."""

    p10: float
    p50: float
    p90: float


@dataclass(frozen=True)
class EnergyPerDay:
    """Mean over draws and days. [Wh/day]"""

    sun: float
    drive: float
    shore: float
    served: float
    unserved: float
    losses: float
    unharvested: float


@dataclass(frozen=True)
class TripResult:
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
    sun_w, drive_w, shore_w : ndarray, shape (H, D)
        Taken from each source. [W]
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
    about : tuple of str
        Where the weather comes from.
    stores : tuple of StoreLine
        Water and propane, those the job has.
    boxes : tuple of BoxWarmth
        How warm the cold boxes got.
    snowed_wh_day : float
        Sun that snow kept from the panels; no part of what went unharvested. [Wh/day]
    hot_short_wh_day : float
        Heat that was wanted in hot water and not there. [Wh/day]
    uncharged_wh_day : dict
        What devices would have charged and found no time for, by appliance. [Wh/day]
    chill : Chill
        Hours below the heaters' set point.
    frost : Frost
        What could freeze.
    engine_fuel_l_day : dict
        What heaters burn from the vehicle's own tank, by appliance. [L/day]
    """

    name: str
    timeline: Timeline
    soc: Floats
    lowest: Floats
    cut_off_h: Floats
    sun_w: Floats
    drive_w: Floats
    shore_w: Floats
    unharvested_w: Floats
    unharvested_by_cause_w: Floats
    served_w: Floats
    unserved_w: Floats
    losses_w: Floats
    ghi: Floats
    temp_air: Floats
    cabin_c: Floats
    sun_up: NDArray[np.bool_]
    capacity_wh: float
    chemistry: str
    loads: tuple[LoadLine, ...]
    ample_share: float
    tight_share: float
    floors: tuple[float, float, float]
    about: tuple[str, ...]
    stores: tuple[StoreLine, ...]
    boxes: tuple[BoxWarmth, ...]
    snowed_wh_day: float
    hot_short_wh_day: float
    uncharged_wh_day: dict[str, float]
    chill: Chill
    frost: Frost
    engine_fuel_l_day: dict[str, float]

    @property
    def draws(self) -> int:
        """Number of draws, D."""
        return int(self.soc.shape[1])

    @property
    def hours_long(self) -> float:
        """Length of the trip. [h]"""
        return len(self.timeline) * self.timeline.step_hours

    @property
    def days_long(self) -> float:
        """Length of the trip. [days]"""
        return self.hours_long / 24.0

    @property
    def depart(self) -> dt.datetime:
        """Departure by the local clock."""
        return self.local_times()[0]

    def local_times(self) -> list[dt.datetime]:
        """Start of every step by the clock people live by, with its offset; one more for the
        end of the last step."""
        line = self.timeline
        step = dt.timedelta(minutes=line.step_minutes)
        times = [
            dt.datetime.fromtimestamp(int(second), dt.timezone(dt.timedelta(minutes=int(offset))))
            for second, offset in zip(
                line.start_utc.astype(np.int64), line.utc_offset_minutes, strict=True
            )
        ]
        end = (times[-1] + step).astimezone(ZoneInfo(line.stays[-1].zone))
        offset = end.utcoffset() or dt.timedelta()
        return [*times, end.replace(tzinfo=dt.timezone(offset))]

    @cached_property
    def day_index(self) -> NDArray[np.int64]:
        """Number of the local calendar day of each step, from 0. shape (H,)"""
        return self.timeline.local_day

    @cached_property
    def dark(self) -> NDArray[np.bool_]:
        """Whether each hour since departure was dark, in each draw. shape (hours, D)"""
        return dark_hours_of(self.unserved_w.sum(axis=0), self.timeline.step_minutes)

    def dark_by_priority(self) -> dict[str, float]:
        """Mean dark hours of a draw, by the priority of what was not served. [h]"""
        return {
            name: float(dark_hours_of(group, self.timeline.step_minutes).sum(axis=0).mean())
            for name, group in zip(PRIORITIES, self.unserved_w, strict=True)
        }

    @property
    def dark_hours(self) -> Floats:
        """Dark hours of each draw. [h], shape (D,)"""
        return np.asarray(self.dark.sum(axis=0), dtype=np.float64)

    @property
    def share_without_dark(self) -> float:
        """Share of draws without a dark hour."""
        return float((self.dark_hours == 0).mean())

    @property
    def verdict(self) -> Verdict:
        """ample, tight or short, by the job's bounds."""
        return verdict_of(self.share_without_dark, self.ample_share, self.tight_share)

    @cached_property
    def lowest_soc(self) -> Spread:
        """Lowest state of charge of the trip, over draws."""
        return Spread(*(float(q) for q in np.quantile(self.lowest, QUANTILES)))

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
        """The ledger in seven figures. [Wh/day]"""
        return EnergyPerDay(**{k: 24.0 * float(v.mean()) for k, v in self.powers().items()})

    @property
    def unharvested_by_cause(self) -> dict[str, float]:
        """Sun not harvested by its cause, mean over draws. [Wh/day]"""
        total = self.unharvested_by_cause_w.sum(axis=1) * self.timeline.step_hours
        return dict(zip(CAUSES, (total / self.days_long).tolist(), strict=True))

    @cached_property
    def battery_life(self) -> Life:
        """Life of the battery if the van were used as on this trip all year."""
        return expected_life(self.soc[:, :_LIFE_DRAWS], self.days_long, self.chemistry)

    def balance_error(self) -> float:
        """Largest imbalance of any step and draw, relative to the energy that moved in it.

        ``sun + drive + shore - served - losses`` must equal the change of the charge.
        """
        moved = self.sun_w + self.drive_w + self.shore_w
        change = np.diff(self.soc, axis=0) * (self.capacity_wh / self.timeline.step_hours)
        residual = np.abs(moved - self.served_w - self.losses_w - change)
        # Charge is a difference of two levels: its rounding is that of the level itself.
        scale = moved + self.served_w + self.capacity_wh / self.timeline.step_hours
        return float((residual / scale).max())

    def hours(self) -> pd.DataFrame:
        """One row per step by local time; see `frames.hours`."""
        from sim.ledger import frames

        return frames.hours(self)

    def days(self) -> pd.DataFrame:
        """One row per local day; see `frames.days`."""
        from sim.ledger import frames

        return frames.days(self)

    def ledger(self) -> pd.DataFrame:
        """One row per appliance; see `frames.ledger`."""
        from sim.ledger import frames

        return frames.ledger(self)

    def store_levels(self) -> pd.DataFrame:
        """One row per step, three columns per tank; see `frames.store_levels`."""
        from sim.ledger import frames

        return frames.store_levels(self)

    def powers(self) -> dict[str, Floats]:
        """What moved in each step, by name. [W], each of shape (H, D)"""
        return {
            "sun": self.sun_w,
            "drive": self.drive_w,
            "shore": self.shore_w,
            "served": self.served_w,
            "unserved": self.unserved_w.sum(axis=0),
            "losses": self.losses_w,
            "unharvested": self.unharvested_w,
        }


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


def dark_hours_of(unserved_w: Floats, step_minutes: int) -> NDArray[np.bool_]:
    """Whether each hour since the start lacked something. [W] of shape (H, D) to (hours, D)"""
    missing = unserved_w > UNSERVED_TOLERANCE_W
    per_hour = 60 // step_minutes
    rows = -(-len(missing) // per_hour)
    padded = np.zeros((rows * per_hour, missing.shape[1]), dtype=bool)
    padded[: len(missing)] = missing
    return np.asarray(padded.reshape(rows, per_hour, -1).any(axis=1))


def verdict_of(share: float, ample_share: float, tight_share: float) -> Verdict:
    """The verdict for a share of draws without a dark hour."""
    if share >= ample_share:
        return "ample"
    return "tight" if share >= tight_share else "short"
