"""What a builder is asked about tanks, and the lines of the job file for the answers.

Defaults are sizes that vans are fitted with (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from sim.interview.draft import Answers, Question
from sim.interview.load_questions import all_aboard, fuel_of_heater
from sim.interview.replies import Within, choice, number
from sim.job import shelf
from sim.job.model.tanks import DRAINS, GreyTank, Propane, Water
from sim.units import LITRES_PER_GALLON

ENGINE_FUELS = (("diesel", "diesel"), ("petrol", "petrol"))
# What holds less is no tank.
_LEAST_L = 1.0
_SERVICES = ("water", "dump", "propane")


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
        yield number(
            "grey", f"How much does the grey water tank hold, in {unit}?",
            "0 where used water runs into a bucket or onto the ground.", "20" if us else "80",
            Within(GreyTank, "capacity_l", per_unit=per_unit, or_zero=True, at_least=_LEAST_L),
        )  # fmt: skip
    if "propane" in fuels:
        yield number(
            "propane", f"How large is the propane tank, in {unit}?",
            "Its volume; it is filled to 80 % of it.", "7" if us else "25",
            Within(Propane, "tank_l", per_unit=per_unit, at_least=_LEAST_L),
        )  # fmt: skip
    burns = any(fuel in ("diesel", "petrol") for fuel in fuels)
    if burns and fuel_of_heater(answers) is None:
        yield choice(
            "engine fuel", "What does the van's own tank hold?", "The air heater burns it.",
            ENGINE_FUELS, "diesel",
        )  # fmt: skip


def _values(answers: Answers, key: str) -> list[str]:
    """What the chosen appliances have under a key."""
    found = [shelf.profile("appliances", name).values.get(key) for name in all_aboard(answers)]
    return [value for value in found if isinstance(value, str)]


def engine_fuel(answers: Answers) -> str:
    """What the van's own tank holds."""
    return fuel_of_heater(answers) or answers.get("engine fuel", "diesel")


def services_aboard(answers: Answers) -> set[str]:
    """The services that the van has tanks for."""
    has = {"water", "dump"} if answers["fresh"] else set()
    return has | {"propane"} if "propane" in answers else has


def tank_lines(answers: Answers) -> Iterator[str]:
    """The sections of water and propane."""
    unit = "gal" if answers["units"] == "us" else "l"
    if answers["fresh"]:
        lines = ["[water]", f"fresh_{unit} = {answers['fresh']}"]
        if not answers["grey"]:
            lines.append(f"open_drains = {listed(DRAINS)}  # into no tank")
        lines.append("# carries_day = 1  # cans brought by hand each day, of carry_l litres")
        yield "\n".join(lines) + "\n"
        if answers["grey"]:
            yield (
                f'[[water.grey]]  # once for each tank\nname = "Grey tank"\n'
                f"capacity_{unit} = {answers['grey']}\ntakes = {listed(DRAINS)}\n"
                'place = "under the floor"  # or "inside", "outside"\n'
            )
    if "propane" in answers:
        yield f"[propane]\ntank_{unit} = {answers['propane']}  # its volume; filled to 80 %\n"


def service_line(answers: Answers, offers: Sequence[str]) -> list[str]:
    """What a stop offers to the tanks aboard; as a comment where it offers nothing."""
    has = services_aboard(answers)
    found = [name for name in _SERVICES if name in has and name in offers]
    if found:
        return [f"services = {listed(found)}"]
    could = [name for name in _SERVICES if name in has]
    if not could:
        return []
    return [f"# services = {listed(could)}  # if there is a tap, a drain, or propane for sale"]


def listed(words: Sequence[str]) -> str:
    """Words as a list in a job file."""
    return "[" + ", ".join(f'"{word}"' for word in words) + "]"
