"""All levers: the changes that are tried by themselves, and the job's own."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from sim.decide.levers import build_levers, travel_levers, use_levers, warmth_levers
from sim.decide.levers.lever import Lever, NotApplicable, WhyNot
from sim.job.model.job import Job
from sim.job.overrides import overridden

_MAKERS: tuple[tuple[str, Callable[[Job], Iterator[Lever]]], ...] = (
    ("One more panel", build_levers.one_panel),
    ("Panels wired in series", build_levers.longer_strings),
    ("One more battery", build_levers.battery),
    ("A larger DC-DC charger", build_levers.dcdc),
    ("Half an hour more driving a day", travel_levers.driving),
    ("One night in five on a plug", travel_levers.plug_nights),
    ("Battery full at departure", travel_levers.full_at_departure),
    ("The generator refuelled", travel_levers.refuelled),
    ("Propane instead of electricity", build_levers.propane),
    ("A 12 V refrigerator instead of AC", build_levers.dc_fridge),
    ("Inverter on only when needed", build_levers.inverter),
    ("Inverter off at night", use_levers.inverter_off_at_night),
    ("Strong loads held to plug, road, sun or charge", use_levers.held_to),
    ("Strong loads for less time or of less power", use_levers.shorter),
    ("A battery that takes the cold", warmth_levers.warm_battery),
    ("Insulation", build_levers.insulation),
    ("A white roof", build_levers.white_roof),
    ("Panels kept clean", travel_levers.clean),
    ("Snow swept off each morning", travel_levers.snow),
    ("Panels tilted when parked", build_levers.tilt),
    ("An extra left at home", travel_levers.extras),
)


def lever_list(job: Job) -> tuple[list[Lever], list[tuple[str, WhyNot]]]:
    """The levers of a job, its own last, and those that have no place in it with the reason.

    Parameters
    ----------
    job : Job

    Returns
    -------
    levers : list of Lever
    not_tried : list of (name, why)
    """
    levers: list[Lever] = []
    not_tried: list[tuple[str, WhyNot]] = []
    for name, make in _MAKERS:
        try:
            levers += make(job)
        except NotApplicable as found:
            not_tried.append((name, found.why))
    for entry in job.levers:

        def change(job: Job, changes: dict[str, object] = entry.set) -> Job:
            return overridden(job, changes)

        levers.append(Lever(entry.name, change, entry.price, entry.weight_kg, is_own=True))
    return levers, not_tried
