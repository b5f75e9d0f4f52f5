"""What falls behind on a trip, counted: in how many draws, and how much is missing.

The counts of a design that was only summed up and those of a trip that was kept step by step
are the same.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from sim.arrays import Bools, Floats
from sim.ledger.promise import Group, Lack, LackKind
from sim.van.bank.totals import UNSERVED_TOLERANCE_W


@dataclass(frozen=True)
class Totals:
    """What K designs did in D draws of a trip, summed over its steps.

    Attributes
    ----------
    dark_hours, essential_dark_hours : ndarray, shape (K, D)
        Dark hours, and those of the essentials. [h]
    lowest : ndarray, shape (K, D)
        Lowest charge, 0 to 1.
    unharvested_wh_per_day : ndarray, shape (K,)
        Mean over draws. [Wh/day]
    lacks : sequence of tuples of Lack, K of them
        What may fall behind: the electricity too, unless it is summed up below.
    unserved_wh : ndarray, shape (3, K, D)
        Wanted and not given: essential, comfort, extra; left out where what falls behind is
        known otherwise. [Wh]
    """

    dark_hours: Floats
    essential_dark_hours: Floats
    lowest: Floats
    unharvested_wh_per_day: Floats
    lacks: Sequence[tuple[Lack, ...]]
    unserved_wh: Floats | None = None

    @cached_property
    def lit(self) -> Bools:
        """Whether a draw has no dark hour. shape (K, D)"""
        return np.equal(self.dark_hours, 0.0)

    @cached_property
    def essentials_lit(self) -> Bools:
        """Whether no essential is off in a draw. shape (K, D)"""
        return np.equal(self.essential_dark_hours, 0.0)


@dataclass(frozen=True)
class Behind:
    """One thing that falls behind in some draws.

    Attributes
    ----------
    group : str
        "essentials", "comforts" or "stores".
    kind : str
        Of what there is too little.
    names : tuple of str
        The tank; who goes without electricity is known of a trip's result alone.
    is_essential : bool
        Whether food, warmth, health or light depend on it.
    count : int
        Draws in which it falls behind.
    missing : float
        Mean over those draws: Wh for electricity and hot water, hours for warmth, what a tank is
        counted in for tanks.
    """

    group: Group
    kind: LackKind
    names: tuple[str, ...]
    is_essential: bool
    count: int
    missing: float


def behind_of(totals: Totals, k: int) -> tuple[Behind, ...]:
    """All that falls behind in any draw of a design: electricity first, where it was summed."""
    found = [counted_lack(lack) for lack in totals.lacks[k] if lack.count]
    if totals.unserved_wh is not None:
        missed_wh = totals.unserved_wh[1:, k].sum(axis=0)
        # No hour is dark, or the comforts miss nothing in those that are.
        comforts_lit = totals.lit[k] | (missed_wh <= UNSERVED_TOLERANCE_W)
        found = [
            _electric("essentials", totals.essentials_lit[k], totals.unserved_wh[0, k]),
            _electric("comforts", comforts_lit, missed_wh),
            *found,
        ]
    return tuple(one for one in found if one.count)


def counted_lack(lack: Lack) -> Behind:
    """One thing that falls behind, counted."""
    return Behind(lack.group, lack.kind, lack.names, lack.is_essential, lack.count, lack.missing)


def _electric(group: Group, lit: Bools, missed_wh: Floats) -> Behind:
    count = int((~lit).sum())
    missing = float(missed_wh[~lit].mean()) if count else 0.0
    return Behind(group, "electricity", (), group == "essentials", count, missing)


def draws_behind(found: Sequence[Behind], group: Group) -> int:
    """Draws in which what runs on electricity of a group falls behind."""
    return sum(x.count for x in found if x.group == group and x.kind == "electricity")
