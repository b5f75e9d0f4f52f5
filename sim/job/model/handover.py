"""What the sheet in the van says of this very van: part of the job."""

from __future__ import annotations

from typing import Annotated

from pydantic import BeforeValidator, Field

from sim.job.model.fields import Date, JobSection, parse_name

# One or two lines of a sheet.
Note = Annotated[str, BeforeValidator(parse_name), Field(max_length=120)]


class Service(JobSection):
    """Something to be looked at or replaced by a date, or again and again."""

    # What is to be done, such as "Carbon monoxide alarm: replace".
    what: Note
    # By when.
    due: Date | None = None
    # How often.
    every_months: Annotated[int, Field(ge=1, le=240)] | None = None


class Handover(JobSection):
    """Where things are in this van, and when they are due: for the sheet that stays in it."""

    # Where the main switch of the battery is.
    main_switch: Note | None = None
    # Where the fuses are.
    fuses: Note | None = None
    # Where the breaker of the shore power is.
    shore_breaker: Note | None = None
    # Where the propane is shut off.
    propane_valve: Note | None = None
    # Where the water is shut off.
    water_valve: Note | None = None
    # Where the water is drained: valves and plugs.
    drains: Note | None = None
    # Where compressed air goes in to blow the pipes out; left out: none is fitted.
    blow_out: Note | None = None
    # Where the fire extinguisher is.
    extinguisher: Note | None = None
    # Whom to call: name and telephone.
    contact: Note | None = None
    # More steps of the winter list, in order.
    winter: Annotated[tuple[Note, ...], Field(max_length=6)] = ()
    services: Annotated[tuple[Service, ...], Field(max_length=10)] = ()
