"""Whether a string of panels reaches the bank's voltage, for remarks and the wiring sheet."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from sim.job.model.power import Battery, PanelGroup
from sim.job.model.wiring import WiringPlan
from sim.van import conductors

Fit = Literal["fits", "never", "hot", "above"]


@dataclass(frozen=True)
class StringVolts:
    """A string beside the bank.

    Attributes
    ----------
    fit : {"fits", "never", "hot", "above"}
        It reaches the bank's voltage even when hot; not even in the cold; not when hot; or it
        passes the bank's voltage, which a controller that steps up cannot take.
    string_v : float
        What `fit` was judged by: voltage at the maximum power point of hot cells, of cold ones
        for a controller that steps up, or open in the cold for one that never starts. [V]
    limit_v : float
        What that must reach, or for a controller that steps up may not pass. [V]
    cell_c : float
        At which temperature. [deg C]
    series : int
        How many panels in series would do; the fewest for a controller that steps down, the
        most for one that steps up.
    """

    fit: Fit
    string_v: float
    limit_v: float
    cell_c: float
    series: int


def coldest_of(plan: WiringPlan | None) -> float:
    """Coldest dawn on the roof. [deg C]"""
    return (plan or WiringPlan()).coldest_c


def cold_open_v(group: PanelGroup, coldest_c: float) -> float | None:
    """Open-circuit voltage of a string in the cold, None where it is not known. [V]"""
    if group.open_v is None:
        return None
    open_v = group.open_v * group.series
    return conductors.voltage_at(open_v, coldest_c, coeff_pct_c=group.voc_temp_coeff_pct_c)


def string_volts(group: PanelGroup, bank: Battery, coldest_c: float) -> StringVolts | None:
    """A group's strings beside the bank; None where the panel's voltage is not known.

    Parameters
    ----------
    group : PanelGroup
        With an "mppt" or a "boost" controller.
    bank : Battery
    coldest_c : float
        Coldest dawn on the roof. [deg C]
    """
    if group.vmp_v is None or group.open_v is None:
        return None

    def vmp_at(cell_c: float) -> float:
        assert group.vmp_v is not None
        return conductors.voltage_at(group.vmp_v, cell_c, coeff_pct_c=group.temp_coeff_pct_c)

    if group.controller == "boost":
        cold_v, most_v = vmp_at(coldest_c), bank.charging_v
        most = conductors.longest_string(most_v, cold_v)
        fit: Fit = "fits" if group.series <= most else "above"
        return StringVolts(fit, cold_v * group.series, most_v, coldest_c, most)
    start_v, run_v = bank.nominal_v + group.start_above_v, bank.charging_v + group.run_above_v
    hot_v = vmp_at(conductors.HOT_CELL_C)
    series = max(
        conductors.shortest_string(run_v, hot_v),
        conductors.shortest_string(start_v, group.open_v),
    )
    open_v = cold_open_v(group, coldest_c) or 0.0
    if open_v < start_v:
        return StringVolts("never", open_v, start_v, coldest_c, series)
    fit = "fits" if group.series >= series else "hot"
    return StringVolts(fit, hot_v * group.series, run_v, conductors.HOT_CELL_C, series)
