"""A trip's result as tables: hours, days, appliances, tanks."""

from __future__ import annotations

import datetime as dt
from functools import cached_property

import numpy as np
import pandas as pd

from sim.arrays import Bools, Floats
from sim.ledger.course import Course, course_of
from sim.ledger.lines import CAUSES, LoadLine
from sim.ledger.outcome import TripOutcome
from sim.ledger.verdict import bad_draw
from sim.trip.tanks import StoreLine


class TripFrames(TripOutcome):
    """Pandas views of a trip's result; `results.TripResult` holds what they are made from."""

    unharvested_by_cause_w: Floats
    ghi: Floats
    temp_air: Floats
    cabin_c: Floats
    loads: tuple[LoadLine, ...]
    stores: tuple[StoreLine, ...]

    @cached_property
    def dark(self) -> Bools:
        """Whether each hour since departure was dark, in each draw. shape (hours, D)"""
        raise NotImplementedError

    @cached_property
    def dark_hours(self) -> Floats:
        """Dark hours of each draw. [h], shape (D,)"""
        raise NotImplementedError

    @cached_property
    def bad(self) -> int:
        """The draw of the bad case, see `bad_draw`."""
        return bad_draw(self.dark_hours, self.lowest, self.ample_share)

    def column(self, draw: int) -> int:
        """Where `soc` and `dark` hold a draw: a trip that was put away has the bad case alone.

        Raises
        ------
        LookupError
            It is no longer held.
        """
        if self.soc.shape[1] == self.draws:
            return draw
        if draw != self.bad:
            raise LookupError(f"of the trip draw {self.bad} alone was kept, not {draw}")
        return 0

    @cached_property
    def course(self) -> Course:
        """Charge and darkness over the draws."""
        per_hour = 60 // self.timeline.step_minutes
        return course_of(self.soc, self.dark, self.day_index, per_hour)

    @property
    def days_long(self) -> float:
        """Length of the trip. [days]"""
        return len(self.timeline) * self.timeline.step_hours / 24.0

    @property
    def dates(self) -> list[dt.date]:
        """Date of each local day, in the order of `day_index`."""
        times = self.local_times()
        starts = np.flatnonzero(np.diff(self.day_index, prepend=-1))
        return [times[start].date() for start in starts]

    @property
    def depart(self) -> dt.datetime:
        """Departure by the local clock."""
        return self.local_times()[0]

    def powers(self) -> dict[str, Floats]:
        """What moved in each step, by name. [W], each of shape (H, D)"""
        raise NotImplementedError

    @cached_property
    def dark_steps_share(self) -> Floats:
        """Share of draws in which something wanted was not served, step by step. shape (H,)"""
        raise NotImplementedError

    def hours(self) -> pd.DataFrame:
        """One row per step by local time: quantiles of the charge and mean powers."""
        quantiles = self.course.soc[:, 1:]
        line = self.timeline
        return pd.DataFrame(
            {
                "local_time": [time.isoformat() for time in self.local_times()[:-1]],
                "place": [line.stays[index].label for index in line.stop],
                "driving_share": line.driving,
                "plugged_share": line.plugged,
                "idling_share": line.idling,
                "people_aboard": line.people,
                "soc_end_p10": quantiles[0],
                "soc_end_p50": quantiles[1],
                "soc_end_p90": quantiles[2],
                **{f"{k}_w": v.mean(axis=1) for k, v in self.powers().items()},
                "dark_share": self.dark_steps_share,
                "ghi_w_m2": self.ghi.mean(axis=1),
                "outside_c": self.temp_air.mean(axis=1),
                "cabin_c": self.cabin_c.mean(axis=1),
            }
        )

    def days(self) -> pd.DataFrame:
        """One row per local day: energies [Wh], mean over draws, and quantiles of the charge."""
        step_hours = self.timeline.step_hours
        frame = pd.DataFrame({"date": self.dates})
        count = len(frame)
        for name, watts in self.powers().items():
            daily = np.bincount(self.day_index, watts.mean(axis=1) * step_hours, count)
            frame[f"{name}_wh"] = daily
        for name, row in zip(CAUSES, self.unharvested_by_cause_w, strict=True):
            column = f"unharvested_{name.replace(' ', '_')}_wh"
            frame[column] = np.bincount(self.day_index, row * step_hours, count)
        for name, low in zip(("p10", "p50", "p90"), self.course.day_low, strict=True):
            frame[f"lowest_soc_{name}"] = low
        return frame

    def ledger(self) -> pd.DataFrame:
        """One row per appliance: wanted, served, waited [Wh/day], mean over draws."""
        return pd.DataFrame(
            {
                "appliance": [load.name for load in self.loads],
                "supply": [load.supply for load in self.loads],
                "priority": [load.priority for load in self.loads],
                "wanted_wh_day": [load.wanted_wh.mean() / self.days_long for load in self.loads],
                "served_wh_day": [load.served_wh.mean() / self.days_long for load in self.loads],
                "waited_wh_day": [load.waited_wh.mean() / self.days_long for load in self.loads],
            }
        )

    def store_levels(self) -> pd.DataFrame:
        """One row per step: quantiles of each tank's level at its end. [L] or [kg]"""
        columns: dict[str, object] = {
            "local_time": [time.isoformat() for time in self.local_times()[:-1]]
        }
        for line in self.stores:
            rows = line.level_over_draws[:, 1:]
            for name, row in zip(("p10", "p50", "p90"), rows, strict=True):
                columns[f"{line.name} {name} [{line.unit}]"] = row
        return pd.DataFrame(columns)
