"""Sentences about strings of panels beside the bank's voltage, and about the converter."""

from __future__ import annotations

from sim.job.model.job import Job
from sim.job.model.power import PanelGroup
from sim.job.rules.string_volts import StringVolts, coldest_of, string_volts
from sim.report.words.numbers import GAP, Manner, percent, watts


def unharvested_strings(job: Job, manner: Manner) -> tuple[str, ...]:
    """A sentence for each group of panels that its controller cannot harvest in full, or not
    judge, beside the bank's voltage; none where all is well."""
    lines = []
    coldest_c = coldest_of(job.wiring)
    for group in job.panels:
        if group.count == 0 or group.controller == "pwm":
            continue
        found = string_volts(group, job.battery, coldest_c)
        if found is None:
            lines.append(
                f"{_name(group)}: their voltage is not in the job, so it was not checked whether "
                "they reach that of the battery."
            )
        elif found.fit != "fits":
            lines.append(f"{_name(group)}: {_beside(found, manner)}")
    return tuple(dict.fromkeys(lines))


def converter_sentences(job: Job) -> tuple[str, ...]:
    """What the converter takes; none without one."""
    part = job.converter
    if part is None:
        return ()
    return (
        f"DC appliances run behind a converter of {watts(part.rated_watts)}: "
        f"{percent(part.efficiency)} of what it takes reaches them, and it draws "
        f"{part.idle_watts:g}{GAP}W day and night.",
    )


def _name(group: PanelGroup) -> str:
    return f"{group.count} × {watts(group.watts)}"


def _beside(found: StringVolts, manner: Manner) -> str:
    at = f"{found.string_v:.0f}{GAP}V at {manner.temperature(found.cell_c)}"
    limit = f"{found.limit_v:.0f}{GAP}V"
    if found.fit == "above":
        return f"a string has {at}, above the {limit} that a controller that steps up can take."
    if found.fit == "never":
        return (
            f"an open string reaches {at}, and the controller starts at {limit} on this battery. "
            "These panels give nothing."
        )
    return (
        f"a string has {at}, and the controller needs {limit} on this battery. While they are "
        "hot these panels give less or nothing."
    )
