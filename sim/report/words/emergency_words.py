"""What to do first when something goes wrong, by what the van has aboard.

Common practice, no source; the emergency services, the local code and the makers' manuals go
before it. Each sentence is here whole and once; what varies in it has a name.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from sim.decide.wiring.ticks import burns_fuel
from sim.job.model.handover import Handover
from sim.job.model.job import Job
from sim.report.words.numbers import isolated

HEADING = "In an emergency"
FIRST = (
    "People first, the van last: get everybody out, call the emergency number, and do the rest "
    "only where it is safe."
)
AFTER = (
    "What the emergency services, the local code and the makers’ manuals say goes before this "
    "sheet."
)
EXTINGUISHER = "Fire extinguisher: {place}."


@dataclass(frozen=True)
class Emergency:
    """What happens, and the steps in order.

    Attributes
    ----------
    topic : str
    steps : tuple of str
    """

    topic: str
    steps: tuple[str, ...]


# Each topic with what must be aboard for it; each step with what must be so for it.
_TOPICS: tuple[tuple[str, str, tuple[tuple[str, str], ...]], ...] = (
    (
        "always",
        "Battery: smoke, a hiss, swelling, a sharp smell, heat",
        (
            ("always", "Everybody out; do not breathe the smoke. Call the fire service."),
            ("switch", "If that is safe on the way out, the main switch off: {main_switch}."),
            ("no switch", "If that is safe on the way out, turn the main switch off."),
            ("plug", "Pull the plug at the pedestal, not at the van."),
            (
                "lithium",
                "A lithium battery can catch fire again hours later: nobody goes back in, and the "
                "van stays away from buildings until the fire service says otherwise.",
            ),
            (
                "lead",
                "Its acid burns: rinse eyes and skin with plenty of water for a quarter of an hour "
                "and see a doctor. Its gas explodes: no flame and no spark.",
            ),
        ),
    ),
    (
        "plug",
        "Shore power: a shock, a tingle from metal, a breaker that trips",
        (
            (
                "always",
                "Touch nobody who is still in contact. Cut the power at the pedestal first.",
            ),
            ("always", "Call the emergency number. Who does not breathe needs chest compressions."),
            ("breaker", "The van’s own breaker: {shore_breaker}."),
            (
                "always",
                "What tripped or tingled stays unplugged until a licensed electrician has found "
                "why.",
            ),
        ),
    ),
    (
        "propane",
        "Propane: a smell of gas, or its alarm",
        (
            ("always", "No flame, no switch, no telephone inside. Everybody out, doors open."),
            ("valve", "Shut the propane off, if that is safe: {propane_valve}."),
            ("no valve", "Shut the propane off at its tank, if that is safe."),
            ("always", "Call the fire service from well away."),
            ("always", "It stays shut until a licensed fitter has found the leak."),
        ),
    ),
    (
        "fumes",
        "Carbon monoxide: its alarm, or headache, dizziness, sickness, drowsiness",
        (
            ("always", "Everybody out into fresh air at once, animals too; leave the doors open."),
            ("always", "Call the emergency number, say carbon monoxide, even if you feel better."),
            ("always", "If it costs no time: burners and engine off."),
            ("generator", "The generator off too."),
            (
                "always",
                "Nobody sleeps in it again until the alarm is silent and a licensed fitter has "
                "found the cause.",
            ),
        ),
    ),
)


def emergencies(job: Job) -> tuple[Emergency, ...]:
    """The steps for what a job has aboard."""
    sheet = job.handover or Handover()
    holds = set(_holds(job, sheet))
    said = {
        key: isolated(value) for key, value in sheet.model_dump().items() if isinstance(value, str)
    }
    return tuple(
        Emergency(topic, tuple(text.format(**said) for when, text in steps if when in holds))
        for when, topic, steps in _TOPICS
        if when in holds
    )


def _holds(job: Job, sheet: Handover) -> Iterator[str]:
    yield "always"
    yield "lithium" if job.battery.chemistry == "lifepo4" else "lead"
    yield "no switch" if sheet.main_switch is None else "switch"
    if job.shore:
        yield "plug"
    if sheet.shore_breaker is not None:
        yield "breaker"
    if job.propane is not None:
        yield "propane"
    yield "no valve" if sheet.propane_valve is None else "valve"
    if burns_fuel(job) or job.generator is not None:
        yield "fumes"
    if job.generator is not None:
        yield "generator"
