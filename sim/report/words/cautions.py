"""What to mind when building and living, by what the build has aboard.

Common practice, no source; the local code and the licensed trade go before them.
"""

from __future__ import annotations

from collections.abc import Callable

from sim.decide.wiring.ticks import burns_fuel
from sim.job.model.appliances import Cooking
from sim.job.model.job import Job
from sim.report.words.numbers import Manner

Caution = tuple[str, Callable[[Job], bool], str]


def cautions(job: Job, manner: Manner) -> list[tuple[str, str]]:
    """Topic and text of each caution that concerns a job."""
    freezing = manner.temperature(job.battery.charge_above_c)
    return [
        (topic, text.format(freezing=freezing)) for topic, applies, text in _ALL if applies(job)
    ]


def _always(job: Job) -> bool:
    return True


def _cooks_with_flame(job: Job) -> bool:
    return any(
        isinstance(item, Cooking) and item.fuel == "propane" and item.count > 0
        for item in job.appliances
    )


def _idles(job: Job) -> bool:
    return any(stop.idle_hours > 0.0 for trip in job.trips for stop in trip.stops)


def _lead(job: Job) -> bool:
    return job.battery.chemistry != "lifepo4"


_ALL: tuple[Caution, ...] = (
    (
        "Battery",
        _always,
        "A battery of this size can drive hundreds of amps through a dropped wrench. Fuse it "
        "within a hand's breadth of its positive terminal, cover the terminals, bolt it down. "
        "It must not be charged below {freezing}; its management system has to see to that.",
    ),
    (
        "Gas of the battery",
        _lead,
        "A lead-acid battery gives off hydrogen while it charges. Its box is vented to the "
        "outside, and nothing near it sparks.",
    ),
    (
        "Wiring",
        _always,
        "Every wire needs a fuse sized for that wire, and every wire must be thick enough for "
        "its current and its length. Protect wires where they pass through metal. This report "
        "does not size them.",
    ),
    (
        "Shore power",
        lambda job: bool(job.shore),
        "The voltage of the plug kills. Inlet, breaker, residual-current protection and "
        "the bond to the body of the van are work for a licensed electrician; test a "
        "strange pedestal before plugging in.",
    ),
    (
        "Inverter",
        lambda job: job.inverter is not None,
        "Its outlets are as dangerous as those of a house. Switch it off at the battery "
        "before working on anything behind it.",
    ),
    (
        "Burning fuel",
        burns_fuel,
        "Heaters draw in fresh air from outside and breathe out to the outside, never into "
        "the van. Have the propane system tested for leaks by a licensed fitter, and shut "
        "the cylinder while driving where the law asks for it.",
    ),
    (
        "Open flame",
        _cooks_with_flame,
        "A stove uses up the air and makes carbon monoxide. Open a vent high and one low before "
        "lighting it, keep cloth away from it, and never heat the cabin with it.",
    ),
    (
        "Engine in camp",
        _idles,
        "An engine that runs while the van is parked can fill it with exhaust. Never sleep while "
        "it runs, close the windows on the exhaust's side, and know that many places forbid it.",
    ),
    (
        "Generator",
        lambda job: job.generator is not None,
        "Its exhaust kills within minutes: carbon monoxide. Run it only in the open, well away "
        "from the van and from others, with the exhaust pointing away and windows and vents on "
        "that side shut; never in a closed bay, under an awning or while anyone sleeps near it. "
        "Let it cool before filling it, keep fuel outside the living space, keep it dry, and "
        "never feed it into a wired outlet: its connection is work for a licensed electrician. "
        "Keep the quiet hours of the place.",
    ),
    (
        "Alarms",
        _always,
        "Carbon monoxide has no smell. Keep a carbon monoxide, a smoke and, with propane "
        "aboard, a gas alarm; test them each month, replace them at the date printed on them, "
        "and never leave them without power.",
    ),
    (
        "Water",
        lambda job: job.water is not None,
        "Drain the tanks before frost, keep drinking water apart from grey water, and empty grey "
        "tanks only where it is allowed.",
    ),
    (
        "Roof",
        lambda job: any(group.count > 0 for group in job.panels),
        "Panels add weight high up and catch the wind of the road. Stay within the "
        "vehicle maker's roof load, fix them to structure and not to sheet metal alone, "
        "and look at the fixings after the first long drive.",
    ),
    (
        "Codes and trades",
        _always,
        "The code of the place where the van is built and used goes before anything written "
        "here, and so does the maker's manual. Let a licensed professional check the work.",
    ),
)
