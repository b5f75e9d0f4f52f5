"""The designs of a job as plain data, with stable keys."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from sim.decide.designs import DesignDecision, DesignOption
from sim.decide.fitted import Cost
from sim.job.weights import Load
from sim.ledger.answer import Answer
from sim.report.data.decision_json import promised_json
from sim.report.words.by_locale import Writing
from sim.report.words.design_words import design_name, part_words, weight_name


def designs_json(found: DesignDecision) -> list[dict[str, Any]]:
    """Each design: verdict, trips, cost, weight."""
    writing = Writing.of(found.job)
    return [design_json(option, writing) for option in found.options]


def design_json(option: DesignOption, writing: Writing) -> dict[str, Any]:
    """One design as plain data."""
    return {
        "name": design_name(option),
        "verdict": option.verdict,
        "lowest_soc_p10": option.lowest_soc,
        "trips": [_answer(answer) for answer in option.trips],
        "price": _cost(option, option.cost, writing),
        "weight": _load(option, option.load),
    }


def _answer(answer: Answer) -> dict[str, Any]:
    return {
        "name": answer.trip,
        "verdict": answer.verdict,
        **promised_json(answer),
        "everything_held": answer.all_held,
        "essentials_held": answer.essentials_held,
        "ample_share": answer.ample_share,
        "lowest_soc_p10": answer.lowest_soc.p10,
        "dark_hours_mean": answer.dark_hours.mean,
        "unharvested_wh_per_day": answer.unharvested_wh_per_day,
    }


def _cost(option: DesignOption, cost: Cost, writing: Writing) -> dict[str, Any]:
    return {
        "currency": cost.currency or None,
        "parts": [
            {
                "kind": part.kind,
                "text": part_words(option.job, part, writing),
                "count": part.count,
                "each": _number(part.each),
                "amount": _number(part.amount),
            }
            for part in cost.parts
        ],
        "whole": _number(cost.whole),
        "subtotal": _number(cost.subtotal),
        "tax_pct": cost.tax_pct,
        "tax": _number(cost.tax),
        "total": _number(cost.total),
        "complete": cost.total is not None and not cost.unpriced,
    }


def _load(option: DesignOption, load: Load) -> dict[str, Any]:
    return {
        "parts": [
            {"kind": weight.kind, "name": weight_name(option.job, weight), "kg": weight.kg}
            for weight in load.weights
        ],
        "known_kg": load.known_kg,
        "unknown": [weight_name(option.job, weight) for weight in load.unknown],
        "payload_kg": load.payload_kg,
        "payload_left_kg": load.left_kg,
    }


def _number(value: Decimal | None) -> float | None:
    return None if value is None else float(value)
