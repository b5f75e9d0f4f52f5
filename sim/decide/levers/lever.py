"""What a lever is: one change to a job, and why one may have no place in it."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Literal

from sim.job.model.appliances import Appliance
from sim.job.model.changes import with_values
from sim.job.model.job import Job, Prices

WhyNot = Literal[
    "no panels",
    "as many as may be",
    "no room",
    "largest",
    "no alternator",
    "no plug",
    "short trips",
    "no electric heat",
    "no AC refrigerator",
    "no inverter",
    "so already",
    "not always on",
    "needed on",
    "best shell",
    "no warmth",
    "white",
    "clean",
    "none on roof",
    "habit",
    "none flat",
    "no extras",
    "nothing strong",
    "nothing to wait for",
    "needed at night",
    "takes the cold",
    "warm battery",
    "no heater",
]


class NotApplicable(Exception):
    """A lever has no place in this job.

    Attributes
    ----------
    why : str
    """

    def __init__(self, why: WhyNot) -> None:
        super().__init__(why)
        self.why: WhyNot = why


@dataclass(frozen=True)
class Lever:
    """One change.

    Attributes
    ----------
    name : str
    change : callable
        From a job to the job with the change made.
    price : float or None
        None when not known.
    weight_kg : float or None
        What it adds to the van; None when not known.
    is_own : bool
        From the job file.
    tanks_only : bool
        Nothing but tanks and what fills and empties them changes: no load, no weather.
    may_be_left : bool
        It is done on the spot, and left undone on a trip where it does harm: panels that may be
        tilted may also lie flat.
    """

    name: str
    change: Callable[[Job], Job]
    price: float | None = None
    weight_kg: float | None = None
    is_own: bool = False
    tanks_only: bool = False
    may_be_left: bool = False


def prices_of(job: Job) -> Prices:
    """What the job says things cost; without it nothing is known."""
    return job.prices or Prices()


def with_appliances(job: Job, change: Callable[[Appliance], Appliance]) -> Job:
    """The job with a change made to each of its appliances."""
    return with_values(job, {"appliances": tuple(map(change, job.appliances))})


def changed_by(job: Job, levers: Iterable[Lever]) -> Job:
    """The job with the changes of some levers made, one after the other.

    Raises
    ------
    JobError
        One of them cannot be made here.
    """
    for lever in levers:
        job = lever.change(job)
    return job
