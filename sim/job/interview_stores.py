"""What a builder is asked about tanks, and how the answers stand in the job file.

Defaults are sizes that vans are fitted with (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterator

from sim.job import shelf
from sim.job.interview import Answers, Question
from sim.job.interview_replies import choice, number
from sim.job.stores_model import GreyTank, Propane, Water
from sim.units import LITRES_PER_GALLON

ENGINE_FUELS = (("diesel", "diesel"), ("petrol", "petrol"))
SERVICES = (
    ("none", "neither"),
    ("water", "water, and a drain to empty the tanks"),
    ("all", "that, and propane"),
)
_SERVICES_OF = {
    "none": [],
    "water": ["water", "dump"],
    "all": ["water", "dump", "propane"],
}


def tanks(answers: Answers) -> Iterator[Question]:
    """Tanks that what is aboard needs, and water if it is wanted."""
    us = answers["units"] == "us"
    unit, per_unit = ("gallons", LITRES_PER_GALLON) if us else ("litres", 1.0)
    needs_water = any(kind in ("pump", "hot water") for kind in _values(answers, "kind"))
    fuels = [*_values(answers, "fuel"), *_values(answers, "source")]
    yield number(
        "fresh", f"How much does the fresh water tank hold, in {unit}?",
        "The pump and the hot water draw from it." if needs_water else "0 for no tank.",
        "25" if us else "100", Water, "fresh_l", per_unit=per_unit, or_zero=not needs_water,
    )  # fmt: skip
    if answers["fresh"]:
        for key, what, default in (
            ("grey kitchen", "kitchen and basin", "10" if us else "40"),
            ("grey shower", "the shower", "10" if us else "40"),
        ):
            yield number(
                key, f"How much does the grey tank of {what} hold, in {unit}?",
                "0 where the water runs into a bucket or onto the ground.", default,
                GreyTank, "capacity_l", per_unit=per_unit, or_zero=True,
            )  # fmt: skip
    if "propane" in fuels:
        yield number(
            "propane", f"How large is the propane tank, in {unit}?",
            "Its volume; it is filled to 80 % of it.", "7" if us else "25", Propane, "tank_l",
            per_unit=per_unit,
        )  # fmt: skip
    if any(fuel in ("diesel", "petrol") for fuel in fuels):
        yield choice(
            "engine fuel", "What does the van's own tank hold?", "The air heater burns it.",
            ENGINE_FUELS, "diesel",
        )  # fmt: skip


def _values(answers: Answers, key: str) -> list[str]:
    """What the chosen appliances have under a key."""
    found = [shelf.profile("appliances", name).values.get(key) for name in answers["appliances"]]
    return [value for value in found if isinstance(value, str)]


def services(answers: Answers, key: str) -> Iterator[Question]:
    """What a stop offers; asked when the van has tanks."""
    if answers["fresh"] or "propane" in answers:
        yield choice(
            f"{key} services", "Can the tanks be filled and emptied there?",
            "They are then, as often as it takes.", SERVICES, "none",
        )  # fmt: skip


def tank_lines(answers: Answers) -> Iterator[str]:
    """The sections of water and propane."""
    unit = "gal" if answers["units"] == "us" else "l"
    if answers["fresh"]:
        grey = [
            (name, drains, answers[key])
            for key, name, drains in (
                ("grey kitchen", "Kitchen tank", ["kitchen", "basin"]),
                ("grey shower", "Shower tank", ["shower"]),
            )
        ]
        open_drains = [drain for _, drains, size in grey if not size for drain in drains]
        lines = ["[water]", f"fresh_{unit} = {answers['fresh']}"]
        if open_drains:
            lines.append(f"open_drains = {_listed(open_drains)}  # into no tank")
        lines.append("# carries_day = 1  # cans brought by hand each day, of carry_l litres")
        yield "\n".join(lines) + "\n"
        for name, drains, size in grey:
            if size:
                yield (
                    f'[[water.grey]]\nname = "{name}"\ncapacity_{unit} = {size}\n'
                    f"takes = {_listed(drains)}\n"
                    'place = "under the floor"  # or "inside", "outside"\n'
                )
    if "propane" in answers:
        yield f"[propane]\ntank_{unit} = {answers['propane']}  # its volume; filled to 80 %\n"


def service_line(answers: Answers, key: str) -> list[str]:
    """What a stop offers, as far as the van has tanks for it."""
    offered = _SERVICES_OF[answers.get(f"{key} services", "none")]
    has = {"water": answers["fresh"], "dump": answers["fresh"], "propane": "propane" in answers}
    kept = [name for name in offered if has[name]]
    return [f"services = {_listed(kept)}"] if kept else []


def _listed(words: list[str]) -> str:
    return "[" + ", ".join(f'"{word}"' for word in words) + "]"
