"""The two-minute answer: panels x battery over one trip, and the smallest that is ample."""

from __future__ import annotations

from dataclasses import dataclass

from sim.decide.panels.roof import counted_group
from sim.job.model.job import Job
from sim.ledger.answer import Answer
from sim.ledger.study import run_designs
from sim.trip.designs import Design, potential_wh
from sim.trip.prepare import prepare_trip

PANELS = (0, 1, 2, 3, 4, 5, 6, 8)
BATTERIES = (1, 2, 3, 4, 6)


@dataclass(frozen=True)
class SketchOption:
    """One build.

    Attributes
    ----------
    panels, batteries : int
    panels_w, battery_wh : float
        Rated power and capacity of all together. [W], [Wh]
    weight_kg : float
        Of panels and batteries, as far as their profiles say it. [kg]
    answer : Answer
    """

    panels: int
    batteries: int
    panels_w: float
    battery_wh: float
    weight_kg: float
    answer: Answer


@dataclass(frozen=True)
class Sketch:
    """Panels x battery over the first trip of a job.

    Attributes
    ----------
    job : Job
        Its own number of panels and batteries does not count.
    wanted_wh : float
        What a day takes at the battery, mean over draws. [Wh/day]
    sun_wh_per_100_w : float
        What 100 W of panels could bring on a day, mean over draws. [Wh/day]
    options : tuple of SketchOption
        By battery, then by panels.
    smallest : SketchOption or None
        The lightest that is ample.
    best : SketchOption
        The smallest, or where none is ample the one that holds in the most draws.
    """

    job: Job
    wanted_wh: float
    sun_wh_per_100_w: float
    options: tuple[SketchOption, ...]
    smallest: SketchOption | None
    best: SketchOption


def sketch(job: Job) -> Sketch:
    """Try panels x battery on the first trip of a job.

    Parameters
    ----------
    job : Job
        With one group of panels at least.

    Raises
    ------
    JobError
        The job has no panels.
    WeatherError
        A weather file cannot be used, or a place has no climate.
    """
    trip, index = job.trips[0], counted_group(job)
    group, bank = job.panels[index], job.battery
    others = [other.count for other in job.panels]
    designs = [
        Design((*others[:index], panels, *others[index + 1 :]), batteries)
        for batteries in BATTERIES
        for panels in PANELS
    ]
    prepared = prepare_trip(job, trip)
    answers = run_designs(prepared, designs).answers(trip.name, job.settings.bounds)
    options = tuple(
        SketchOption(
            panels=design.panels[index],
            batteries=design.batteries,
            panels_w=design.panels[index] * group.watts,
            battery_wh=design.batteries * bank.capacity_wh / bank.count,
            weight_kg=design.panels[index] * (group.weight_kg or 0.0)
            + design.batteries * (bank.weight_kg or 0.0),
            answer=answer,
        )
        for design, answer in zip(designs, answers, strict=True)
    )
    one = Design(tuple(int(k == index) for k in range(len(job.panels))), 1)
    sun_wh_day = float(potential_wh(prepared, [one]).mean()) / prepared.days_long
    ample = [option for option in options if option.answer.verdict == "ample"]
    smallest = min(ample, key=_size, default=None)
    return Sketch(
        job=job,
        wanted_wh=24.0 * float(prepared.wants.wanted_w.sum(axis=0).mean()),
        sun_wh_per_100_w=100.0 * sun_wh_day / group.watts,
        options=options,
        smallest=smallest,
        best=smallest or max(options, key=_holds),
    )


def _size(option: SketchOption) -> tuple[float, int]:
    return option.weight_kg, option.batteries


def _holds(option: SketchOption) -> tuple[int, float, float]:
    """Most draws, then the highest low, then the lightest."""
    return option.answer.held, option.answer.lowest_soc.p10, -option.weight_kg
