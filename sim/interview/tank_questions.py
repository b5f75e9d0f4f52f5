"""What a builder is asked about tanks, and how the answers stand in the job file.

Defaults are sizes that vans are fitted with (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from sim.interview.draft import Answers, Question
from sim.interview.replies import Within, choice, number
from sim.job import shelf
from sim.job.model.tanks import GreyTank, Propane, Water
from sim.units import LITRES_PER_GALLON

ENGINE_FUELS = (("diesel", "diesel"), ("petrol", "petrol"))
# What holds less is no tank.
_LEAST_L = 1.0
# What a stop may offer: the answer, how it is told, what it writes.
_SERVICES = (
    ("none", "neither", ()),
    ("water", "water, and a drain to empty the tanks", ("water", "dump")),
    ("propane", "propane alone", ("propane",)),
    ("all", "water, a drain and propane", ("water", "dump", "propane")),
)


def tanks(answers: Answers) -> Iterator[Question]:
    """Tanks that what is aboard needs, and water if it is wanted."""
    us = answers["units"] == "us"
    unit, per_unit = ("gallons", LITRES_PER_GALLON) if us else ("litres", 1.0)
    needs_water = any(kind in ("pump", "hot water") for kind in _values(answers, "kind"))
    fuels = [*_values(answers, "fuel"), *_values(answers, "source")]
    yield number(
        "fresh", f"How much does the fresh water tank hold, in {unit}?",
        "The pump and the hot water draw from it." if needs_water else "0 for no tank.",
        "25" if us else "100", Within(Water, "fresh_l", per_unit=per_unit, or_zero=not needs_water,
        at_least=_LEAST_L),
    )  # fmt: skip
    if answers["fresh"]:
        for key, what, default in (
            ("grey kitchen", "kitchen and basin", "10" if us else "40"),
            ("grey shower", "the shower", "10" if us else "40"),
        ):
            yield number(
                key, f"How much does the grey tank of {what} hold, in {unit}?",
                "0 where the water runs into a bucket or onto the ground.", default,
                Within(GreyTank, "capacity_l", per_unit=per_unit, or_zero=True, at_least=_LEAST_L),
            )  # fmt: skip
    if "propane" in fuels:
        yield number(
            "propane", f"How large is the propane tank, in {unit}?",
            "Its volume; it is filled to 80 % of it.", "7" if us else "25",
            Within(Propane, "tank_l", per_unit=per_unit, at_least=_LEAST_L),
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
    has = _tanks_aboard(answers)
    options = tuple((word, told) for word, told, offers in _SERVICES if has.issuperset(offers))
    if has:
        yield choice(
            f"{key} services", "Can the tanks be filled and emptied there?",
            "They are then, as often as it takes.", options, "none",
        )  # fmt: skip


def _tanks_aboard(answers: Answers) -> set[str]:
    """The services that the van has tanks for."""
    has = {"water", "dump"} if answers["fresh"] else set()
    return has | {"propane"} if "propane" in answers else has


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
    """What a stop offers; as a comment, to be filled in, where it offers nothing."""
    reply = answers.get(f"{key} services")
    if reply is None:
        return []
    (offers,) = (offers for word, _, offers in _SERVICES if word == reply)
    if offers:
        return [f"services = {_listed(offers)}"]
    could = [name for name in ("water", "dump", "propane") if name in _tanks_aboard(answers)]
    return [f"# services = {_listed(could)}  # if there is a tap, a drain, or propane for sale"]


def _listed(words: Sequence[str]) -> str:
    return "[" + ", ".join(f'"{word}"' for word in words) + "]"
