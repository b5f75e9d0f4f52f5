"""Designs to choose from, in sentences and cells: what they carry, cost and weigh."""

from __future__ import annotations

from sim.decide.designs import DesignDecision, DesignOption
from sim.decide.fitted import Cost, Part, PartKind
from sim.job.model.job import Job
from sim.job.weights import Load, Weight
from sim.ledger.answer import Answer
from sim.report.words.answer_words import counts_cell, medical_words
from sim.report.words.by_locale import Writing
from sim.report.words.numbers import counted, isolated, listed, percent, quoted, shortened
from sim.report.words.sentences import build_line

HEADING = "Which design?"
AS_PLANNED = "As planned"
CAPTION = (
    "Simulated trips in which everything holds that is promised, all designs in the same weather. "
    "The thin line holds the true share in 95 cases of 100; broken lines are the bounds of ample "
    "and tight"
)
WEIGHT_NOTE = "Weight counts panels, battery, full tanks and weighed items; nothing else aboard."
_PARTS: dict[PartKind, str] = {
    "panels": "panels",
    "controller": "solar controller",
    "battery": "battery",
    "dcdc": "DC-DC charger",
    "shore": "shore power",
    "generator": "generator",
    "converter": "12 V converter",
    "inverter": "inverter",
    "water": "water system",
    "propane": "propane system",
    "item": "items",
}


def design_name(option: DesignOption) -> str:
    """What a design is called."""
    return option.name or AS_PLANNED


def design_sentences(found: DesignDecision, *, prices: bool) -> tuple[str, ...]:
    """Which design is ample, what each is made of, and what weight and price do not say."""
    sentences = [_which(found)]
    for option in found.options:
        parts = listed(build_line(option.job))
        same = (option.job.trips, option.job.living) == (found.job.trips, found.job.living)
        otherwise = "" if same else " It asks for another way of travelling or living than planned."
        sentences.append(f"{isolated(design_name(option))}: {parts}.{otherwise}")
    sentences.append(WEIGHT_NOTE)
    return (*sentences, *unknown_sentences(found, prices=prices))


def unknown_sentences(found: DesignDecision, *, prices: bool) -> list[str]:
    """For each design what is in no sum: parts without a weight, and without a price."""
    sentences = []
    for option in found.options:
        name = isolated(design_name(option))
        if text := unknown_weight(option):
            sentences.append(f"{name}: {text}")
        if prices and option.cost.total is not None and option.cost.unpriced:
            missing = unpriced_names(option.cost)
            sentences.append(f"{name}: without a price and not in the sum: {missing}.")
    return sentences


def _which(found: DesignDecision) -> str:
    ample = [quoted(design_name(x)) for x in found.options if x.verdict == "ample"]
    if len(ample) == len(found.options):
        return "Every design is ample on every trip."
    if ample:
        verb = "is" if len(ample) == 1 else "are"
        return f"{listed(ample)} {verb} ample on every trip; no other is."
    surest = max(found.options, key=lambda x: min(answer.all_held for answer in x.trips))
    answer = min(surest.trips, key=lambda x: x.all_held)
    return (
        f"No design is ample on every trip. The surest is {quoted(design_name(surest))}: on its "
        f"worst trip everything holds in {held_in(answer)}."
    )


def held_in(answer: Answer) -> str:
    """``196 of 200 simulated trips``, or ``4 of 5 years of the weather file``."""
    what = "years of the weather file" if answer.years else "simulated trips"
    return f"{answer.all_held:,} of {answer.draws:,} {what}"


def medical(found: DesignDecision) -> str:
    """Medical devices that may go without, design by design."""
    return medical_words([(f"With {quoted(design_name(x))}", x.trips) for x in found.options])


def trip_cell(answer: Answer) -> str:
    """``tight 200/182, lowest 12 %``."""
    return f"{answer.verdict} {counts_cell(answer)}, lowest {percent(answer.bad.lowest_soc)}"


def price_cell(cost: Cost, writing: Writing) -> str:
    """``$8,205.00``; ``from $8,205.00`` where a part has no price, a dash where none has."""
    if cost.total is None:
        return "–"
    text = writing.money(cost.total, cost.currency)
    return f"from {text}" if cost.unpriced else text


def unpriced_names(cost: Cost) -> str:
    """The parts that are in no sum: ``solar controller and inverter``."""
    return listed(list(dict.fromkeys(_PARTS[part.kind] for part in cost.unpriced)))


def weight_cell(load: Load, writing: Writing) -> str:
    """``329 kg``; ``over 306 kg`` where a part's weight is not known."""
    text = writing.weights(x.kg for x in load.weights if x.kg is not None)
    return f"over {text}" if load.unknown else text


def payload_cell(load: Load, writing: Writing) -> str:
    """``533 kg``, ``under 533 kg``, or ``12 kg too much``; a dash where the van gives none."""
    if load.left_kg is None:
        return "–"
    if load.left_kg < 0.0:
        return f"{writing.weight(-load.left_kg)} too much"
    text = writing.weight(load.left_kg)
    return f"under {text}" if load.unknown else text


def unknown_weight(option: DesignOption) -> str:
    """What was never weighed, as a sentence; empty where all was."""
    names = [weight_name(option.job, weight) for weight in option.load.unknown]
    if not names:
        return ""
    return f"the weight of {listed(names)} is not known and not counted."


def weight_name(job: Job, weight: Weight) -> str:
    """``3 panels of 170 W``, ``fresh water``: what a weight is of."""
    match weight.kind:
        case "panels":
            group = job.panels[weight.index]
            return f"{counted(group.count, 'panel')} of {group.watts:g} W"
        case "battery":
            return "the battery"
        case "fresh":
            return "fresh water"
        case "grey":
            assert job.water is not None
            return isolated(shortened(job.water.grey[weight.index].name))
        case "propane":
            return "propane"
        case "fuel":
            return "the generator’s fuel"
        case _:
            return "items"


def part_words(job: Job, part: Part, writing: Writing) -> str:
    """One line of what is fitted, such as ``Panel of 170 W, flat on the roof``."""
    match part.kind:
        case "panels":
            group = job.panels[part.index]
            mount = {"flat": "flat on the roof", "tilted": "on a tilting mount"}.get(
                group.mount, "portable"
            )
            return f"Panel of {writing.amount(group.watts, 'W')}, {mount}"
        case "controller":
            group = job.panels[part.index]
            return f"Solar controller, {writing.amount(group.controller_amps, 'A', 1)}"
        case "battery":
            bank = job.battery
            kind = {"lifepo4": "LiFePO4", "agm": "AGM", "flooded": "flooded lead-acid"}
            volts = writing.amount(bank.nominal_v, "V", 1)
            return (
                f"Battery, {kind[bank.chemistry]}, {volts}, "
                f"{writing.amount(bank.capacity_ah, 'Ah', 1)}"
            )
        case "dcdc":
            amps = job.alternator[part.index].dcdc_amps
            return f"DC-DC charger from the engine, {writing.amount(amps, 'A', 1)}"
        case "shore":
            plug = job.shore[part.index]
            inlet = (
                f"{writing.amount(plug.inlet_volts, 'V')}, "
                f"{writing.amount(plug.inlet_amps, 'A', 1)}"
            )
            return f"Shore power, {inlet}, charger {writing.amount(plug.charger_amps, 'A', 1)}"
        case "generator":
            assert job.generator is not None
            return f"Generator, {writing.amount(job.generator.watts, 'W')}"
        case "converter":
            assert job.converter is not None
            return f"12 V converter, {writing.amount(job.converter.rated_watts, 'W')}"
        case "inverter":
            assert job.inverter is not None
            return f"Inverter, {writing.amount(job.inverter.watts, 'W')}"
        case "water":
            assert job.water is not None
            grey = sum(tank.capacity_l for tank in job.water.grey)
            more = f", {writing.volume(grey)} grey" if grey else ""
            return f"Water system, {writing.volume(job.water.fresh_l)} fresh{more}"
        case "propane":
            assert job.propane is not None
            return f"Propane system, {writing.volume(job.propane.tank_l)}"
        case "item":
            assert part.item is not None
            return isolated(shortened(part.item.name, 70))
