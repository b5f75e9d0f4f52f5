"""What was wanted and not given, summed over the steps of a trip: of one design, or of many whose
draws lie side by side."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from sim.arrays import Floats, Ints
from sim.ledger.promise import missed_by_group
from sim.ledger.verdict import dark_hours_of, firsts_of


@dataclass(frozen=True)
class Lacking:
    """What L draws lacked, each by itself: nothing depends on which others lie beside it.

    Attributes
    ----------
    dark_hours : ndarray, shape (L,)
        Hours in which something was not served. [h]
    dark_hours_of_groups : ndarray, shape (3, L)
        Hours in which something of a priority was not. [h]
    first_step, first_group : ndarray of int, shape (L,)
        When it first goes dark, and of which group; see `firsts_of`.
    first_h, missed_wh : ndarray, shape (2, L)
        When essentials and comforts first lack electricity, and how much; see `missed_by_group`.
    """

    dark_hours: Floats
    dark_hours_of_groups: Floats
    first_step: Ints
    first_group: Ints
    first_h: Floats
    missed_wh: Floats

    @classmethod
    def of(cls, unserved_w: Floats, step_minutes: int) -> Lacking:
        """Of what was not served by group. [W], shape (3, H, L)"""
        lanes = np.flatnonzero(unserved_w.any(axis=(0, 1)))
        count = unserved_w.shape[2]
        if len(lanes) == count:
            return cls._of_all(unserved_w, step_minutes)
        # Most lack nothing, and these take no time.
        some = cls._of_all(unserved_w.take(lanes, axis=2), step_minutes)
        nothing = cls(
            dark_hours=np.zeros(count),
            dark_hours_of_groups=np.zeros((len(unserved_w), count)),
            first_step=np.zeros(count, dtype=np.int64),
            first_group=np.zeros(count, dtype=np.int64),
            first_h=np.full((2, count), np.inf),
            missed_wh=np.zeros((2, count)),
        )
        for name in (field.name for field in fields(cls)):
            getattr(nothing, name)[..., lanes] = getattr(some, name)
        return nothing

    @classmethod
    def _of_all(cls, unserved_w: Floats, step_minutes: int) -> Lacking:
        def hours(watts: Floats) -> Floats:
            return np.asarray(dark_hours_of(watts, step_minutes).sum(axis=0), dtype=np.float64)

        return cls(
            hours(unserved_w.sum(axis=0)),
            np.array([hours(group) for group in unserved_w]),
            *firsts_of(unserved_w),
            *missed_by_group(unserved_w, step_minutes / 60.0),
        )

    def of_lanes(self, own: slice | Ints) -> Lacking:
        """The same of some lanes."""
        return Lacking(*(getattr(self, field.name)[..., own] for field in fields(self)))
