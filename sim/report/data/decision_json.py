"""Decisions as plain data, with stable keys."""

from __future__ import annotations

from collections.abc import Sequence
from math import inf
from typing import Any

from sim.decide.calendar import Calendar
from sim.decide.levers.effect import LeverDecision, LeverEffect
from sim.decide.living_rules import NIGHTS, LivingRules
from sim.decide.panels.counts import PanelDecision
from sim.decide.panels.roof_space import Layout, Rect
from sim.decide.what_if import Grid
from sim.ledger.answer import Answer
from sim.ledger.behind import Behind
from sim.report.words import calendar_words, lever_words, panel_words
from sim.report.words.calendar_words import calendar_sentences
from sim.report.words.lever_words import lever_sentences, why_not
from sim.report.words.living_words import habit_words, stay_sentences
from sim.report.words.numbers import GAP, month_name
from sim.report.words.panel_words import beside, doubt, helps, next_panel, reason, roof_note


def panels_json(found: PanelDecision) -> dict[str, Any]:
    """The panel decision as plain data."""
    return {
        "title": found.title,
        "panel": found.panel,
        "job_count": found.job_count,
        "currency": found.currency or None,
        "options": [
            {
                "count": option.count,
                "fits": option.fits,
                "price": option.price,
                "weight_kg": option.weight_kg,
                "controller_amps": option.controller_amps,
                "trips": [_answer(trip) for trip in option.trips],
            }
            for option in found.options
        ],
        "recommended": found.recommended,
        "runner_up": found.choice.runner_up,
        "reason": reason(found).replace(GAP, " "),
        "beside": beside(found).replace(GAP, " ") or None,
        "next_panel": next_panel(found).replace(GAP, " ") or None,
        "doubt": doubt(found) or None,
        "helps": helps(found.helps).replace(GAP, " ") or None,
        "medical": panel_words.medical(found).replace(GAP, " ") or None,
        "roof": {
            "most": found.fit.most,
            "note": roof_note(found.fit) or None,
            "panels": _rects(found.fit.layout.panels) if found.fit.layout else [],
            "others": _rects(found.fit.others),
            "walkway": _walkway(found.fit.layout),
        },
    }


def _answer(answer: Answer) -> dict[str, Any]:
    return {
        "name": answer.trip,
        "verdict": answer.verdict,
        "electric": answer.electric,
        **promised_json(answer),
        "ample_share": answer.ample_share,
        "ample_share_interval": [answer.interval.low, answer.interval.high],
        "lowest_soc_p10": answer.lowest_soc.p10,
        "dark_hours_mean": answer.dark_hours.mean,
        "unharvested_wh_per_day": answer.unharvested_wh_per_day,
    }


def promised_json(answer: Answer) -> dict[str, Any]:
    """What held of what was promised: the keys that a trip's own result has too."""
    missing = {
        group: sum(x.count * x.missing for x in answer.behind if _is_electric(x, group))
        for group in ("essentials", "comforts")
    }
    return {
        "draws": answer.draws,
        "everything": {"share": answer.all_held / answer.draws},
        "essentials": {
            "share": answer.essentials_held / answer.draws,
            "missing_wh": missing["essentials"] / answer.draws,
        },
        "comforts": {
            "share": answer.comforts_held / answer.draws,
            "missing_wh": missing["comforts"] / answer.draws,
        },
        "stores_and_cold": {"share": answer.stores_held / answer.draws},
        "medical": {"names": list(answer.medical), "share": answer.medical_dark / answer.draws},
        "lacks": [
            {
                "group": one.group,
                "kind": one.kind,
                "names": list(one.names),
                "is_essential": one.is_essential,
                "share": one.count / answer.draws,
                "missing": one.missing,
            }
            for one in answer.behind
        ],
    }


def _is_electric(one: Behind, group: str) -> bool:
    return one.group == group and one.kind == "electricity"


def _rects(rects: Sequence[Rect]) -> list[dict[str, Any]]:
    return [
        {
            "name": rect.name,
            "x_m": round(rect.x_m, 4),
            "y_m": round(rect.y_m, 4),
            "length_m": round(rect.length_m, 4),
            "width_m": round(rect.width_m, 4),
        }
        for rect in rects
    ]


def _walkway(layout: Layout | None) -> dict[str, Any] | None:
    return _rects([layout.walkway])[0] if layout and layout.walkway else None


def levers_json(found: LeverDecision) -> dict[str, Any]:
    """The levers as plain data, by effect; `by_price` holds names."""
    return {
        "title": found.title,
        "currency": found.currency or None,
        "base": [_answer(trip) for trip in found.base],
        "levers": [_effect(effect) for effect in found.effects],
        "by_price": [effect.name for effect in found.by_price],
        "best_pair": _effect(found.best_pair) if found.best_pair else None,
        "enough": [effect.name for effect in found.enough],
        "answer": lever_sentences(found)[0].replace(GAP, " "),
        "medical": lever_words.medical(found).replace(GAP, " ") or None,
        "not_tried": [{"name": name, "why": why_not(why)} for name, why in found.not_tried],
    }


def _effect(effect: LeverEffect) -> dict[str, Any]:
    per_price = effect.gain_per_price
    return {
        "name": effect.name,
        "own": effect.is_own,
        "price": effect.price,
        "weight_kg": effect.weight_kg,
        "changes_nothing": effect.changes_nothing,
        "fault": effect.fault or None,
        "ample_share_gain": effect.share_gain,
        "lowest_soc_p10_gain": effect.lowest_gain,
        # Free levers have no finite gain per price.
        "gain_per_100": None if per_price is None or per_price == inf else per_price,
        "trips": [
            {
                **_answer(trip.answer),
                "ample_share_gain": trip.share_gain,
                "ample_share_gain_error": trip.gain_error,
                "lowest_soc_p10_gain": trip.lowest_gain,
                "dark_hours_fewer": trip.dark_gain,
                "worse": trip.is_worse,
                "not_used": trip.is_left,
            }
            for trip in effect.trips
        ],
    }


def calendar_json(found: Calendar) -> dict[str, Any]:
    """The calendar as plain data."""
    return {
        "title": found.title,
        "trip": found.trip,
        "panel": found.panel,
        "job_count": found.job_count,
        "draws": found.draws,
        "counts": list(found.counts),
        "answer": calendar_sentences(found)[0],
        "medical": calendar_words.medical(found) or None,
        "weeks": [
            {
                "depart": day.isoformat(),
                "ample_share": [answer.ample_share for answer in row],
                "essentials_share": [answer.essentials_held / answer.draws for answer in row],
                "comforts_share": [answer.comforts_held / answer.draws for answer in row],
                "stores_and_cold_share": [answer.stores_held / answer.draws for answer in row],
                "everything_share": [answer.all_held / answer.draws for answer in row],
                "medical_share": [answer.medical_dark / answer.draws for answer in row],
                "lowest_soc_p10": [answer.lowest_soc.p10 for answer in row],
                "verdict": [answer.verdict for answer in row],
            }
            for day, row in zip(found.departs, found.answers, strict=True)
        ],
        "months": [
            {
                "month": month.month,
                "verdict": month.verdict,
                **promised_json(month.worst),
                "ample_share": month.worst.ample_share,
                "ample_share_interval": [month.worst.interval.low, month.worst.interval.high],
                "panels_for_ample": month.panels,
            }
            for month in found.months
        ],
    }


def living_json(found: LivingRules) -> dict[str, Any]:
    """The living rules as plain data."""
    return {
        "title": found.title,
        "stays": [
            {
                "trip": stay.trip,
                "place": stay.place,
                "month": month_name(stay.month),
                "driving_hours_per_day": stay.driving_hours,
                "sentences": list(stay_sentences(stay)),
                "nights": list(NIGHTS),
                "soc_at_sunset": [
                    {
                        "month": rule.month,
                        "parked": list(rule.parked),
                        "driving": list(rule.driving),
                    }
                    for rule in stay.nights
                ],
                "dull_day": [
                    {
                        "month": dull.month,
                        "missing_wh": dull.missing_wh,
                        "drive_hours": dull.drive_hours,
                        "plug_hours": dull.plug_hours,
                        "generator_hours": dull.generator_hours,
                    }
                    for dull in stay.dull_days
                ],
            }
            for stay in found.stays
        ],
        "habits": [
            {
                "name": habit_words(habit, found.units),
                "saving_wh_per_day": habit.saving_wh,
                "trip": habit.trip,
            }
            for habit in found.habits
        ],
    }


def grid_json(found: Grid) -> dict[str, Any]:
    """The what-if grid as plain data: a row for each trip and design, without its charge."""
    left_off = [
        [name for bit, name in enumerate(found.comforts) if place >> bit & 1]
        for place in range(2 ** len(found.comforts))
    ]
    cells = [
        {
            "panels": panels,
            "batteries": batteries,
            "more_driving_hours_per_day": hours,
            "left_off": names,
        }
        for panels in found.panels
        for batteries in found.batteries
        for hours in found.driving_hours
        for names in left_off
    ]
    return {
        "trips": [
            {
                "name": trip.name,
                "designs": [
                    {
                        **cell,
                        "verdict": answer.verdict,
                        **promised_json(answer),
                        "ample_share": answer.ample_share,
                        "lowest_soc_p10": answer.lowest_soc.p10,
                        "dark_hours_mean": answer.dark_hours.mean,
                    }
                    for cell, answer in zip(cells, trip.answers, strict=True)
                ],
            }
            for trip in found.trips
        ]
    }
