"""Levers against the cold: a battery that can be charged in it, a heater that keeps up."""

from __future__ import annotations

from collections.abc import Iterator

from sim.decide.levers.lever import Lever, NotApplicable, with_appliances
from sim.job.model.appliances import Heater
from sim.job.model.changes import with_values
from sim.job.model.fields import bounds
from sim.job.model.job import Job

# A heating pad for one battery, about what batteries with one built in draw (common practice, no
# source). [W]
PAD_W = 60.0
# Cells that take a charge in such cold need no help. [deg C]
HARDY_C = -10.0


def warm_battery(job: Job) -> Iterator[Lever]:
    """A battery in the warm, or one with a heating pad, where the cold may keep it from being
    charged."""
    battery, outside = job.battery, job.van.battery_place == "outside"
    heated = any(isinstance(x, Heater) and x.count for x in job.appliances)
    if battery.charge_above_c <= HARDY_C or battery.heating_watts > 0.0:
        raise NotApplicable("takes the cold")
    if heated and not outside:
        raise NotApplicable("warm battery")
    if outside:
        van = with_values(job.van, {"battery_place": "cabin"})
        yield Lever("Battery moved into the cabin", lambda job: with_values(job, {"van": van}))

    def padded(job: Job) -> Job:
        bank = with_values(job.battery, {"heating_watts": PAD_W})
        return with_values(job, {"battery": bank})

    yield Lever(f"A heating pad of {PAD_W:g} W on each battery", padded)


def stronger_heater(job: Job) -> Iterator[Lever]:
    """Heaters of twice the output, with the blower that takes."""
    most_heat, most_blower = (bounds(Heater, key)[1] for key in ("heat_watts", "blower_watts"))
    names = [x.name for x in job.appliances if isinstance(x, Heater) and x.count]
    if not names:
        raise NotApplicable("no heater")

    def change(job: Job) -> Job:
        return with_appliances(
            job,
            lambda x: (
                with_values(
                    x,
                    {
                        "heat_watts": min(2.0 * x.heat_watts, most_heat),
                        "blower_watts": min(2.0 * x.blower_watts, most_blower),
                    },
                )
                if isinstance(x, Heater)
                else x
            ),
        )

    yield Lever(f"Twice the heat: {', '.join(names)}", change)
