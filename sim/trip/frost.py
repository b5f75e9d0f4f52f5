"""Where water aboard could freeze on a trip, for how long, and which pads keep it from that."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import ceil

import numpy as np

from sim.arrays import Bools, Floats
from sim.job.model.job import Job
from sim.job.model.tanks import TankPlace
from sim.trip.cabin import is_held_when_away
from sim.trip.timeline import Timeline
from sim.van import tanks
from sim.van.cabin import lagged

# How slowly the water of a place follows the air about it: pipes inside at once, a tank under
# the floor over some hours, one that hangs in the wind sooner (common practice, no source).
LAG_HOURS: dict[TankPlace, float] = {"inside": 1.0, "under the floor": 6.0, "outside": 3.0}
# A leg is worth winterising for when the inside freezes in this share of draws.
WINTERISE_SHARE = 0.1


@dataclass(frozen=True)
class FrostSpot:
    """Water in one place.

    Attributes
    ----------
    name : str
        The tank, or the pipes inside.
    place : str
        "inside", "under the floor" or "outside".
    hours : ndarray, shape (D,)
        In which it could freeze. [h]
    coldest_c : ndarray, shape (D,)
        [deg C]
    warmer_watts : float
        Of its pad, 0 without one. [W]
    needed_watts : ndarray, shape (D,)
        What a pad must give to keep it from freezing at the coldest; 0 for pipes. [W]
    """

    name: str
    place: TankPlace
    hours: Floats
    coldest_c: Floats
    warmer_watts: float
    needed_watts: Floats

    @property
    def share(self) -> float:
        """Share of draws in which it could freeze."""
        return float((self.hours > 0.0).mean())

    @property
    def pad_watts(self) -> int:
        """A pad that keeps it in nine draws of ten, in tens; 0 for pipes. [W]"""
        return ceil(float(np.quantile(self.needed_watts, 0.9)) / 10.0) * 10

    @property
    def habit(self) -> str | None:
        """What prevents it; None where nothing freezes."""
        if not self.hours.any():
            return None
        if self.pad_watts > 0:
            return f"drain it or fit a pad of {self.pad_watts} W"
        return "keep the heater on, or drain and blow out"


@dataclass(frozen=True)
class AwayHeat:
    """What the heat kept while nobody is aboard does to the pipes.

    Attributes
    ----------
    is_held : bool
        Whether a heater holds a temperature then.
    otherwise_hours : ndarray, shape (D,) or less
        In which the pipes could freeze if it were off, or held where it is off; of the first
        draws, in which changes are tried. [h]
    """

    is_held: bool
    otherwise_hours: Floats


UNTRIED = AwayHeat(False, np.zeros(0))


@dataclass(frozen=True)
class Frost:
    """What could freeze on a trip.

    Attributes
    ----------
    spots : tuple of FrostSpot
        Pipes inside, then the tanks; empty without water.
    frozen : ndarray of bool, shape (S, D)
        Whether the inside freezes on the leg to a stop or on its stay, stop by stop.
    away : AwayHeat or None
        None where the heat while nobody is aboard makes no difference to anything.
    """

    spots: tuple[FrostSpot, ...]
    frozen: Bools
    away: AwayHeat | None = None

    @property
    def winterise(self) -> tuple[int, ...]:
        """Stops, from 0, on whose leg or stay the inside freezes in more than one draw in ten:
        the van is unheated there."""
        stops, draws = self.frozen.shape
        counts = self.frozen.sum(axis=1).tolist()
        return tuple(stop for stop in range(stops) if counts[stop] / draws > WINTERISE_SHARE)


NO_FROST = Frost((), np.zeros((0, 0), dtype=bool))


@dataclass(frozen=True)
class _Tank:
    name: str
    place: TankPlace
    capacity_l: float
    warmer_watts: float


def _tanks(job: Job) -> Iterator[_Tank]:
    water = job.water
    if water is None:
        return
    yield _Tank("Fresh water", water.place, water.fresh_l, water.warmer_watts)
    for tank in water.grey:
        yield _Tank(tank.name, tank.place, tank.capacity_l, tank.warmer_watts)


def tank_warmers(
    job: Job, timeline: Timeline, temp_air: Floats, cabin_c: Floats
) -> Iterator[tuple[str, Floats]]:
    """The pads of a job's tanks, with what each wants. [W], shape (H, D)

    Parameters
    ----------
    job : Job
    timeline : Timeline
    temp_air, cabin_c : ndarray, shape (H, D)
        Outside and inside. [deg C]
    """
    for tank in _tanks(job):
        if tank.warmer_watts > 0.0:
            around = _around(tank.place, timeline, temp_air, cabin_c)
            yield (
                f"Tank warmer, {tank.name}",
                tanks.warmer_watts(
                    around, capacity_l=tank.capacity_l, most_watts=tank.warmer_watts
                ),
            )


def frost_of(
    job: Job,
    timeline: Timeline,
    temp_air: Floats,
    cabin_c: Floats,
    otherwise_c: Floats | None = None,
) -> Frost:
    """Where water could freeze, in every draw.

    Parameters
    ----------
    job, timeline, temp_air, cabin_c
        As of `tank_warmers`.
    otherwise_c : ndarray, shape (H, D), optional
        Inside, with the heaters off while nobody is aboard, or held if they are off. [deg C]

    Notes
    -----
    Standing water freezes below 0 deg C; that much heat must leave a tank before it is ice
    through and through is left out: its valve and its pipes freeze first.
    """
    if job.water is None:
        return NO_FROST
    inside = _around("inside", timeline, temp_air, cabin_c)
    nothing = np.zeros(temp_air.shape[1])
    spots = [
        FrostSpot(
            name="Pipes and pump",
            place="inside",
            hours=_hours(inside, timeline),
            coldest_c=inside.min(axis=0),
            warmer_watts=0.0,
            needed_watts=nothing,
        )
    ]
    for tank in _tanks(job):
        around = _around(tank.place, timeline, temp_air, cabin_c)
        warmed = tanks.warmed_c(around, capacity_l=tank.capacity_l, most_watts=tank.warmer_watts)
        lacking_k = np.maximum(tanks.FREEZES_C - around.min(axis=0), 0.0)
        spots.append(
            FrostSpot(
                name=tank.name,
                place=tank.place,
                hours=_hours(warmed, timeline),
                coldest_c=warmed.min(axis=0),
                warmer_watts=tank.warmer_watts,
                needed_watts=lacking_k * tanks.tank_ua_w_k(tank.capacity_l),
            )
        )
    below = inside < tanks.FREEZES_C
    stops = range(len(timeline.stays))
    frozen = np.array([below[timeline.stop == stop].any(axis=0) for stop in stops])
    away = None
    if otherwise_c is not None:
        pipes_c = _around("inside", timeline, temp_air, otherwise_c)
        away = AwayHeat(is_held_when_away(job), _hours(pipes_c, timeline))
    return Frost(tuple(spots), frozen, away)


def _hours(temp_c: Floats, timeline: Timeline) -> Floats:
    return np.asarray((temp_c < tanks.FREEZES_C).sum(axis=0) * timeline.step_hours)


def _around(place: TankPlace, timeline: Timeline, temp_air: Floats, cabin_c: Floats) -> Floats:
    """Temperature that standing water takes in a place, without a pad. [deg C]"""
    air = cabin_c if place == "inside" else temp_air
    return lagged(air, timeline.step_hours, LAG_HOURS[place])
