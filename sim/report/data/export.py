"""Results as JSON and CSV, with stable keys and headings."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

import numpy as np

from sim.decide.remedy import Remedy
from sim.errors import Fault
from sim.job.model.job import Job
from sim.job.rules.remarks import Remark
from sim.ledger.audit import audit
from sim.ledger.lines import SourceLine
from sim.ledger.promise import Group
from sim.ledger.results import Result, TripResult
from sim.ledger.verdict import QUANTILES
from sim.report.data.names import file_stem
from sim.report.words.drives import EstimatedDrive
from sim.report.words.numbers import GAP, Manner, night_of
from sim.report.words.promise_words import because, remedy_words
from sim.trip.tanks import StoreLine

# Spreadsheets read the full-width signs of East Asian keyboards as the plain ones.
_FORMULA_STARTS = frozenset("=+-@\t\r\n\uff1d\uff0b\uff0d\uff20")


def trip_json(result: Result, remedies: Sequence[Remedy | None] = ()) -> dict[str, Any]:
    """The numbers of all trips as plain data; the README lists the keys."""
    manner = Manner(result.job.settings.units)
    mends = remedies or [None] * len(result.trips)
    settings = result.job.settings
    return {
        "title": result.job.title,
        "settings": settings.model_dump(mode="json"),
        "trips": [
            _trip(trip) | _promise(trip, mend, manner)
            for trip, mend in zip(result.trips, mends, strict=True)
        ],
        "audit": asdict(audit(result)),
    }


def _promise(trip: TripResult, remedy: Remedy | None, manner: Manner) -> dict[str, Any]:
    """What held of what was promised, why not all, and what mends it."""
    promise, groups = trip.promise, trip.dark_by_priority()
    return {
        "essentials": {
            "share": float(promise.essentials_hold.mean()),
            "hours": groups["essential"],
            "missing_wh": _missing_wh(trip, "essentials"),
        },
        "comforts": {
            "share": float(promise.holds("comforts").mean()),
            "hours": groups["comfort"] + groups["extra"],
            "missing_wh": _missing_wh(trip, "comforts"),
        },
        "stores_and_cold": {"share": float(promise.holds("stores").mean())},
        "medical": [asdict(lack) for lack in promise.medical],
        "lacks": [
            {
                "group": lack.group,
                "kind": lack.kind,
                "names": list(trip.who_lacks(lack)),
                "is_essential": lack.is_essential,
                "share": lack.count / trip.draws,
                "usual_h": lack.usual_h,
                "missing": lack.missing,
            }
            for lack in promise.lacks
            if lack.count
        ],
        "because": because(trip, manner).replace(GAP, " "),
        "remedy": None
        if remedy is None
        else {
            "change": ", and ".join(remedy.changes),
            "price": remedy.price,
            "verdict": remedy.verdict,
            "held": remedy.held,
            "need": None if remedy.need is None else asdict(remedy.need),
            "worse": list(remedy.worse),
            "medical": {"names": list(remedy.medical), "share": remedy.medical_dark / remedy.draws},
            "is_for_medical": remedy.is_for_medical,
            "text": remedy_words(remedy).replace(GAP, " "),
        },
    }


def _missing_wh(trip: TripResult, group: Group) -> float:
    """Electricity that a group missed, mean over draws. [Wh]"""
    lacks = [x for x in trip.promise.lacks if x.group == group and x.kind == "electricity"]
    return sum(x.count * x.missing for x in lacks) / trip.draws


def _trip(trip: TripResult) -> dict[str, Any]:
    dark = trip.dark_hours
    days = trip.days_long
    return {
        "name": trip.name,
        "depart": trip.depart.isoformat(),
        "hours": trip.hours_long,
        "draws": trip.draws,
        "verdict": trip.verdict,
        "ample_share": trip.share_without_dark,
        "lowest_soc": asdict(trip.lowest_soc),
        "dark_hours": {
            "mean": float(dark.mean()),
            "p90": float(np.quantile(dark, 0.9)),
            "by_priority": trip.dark_by_priority(),
        },
        "energy_wh_per_day": _energy(trip),
        "sources": [_source(source) for source in trip.sources],
        "unharvested_by_cause": {
            cause.replace(" ", "_"): value for cause, value in trip.unharvested_by_cause.items()
        },
        # A trip too short to tell has none.
        "battery_life": asdict(trip.battery_life) if trip.battery_life else None,
        "first_out": _first_out(trip),
        "battery_ran_out_share": trip.ran_out_share,
        "stores": [_store(line, trip) for line in trip.stores],
        **_living(trip),
        "loads_wh_per_day": [
            {
                "name": load.name,
                "supply": load.supply,
                "priority": load.priority,
                "wanted": float(load.wanted_wh.mean() / days),
                "served": float(load.served_wh.mean() / days),
                "waited": float(load.waited_wh.mean() / days),
            }
            for load in trip.loads
        ],
        "weather": list(trip.about),
        "weather_years": list(trip.years),
        "series": _series(trip),
    }


def _source(source: SourceLine) -> dict[str, Any]:
    return {
        "name": source.name,
        "kind": source.kind,
        "offered_wh_per_day": source.offered_wh_day,
        "used_wh_per_day": source.used_wh_day,
        # Of a source that is started and stopped.
        **({} if source.hours_day is None else {"hours_per_day": source.hours_day}),
    }


def _series(trip: TripResult) -> dict[str, Any]:
    """The charge of every step by the local clock."""
    days = trip.file_days_soc
    return {
        "time": [time.isoformat() for time in trip.local_times()],
        **{
            f"soc_{name}": [round(float(value), 6) for value in row]
            for name, row in zip(("p10", "p50", "p90"), trip.course.soc, strict=True)
        },
        "soc_file_days": None if days is None else [round(float(value), 6) for value in days],
    }


def _energy(trip: TripResult) -> dict[str, float]:
    """The day's energy: what each kind of source brought, and what became of it."""
    figures = asdict(trip.energy)
    return {**figures.pop("taken"), **figures}


def _living(trip: TripResult) -> dict[str, Any]:
    """What living in the van comes to: warmth, food, hot water, frost, fuel."""
    return {
        "hours_below_set_point": {
            "mean": float(trip.chill.hours.mean()),
            "p90": float(np.quantile(trip.chill.hours, 0.9)),
            "kelvin_hours_mean": float(trip.chill.kelvin_hours.mean()),
        },
        "hours_of_wet_windows": float(trip.damp_hours.mean()),
        "cold_boxes": [
            {
                "name": box.name,
                "limit_c": box.limit_c,
                "warm_hours_mean": float(box.warm_hours.mean()),
                "warmest_c_p90": float(np.quantile(box.warmest_c, 0.9)),
            }
            for box in trip.boxes
        ],
        "snow_on_panels_wh_per_day": trip.snowed_wh_day,
        "hot_water_short_wh_per_day": trip.hot_short_wh_day,
        "uncharged_wh_per_day": trip.uncharged_wh_day,
        "frost": {
            "spots": [
                {
                    "name": spot.name,
                    "place": spot.place,
                    "share": spot.share,
                    "hours_mean": float(spot.hours.mean()),
                    "coldest_c_p10": float(np.quantile(spot.coldest_c, 0.1)),
                    "warmer_watts": spot.warmer_watts,
                    "needed_watts_p90": float(np.quantile(spot.needed_watts, 0.9)),
                    "habit": spot.habit,
                }
                for spot in trip.frost.spots
            ],
            "pipes_hours_otherwise_mean": None
            if trip.frost.away is None
            else float(trip.frost.away.otherwise_hours.mean()),
            "winterise": [trip.timeline.stays[stop].label for stop in trip.frost.winterise],
        },
        "engine_fuel_l_per_day": trip.engine_fuel_l_day,
        "ac_at_once": None
        if trip.ac_peak is None
        else {
            "most_w": trip.ac_peak.together_w,
            "names": list(trip.ac_peak.names),
            "start_w": trip.ac_peak.start_w,
            "hours_above_rating_mean": float(trip.ac_peak.over_h.mean()),
        },
    }


def _first_out(trip: TripResult) -> dict[str, Any]:
    """What runs out first, with the local time and the number of the night in which it does."""
    first = trip.first_out
    return {**asdict(first), **_when(trip, first.at_h)}


def _when(trip: TripResult, at_h: float | None) -> dict[str, Any]:
    """A time after departure by the local clock; the first night is the one after departure."""
    if at_h is None:
        return {"at": None, "night": None}
    times = trip.local_times()
    step = min(int(at_h / trip.timeline.step_hours), len(times) - 1)
    return {"at": times[step].isoformat(), "night": night_of(at_h / 24.0)}


def _store(line: StoreLine, trip: TripResult) -> dict[str, Any]:
    """One tank; levels a day apart from departure on and at the end (`--csv` has every step)."""
    nights = np.quantile(line.nights_until, QUANTILES, method="nearest")
    per_day = round(24.0 / line.step_hours)
    ends = len(line.levels.level)
    kept = np.unique([*range(0, ends, per_day), ends - 1])
    levels = line.level_over_draws[:, kept]
    out_at_h = line.out_at_h[np.isfinite(line.out_at_h)]
    out_median_h = float(np.median(out_at_h)) if len(out_at_h) else None
    times = trip.local_times()
    return {
        "name": line.name,
        "kind": line.kind,
        "unit": line.unit,
        "capacity": line.capacity,
        "use_per_day": float(line.use_per_day.mean()),
        "by_use_per_day": line.by_use,
        "out_share": line.out_share,
        "out_at_h_median": out_median_h,
        "out": _when(trip, out_median_h),
        "missed_per_day": line.missed_per_day,
        "short_hours": {
            "mean": float(line.short_h.mean()),
            "p90": float(np.quantile(line.short_h, 0.9)),
        },
        "carries": line.carries,
        # Where it lasts the trip, at the trip's mean use without another service. JSON knows no
        # infinity: a tank nobody uses lasts for ever.
        "nights_until": {
            name: float(value) if np.isfinite(value) else None
            for name, value in zip(("p10", "p50", "p90"), nights, strict=True)
        },
        "level": {
            "time": [times[step].isoformat() for step in kept],
            **{
                name: [round(float(value), 3) for value in row]
                for name, row in zip(("p10", "p50", "p90"), levels, strict=True)
            },
        },
    }


def remarks_json(odd: Sequence[Remark]) -> list[dict[str, str]]:
    """What is odd in a job, as plain data."""
    return [{"says": x.says, "text": str(x)} for x in odd]


def check_json(
    faults: tuple[Fault, ...],
    odd: tuple[Remark, ...],
    drives: Sequence[EstimatedDrive] = (),
) -> dict[str, Any]:
    """The faults of a job file, what is odd in it and what was estimated, as plain data."""
    return {
        "ok": not faults,
        "faults": [
            {"file": x.file, "line": x.line, "key": x.key, "rule": x.rule, "text": str(x)}
            for x in faults
        ],
        "remarks": remarks_json(odd),
        "estimated_drives": [
            {
                "from": start.label,
                "to": end.label,
                "hours": drive.hours,
                "road_km": round(drive.road_km, 1),
            }
            for start, end, drive in drives
        ],
    }


def json_text(data: dict[str, Any]) -> str:
    """JSON for people and programs: indented, no NaN."""
    return json.dumps(data, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def table_ends(job: Job) -> tuple[str, ...]:
    """Ends of the names that `csv_files` gives, those of tanks even where a trip has none."""
    return tuple(
        f"{_table_base(number, trip.name)}-{what}"
        for number, trip in enumerate(job.trips, 1)
        for what in ("hours", "days", "ledger", "stores")
    )


def _table_base(number: int, trip: str) -> str:
    return f"{number}-{file_stem(trip)}"


def csv_files(result: Result, stem: str) -> dict[str, str]:
    """CSV texts by file name: hours, days and ledger of each trip."""
    files = {}
    for number, trip in enumerate(result.trips, 1):
        base = f"{stem}-{_table_base(number, trip.name)}"
        frames = {"hours": trip.hours(), "days": trip.days(), "ledger": trip.ledger()}
        if trip.stores:
            frames["stores"] = trip.store_levels()
        for what, frame in frames.items():
            for column in frame.select_dtypes(exclude="number"):
                frame[column] = [cell(value) for value in frame[column]]
            # A tank's name is in the heading.
            files[f"{base}-{what}.csv"] = frame.rename(columns=cell).to_csv(
                index=False, float_format="%.6g", lineterminator="\n"
            )
    return files


def cell(value: Any) -> str:
    """Text a spreadsheet will not take for a formula."""
    text = str(value)
    return f"'{text}" if text[:1] in _FORMULA_STARTS else text
