"""A trip's result as tables: hours, days, appliances, tanks."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pandas as pd

from sim.ledger.results import CAUSES, QUANTILES, TripResult
from sim.van.battery import UNSERVED_TOLERANCE_W


def hours(trip: TripResult) -> pd.DataFrame:
    """One row per step by local time: quantiles of the charge and mean powers."""
    quantiles = np.quantile(trip.soc[1:], QUANTILES, axis=1)
    line = trip.timeline
    return pd.DataFrame(
        {
            "local_time": [time.isoformat() for time in trip.local_times()[:-1]],
            "place": [line.stays[index].label for index in line.stop],
            "driving_share": line.driving,
            "plugged_share": line.plugged,
            "idling_share": line.idling,
            "people_aboard": line.people,
            "soc_end_p10": quantiles[0],
            "soc_end_p50": quantiles[1],
            "soc_end_p90": quantiles[2],
            **{f"{k}_w": v.mean(axis=1) for k, v in trip.powers().items()},
            "dark_share": (trip.unserved_w.sum(axis=0) > UNSERVED_TOLERANCE_W).mean(axis=1),
            "ghi_w_m2": trip.ghi.mean(axis=1),
            "outside_c": trip.temp_air.mean(axis=1),
            "cabin_c": trip.cabin_c.mean(axis=1),
        }
    )


def days(trip: TripResult) -> pd.DataFrame:
    """One row per local day: energies [Wh], mean over draws, and quantiles of the charge."""
    count = int(trip.day_index[-1]) + 1
    hours = trip.timeline.step_hours
    first = trip.depart.date()
    frame = pd.DataFrame({"date": [first + dt.timedelta(days=i) for i in range(count)]})
    for name, watts in trip.powers().items():
        daily = np.bincount(trip.day_index, watts.mean(axis=1) * hours, count)
        frame[f"{name}_wh"] = daily
    for name, row in zip(CAUSES, trip.unharvested_by_cause_w, strict=True):
        column = f"unharvested_{name.replace(' ', '_')}_wh"
        frame[column] = np.bincount(trip.day_index, row * hours, count)
    lowest = np.full((count, trip.draws), np.inf)
    np.minimum.at(lowest, trip.day_index, trip.soc[1:])
    for name, q in zip(("p10", "p50", "p90"), QUANTILES, strict=True):
        frame[f"lowest_soc_{name}"] = np.quantile(lowest, q, axis=1)
    return frame


def ledger(trip: TripResult) -> pd.DataFrame:
    """One row per appliance: wanted and served [Wh/day], mean over draws."""
    return pd.DataFrame(
        {
            "appliance": [load.name for load in trip.loads],
            "supply": [load.supply for load in trip.loads],
            "priority": [load.priority for load in trip.loads],
            "wanted_wh_day": [load.wanted_wh.mean() / trip.days_long for load in trip.loads],
            "served_wh_day": [load.served_wh.mean() / trip.days_long for load in trip.loads],
        }
    )


def store_levels(trip: TripResult) -> pd.DataFrame:
    """One row per step: quantiles of each tank's level at its end. [L] or [kg]"""
    columns: dict[str, object] = {
        "local_time": [time.isoformat() for time in trip.local_times()[:-1]]
    }
    for line in trip.stores:
        rows = np.quantile(line.levels.level[1:], QUANTILES, axis=1)
        for name, row in zip(("p10", "p50", "p90"), rows, strict=True):
            columns[f"{line.name} {name} [{line.unit}]"] = row
    return pd.DataFrame(columns)
