"""A log as hourly flows: what went into the battery, came from the panels, went to the loads."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sim.arrays import Bools, Floats
from sim.fit.expected import STEP_MINUTES, Expected
from sim.job.model.power import Battery
from sim.log.reading import Log
from sim.log.steps import on_steps

# Under this share of an hour on the road or on the plug counts as none.
_HARDLY = 0.02
# A shown charge that may be full; of what the data sheet says a bank accepts, the share that is
# sure; the voltage above that of plain charging at which it is held; and how near to its cut-off
# a shown charge may hide that everything is off (common practice, no source).
_FULL, _SURE, _OVER_V, _ABOVE_CUTOFF = 0.985, 0.7, 0.45, 0.04


@dataclass(frozen=True)
class Measured:
    """A log hour by hour. Arrays of shape (H,), nan where nothing is known.

    Attributes
    ----------
    battery_w : ndarray
        Into the battery. [W]
    solar_w, load_w : ndarray
        As the log has them. [W]
    soc_at : ndarray, shape (H, 2)
        Charge shown at the start and the end of the hour.
    volts : ndarray
        [V]
    in_ah, out_ah : ndarray
        Charged and discharged. [Ah]
    temp_c : ndarray
        Outside. [deg C]
    has_soc : bool
        Whether the log shows the charge; else it is counted from the flow and the label.
    """

    battery_w: Floats
    solar_w: Floats
    load_w: Floats
    soc_at: Floats
    volts: Floats
    in_ah: Floats
    out_ah: Floats
    temp_c: Floats
    has_soc: bool

    @property
    def has_solar(self) -> bool:
        """Whether the log knows what the panels give."""
        return bool(np.isfinite(self.solar_w).any())

    @property
    def has_current(self) -> bool:
        """Whether the log knows what flows through the battery."""
        return bool(np.isfinite(self.in_ah).any())

    @property
    def known(self) -> Bools:
        """Hours of which the log says something. shape (H,)"""
        any_known = np.isfinite(self.battery_w) | np.isfinite(self.solar_w)
        return np.asarray(any_known | np.isfinite(self.load_w))


def measured(log: Log, utc: NDArray[np.datetime64], promised: Expected, bank: Battery) -> Measured:
    """A log on the hours of the promise.

    Parameters
    ----------
    log : Log
        N rows.
    utc : ndarray of datetime64[s], shape (N,)
        Its times, once its clock is known.
    promised : Expected
        H hours.
    bank : Battery
        Whose volts turn amps into watts where the log has none.
    """
    values = dict(log.values)
    volts = values.get("voltage")
    amps, watts = values.get("current"), values.get("power")
    if amps is not None:
        watts = amps * (_bank_volts(amps, bank) if volts is None else volts)
    elif watts is not None:
        amps = watts / np.maximum(_bank_volts(watts, bank) if volts is None else volts, 1.0)
    if amps is not None and watts is not None:
        values |= {"battery_w": watts, "in": np.maximum(amps, 0.0), "out": np.maximum(-amps, 0.0)}
    for name, at_v in (("solar", bank.charging_v), ("load", bank.nominal_v)):
        if name not in values and f"{name}_current" in values:
            values[name] = values[f"{name}_current"] * (at_v if volts is None else volts)
    hours = on_steps(replace(log, values=values), utc, promised.start_utc, STEP_MINUTES)
    nothing = np.full(len(promised), np.nan)
    per_hour = STEP_MINUTES / 60.0
    battery_w = hours.means.get("battery_w", nothing)
    if "battery_w" not in hours.means:
        battery_w = np.diff(hours.soc_at, axis=1)[:, 0] * bank.capacity_wh / per_hour
    return Measured(
        battery_w=battery_w,
        solar_w=hours.means.get("solar", nothing),
        load_w=hours.means.get("load", nothing),
        soc_at=hours.soc_at if "soc" in values else _counted(hours.means, bank, len(promised)),
        volts=hours.means.get("voltage", nothing),
        in_ah=hours.means.get("in", nothing) * per_hour,
        out_ah=hours.means.get("out", nothing) * per_hour,
        temp_c=hours.means.get("temperature", nothing),
        has_soc="soc" in values,
    )


def _bank_volts(flow: Floats, bank: Battery) -> Floats:
    """The usual voltage of a bank that is charged or discharged, where the log has none. [V]"""
    return np.where(flow > 0.0, bank.charging_v, bank.nominal_v)


def _counted(means: dict[str, Floats], bank: Battery, count: int) -> Floats:
    """The charge as the current counts it from full on, where the log does not show it."""
    found = np.full((count, 2), np.nan)
    if "in" not in means:
        return found
    flow = bank.coulombic_efficiency * means["in"] - means["out"]
    size = bank.capacity_wh / bank.nominal_v
    soc = 1.0
    for hour, amps in enumerate(flow.tolist()):
        if np.isfinite(amps):
            after = min(max(soc + amps / size, 0.0), 1.0)
            found[hour] = soc, after
            soc = after
    return found


def outside_c(seen: Measured, promised: Expected) -> Floats:
    """The outside temperature as it was: of the log, else of a weather file. [deg C], (H,)"""
    if promised.file_temp_c is None:
        return seen.temp_c
    return np.where(np.isfinite(seen.temp_c), seen.temp_c, promised.file_temp_c)


def quiet(promised: Expected) -> Bools:
    """Hours without engine and plug, nor beside such: nobody leaves to the minute. shape (H,)"""
    busy = (promised.driving > _HARDLY) | (promised.plugged > _HARDLY)
    beside = busy.copy()
    beside[1:] |= busy[:-1]
    beside[:-1] |= busy[1:]
    return ~beside


def accepts_w(soc: Floats, bank: Battery) -> Floats:
    """What a bank takes at a charge. [W], shape of `soc`"""
    share = np.clip((1.0 - soc) / (1.0 - bank.taper_from_soc), 0.0, 1.0)
    return np.asarray(bank.max_charge_c * bank.capacity_wh * share)


def absorbing(seen: Measured, bank: Battery) -> Bools:
    """Hours in which the voltage says that the bank is held at its upper end. shape (H,)"""
    return np.asarray(np.nan_to_num(seen.volts, nan=0.0) > bank.charging_v + _OVER_V)


def held_back(seen: Measured, bank: Battery, clear_w: Floats) -> Bools:
    """Hours in which the battery was, or may have been, too full to take a clear sun. (H,)"""
    top = np.max(np.where(np.isfinite(seen.soc_at), seen.soc_at, -1.0), axis=1)
    short = _SURE * accepts_w(top, bank) < clear_w
    return np.asarray((top >= _FULL) | short | absorbing(seen, bank))


def emptied(seen: Measured, bank: Battery) -> Bools:
    """Hours in which the battery may have cut its loads off. shape (H,)"""
    low = np.min(np.where(np.isfinite(seen.soc_at), seen.soc_at, 1.0), axis=1)
    return np.asarray(low < bank.cutoff_soc + _ABOVE_CUTOFF)
