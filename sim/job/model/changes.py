"""A section of a job with some of its keys changed, each within the rule of its key."""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from functools import cache
from typing import Annotated, Any, TypeVar

from pydantic import ValidationError, create_model

from sim.errors import Fault, JobError
from sim.job.model.fields import JobSection

Section = TypeVar("Section", bound=JobSection)


def with_values(part: Section, values: Mapping[str, Any]) -> Section:
    """A section of a job, or the job, with some of its own keys changed, each within the rule
    of its key; what holds between sections is left to `overrides.overridden`.

    Parameters
    ----------
    part : JobSection
    values : mapping
        From the model's keys to values as in a job file.

    Raises
    ------
    JobError
        No such key, or a value its rule does not allow.
    """
    cls = type(part)
    update = {}
    for name, value in values.items():
        if name not in cls.model_fields:
            raise JobError(Fault("no such key" + near(name, cls), key=name))
        try:
            update[name] = getattr(_alone(cls, name)(**{name: value}), name)
        except ValidationError as error:
            raise JobError(Fault(said(error), key=name, value=value)) from error
    # The only place that copies a section without its model's checks: they were made above.
    return part.model_copy(update=update)


@cache
def _alone(cls: type[JobSection], name: str) -> type[JobSection]:
    """A section with one key of another, checked as it is there."""
    field = cls.model_fields[name]
    kind: Any = field.annotation
    if field.metadata:
        kind = Annotated[kind, *field.metadata]
    definition: dict[str, Any] = {name: (kind, ...)}
    return create_model("Alone", __base__=JobSection, **definition)


def said(error: ValidationError) -> str:
    """What is wrong, as the end of a sentence."""
    text = error.errors(include_url=False)[0]["msg"]
    text = text.replace("Field required", "this key is missing").replace("Input should", "must")
    return text[:1].lower() + text[1:]


def near(name: str, cls: type[JobSection]) -> str:
    """A key of a section that reads like an unknown one, as the end of a sentence."""
    found = difflib.get_close_matches(name[:80], cls.model_fields, n=1, cutoff=0.6)
    return f"; did you mean {found[0]}?" if found else ""
