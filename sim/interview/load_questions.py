"""What a builder is asked about what is aboard: appliances, heat, and the inverter for them."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache, partial
from math import ceil

from sim.interview.aboard import aboard, groups, in_order, written
from sim.interview.draft import Answers, Question, Refused
from sim.interview.replies import Within, choice, number
from sim.interview.trip_questions import coldest_night
from sim.job import shelf
from sim.job.model.appliance_base import ApplianceBase
from sim.job.model.appliances import Cooking, Heater, appliance_of
from sim.job.model.changes import with_values
from sim.job.model.fields import bounds
from sim.job.model.living import Living
from sim.job.model.power import Battery, Inverter
from sim.job.peaks import LOWEST_OVER_NOMINAL, at_once, peak_watts, total_watts
from sim.job.rules.tanks import meals_watts

# Sizes that inverters are sold in (common practice, no source).
INVERTER_WATTS = (300, 600, 1000, 1500, 2000, 3000, 5000)
_FIRST = (
    "fridge-dc", "lights-led", "phones", "water-pump", "roof-fan", "gas-and-co-alarm",
    "battery-monitor",
)  # fmt: skip
_EACH = "phones"
# What heats a van: the reply, what is shown for it, the profile, the van's own fuel if it burns it.
_HEATERS = (
    ("diesel", "air heater on the van's diesel", "air-heater-fuel", "diesel"),
    ("petrol", "air heater on the van's petrol", "air-heater-fuel", "petrol"),
    ("propane", "propane furnace with a blower", "furnace-propane", None),
    ("none", "nothing", None, None),
)
_PER_KELVIN_F, _ZERO_F = 1.8, 32.0


def loads(answers: Answers) -> Iterator[Question]:
    """Appliances, and a heater where a trip is frosty and none of them heats."""
    people = answers["people"]
    first = {name: people if name == _EACH else 1 for name in _FIRST}
    yield Question(
        "appliances",
        "What is aboard?",
        "Names, numbers or beginnings of names, with commas; x2 for two. More fits in the file.",
        written(first),
        partial(_appliances, living=living_of(answers)),
        in_order(),
        tuple((heading, len(names)) for heading, names in groups()),
    )
    cold = coldest_night(answers)
    heats = any(isinstance(item, Heater) for item in _models(answers["appliances"]))
    if cold is not None and cold[0] < 0.0 and not heats:
        night_c, trip = cold
        night_f = night_c * _PER_KELVIN_F + _ZERO_F
        degrees = f"{night_f:.0f} °F" if answers["units"] == "us" else f"{night_c:.0f} °C"
        yield choice(
            "heater", "What heats the van?", f"Nights near {degrees} are usual in {trip}.",
            tuple((word, what) for word, what, _, _ in _HEATERS), "diesel",
        )  # fmt: skip


def _appliances(reply: str, living: Living) -> dict[str, int]:
    found = aboard(reply, living.people)
    for name, count in found.items():
        _cooks_for_all(name, count, living)
    return found


def _cooks_for_all(name: str, count: int, living: Living) -> None:
    """Refuse what cooks with electricity and is too weak for the meals of all."""
    item = appliance_of(shelf.profile("appliances", name).values)
    if isinstance(item, Cooking) and item.fuel == "electricity":
        needed = ceil(meals_watts(item, living) / item.watts)
        if needed > count:
            raise Refused(
                f"{name} is too weak to cook for {living.people}; write {name} x{needed}, or leave "
                "it out"
            )


def living_of(answers: Answers) -> Living:
    """The way of living, with the people who travel."""
    values = {**shelf.profile("days", answers["living"]).values, "people": answers["people"]}
    tuples = {key: tuple(v) if isinstance(v, list) else v for key, v in values.items()}
    return Living.model_validate(tuples)


def all_aboard(answers: Answers) -> dict[str, int]:
    """Every appliance with its count, the heater that was asked for included."""
    items = dict(answers["appliances"])
    heater = next((x[2] for x in _HEATERS if x[0] == answers.get("heater")), None)
    if heater is not None:
        items[heater] = items.get(heater, 0) + 1
    return items


def fuel_of_heater(answers: Answers) -> str | None:
    """The van's own fuel, as the reply on the heater says it."""
    return next((x[3] for x in _HEATERS if x[0] == answers.get("heater")), None)


@lru_cache(maxsize=256)
def _model(name: str, count: int) -> ApplianceBase:
    return with_values(appliance_of(shelf.profile("appliances", name).values), {"count": count})


def _models(items: dict[str, int]) -> list[ApplianceBase]:
    return [_model(name, count) for name, count in items.items()]


def only_plugged(answers: Answers) -> list[ApplianceBase]:
    """What runs on a plug alone."""
    return [item for item in _models(all_aboard(answers)) if item.runs == "plugged"]


def on_inverter(answers: Answers) -> list[ApplianceBase]:
    """What the inverter feeds."""
    return [item for item in _models(all_aboard(answers)) if item.on_inverter]


def inverter_room_w(answers: Answers, battery: str, count: int) -> float:
    """The largest inverter that a bank feeds beside the DC loads. [W]

    The same sum as that of the wiring check, which an inverter of this size passes.
    """
    bank = shelf.profile("batteries", battery).values
    bank_w = bank["max_discharge_c"] * count * bank["capacity_ah"]
    bank_w *= LOWEST_OVER_NOMINAL * bank["nominal_v"]
    dc_w = total_watts(x for x in _models(all_aboard(answers)) if x.supply == "dc")
    efficiency = Inverter(watts=INVERTER_WATTS[-1], idle_watts=0.0).least_efficiency
    return float((bank_w - dc_w) * efficiency)


def batteries_for(answers: Answers, battery: str) -> int:
    """How many batteries feed an inverter that is large enough for all AC loads at once."""
    wanted = _inverter_size(total_watts(on_inverter(answers)))
    counts = range(1, int(bounds(Battery, "count")[1]) + 1)
    fit = (n for n in counts if inverter_room_w(answers, battery, n) >= wanted)
    return next(fit, counts[-1]) if wanted else 1


def inverter(answers: Answers) -> Iterator[Question]:
    """The inverter, where something needs one."""
    items = on_inverter(answers)
    if not items:
        return
    together, by_clock = at_once(items, living_of(answers))
    largest = max(peak_watts(item) for item in items)
    battery, count = answers["battery"].name, answers["battery"].count
    room = inverter_room_w(answers, battery, count)
    reason = (
        f"The AC appliances draw {together:.0f} W if all run at once, the largest {largest:.0f} W."
    )
    sizes = (_inverter_size(watts) for watts in (together, max(by_clock, largest)))
    default = next((size for size in sizes if size <= room), None)
    if default is None:
        default = _inverter_size(largest)
        reason += f" The battery feeds {max(room, 0.0):.0f} W: go back and take more of them."
    yield number(
        "inverter", "How many watts does the inverter give?", reason, f"{default}",
        Within(Inverter, "watts", at_least=largest),
    )  # fmt: skip


def _inverter_size(watts: float) -> int:
    """The smallest inverter that gives so much, beyond the largest in full kilowatts. [W]"""
    if watts <= 0.0:
        return 0
    return next((size for size in INVERTER_WATTS if size >= watts), ceil(watts / 1000.0) * 1000)
