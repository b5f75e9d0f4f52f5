"""Cables and fuses as pure numbers: size, resistance, ampacity, voltage drop, standard ratings.

Tables of the standards were read from copies of them and not from the standards themselves; a
figure marked 'from memory' was not read anywhere. They check a design; they do not replace the
code that holds where the van is built.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from sim import units
from sim.errors import NightledgerError

# Copper, annealed, at 20 deg C: 1/58 ohm mm2/m (IEC 60028); its change with temperature.
COPPER_OHM_MM2_M = 1.0 / 58.0
COPPER_PER_K = 0.00393
# A stranded cable is about 2 % longer inside than outside (ASTM B8, from memory).
STRANDING = 1.02
# Ohm circular mil per foot of the marine rule for voltage drop (ABYC E-11; the same K is in
# published tables made from it): copper at about 30 deg C.
K_OHM_CMIL_FT = 10.75
# What the temperature of the air around a cable in an engine space is taken to be (ABYC E-11,
# from memory).
ENGINE_SPACE_C = 50.0
BASE_AMBIENT_C = 30.0
# Above this no table here holds.
HIGHEST_AMBIENT_C = 60.0
# Conductors smaller than 1/0 may not share a current (NEC 310.10(G), from memory).
SMALLEST_PARALLEL_GAUGE = 0
MOST_PARALLEL = 3

# Allowed current of copper in cable or raceway, at most three carrying conductors, 30 deg C
# (NEC table 310.16, read from a copy), by temperature rating of the insulation. [A]
_AMPACITY: dict[int, dict[int, float]] = {
    75: {
        14: 20, 12: 25, 10: 35, 8: 50, 6: 65, 4: 85, 2: 115, 1: 130, 0: 150, -1: 175, -2: 200,
        -3: 230,
    },
    90: {
        14: 25, 12: 30, 10: 40, 8: 55, 6: 75, 4: 95, 2: 130, 1: 145, 0: 170, -1: 195, -2: 225,
        -3: 260,
    },
    # Single boat cable outside engine spaces (ABYC E-11, read from a table made from it).
    105: {
        18: 20, 16: 25, 14: 35, 12: 45, 10: 60, 8: 80, 6: 120, 4: 160, 2: 210, 1: 245, 0: 285,
        -1: 330, -2: 385, -3: 445,
    },
}  # fmt: skip
# Factor on these up to that temperature of the air, deg C (NEC table 310.15(B)(1), from a copy).
_AMBIENT: dict[int, tuple[tuple[float, float], ...]] = {
    75: ((30, 1.0), (35, 0.94), (40, 0.88), (45, 0.82), (50, 0.75), (55, 0.67), (60, 0.58)),
    90: ((30, 1.0), (35, 0.96), (40, 0.91), (45, 0.87), (50, 0.82), (55, 0.76), (60, 0.71)),
}
# Largest fuse or breaker on a small conductor, whatever its ampacity (NEC 240.4(D), from a copy).
_SMALL_CONDUCTOR_CAP_A = {14: 15.0, 12: 20.0, 10: 30.0}
# Standard ratings (NEC 240.6(A), from a copy; 1 to 10 A for fuses from memory). [A]
FUSES_A = (
    1.0, 3.0, 6.0, 10.0, 15.0, 20.0, 25.0, 30.0, 35.0, 40.0, 45.0, 50.0, 60.0, 70.0, 80.0, 90.0,
    100.0, 110.0, 125.0, 150.0, 175.0, 200.0, 225.0, 250.0, 300.0, 350.0, 400.0, 450.0, 500.0,
    600.0,
)  # fmt: skip
# Breakers of 230 V installations (IEC 60898-1, from memory). [A]
BREAKERS_230V_A = (6.0, 10.0, 13.0, 16.0, 20.0, 25.0, 32.0, 40.0, 50.0, 63.0)
# Cross sections that metric cable is sold in (IEC 60228, from memory). [mm2]
METRIC_MM2 = (
    0.5, 0.75, 1.0, 1.5, 2.5, 4.0, 6.0, 10.0, 16.0, 25.0, 35.0, 50.0, 70.0, 95.0, 120.0, 150.0,
    185.0, 240.0, 300.0, 400.0,
)  # fmt: skip
# What a continuous load may take of its fuse, breaker and cable: 125 % (NEC 210.20(A), 215.3).
CONTINUOUS = 1.25


@dataclass(frozen=True)
class Cable:
    """A copper cable, or several equal ones side by side.

    Attributes
    ----------
    gauge : int
        AWG number; 0 is 1/0, -1 is 2/0, and so on.
    parallel : int
        How many share the current.
    """

    gauge: int
    parallel: int = 1

    @property
    def name(self) -> str:
        """``"6 AWG"``, ``"2/0 AWG"``, ``"2 x 4/0 AWG"``."""
        one = f"{gauge_text(self.gauge)} AWG"
        return one if self.parallel == 1 else f"{self.parallel} x {one}"

    @property
    def circular_mils(self) -> float:
        """Cross section of all conductors together. [circular mil]"""
        return self.parallel * (diameter_mm(self.gauge) / units.METRES_PER_INCH) ** 2

    @property
    def area_mm2(self) -> float:
        """Cross section of all conductors together. [mm2]"""
        return self.parallel * math.pi / 4.0 * diameter_mm(self.gauge) ** 2

    @property
    def metric_mm2(self) -> float:
        """The metric size of each conductor that is not smaller. [mm2]"""
        one = self.area_mm2 / self.parallel
        return next(size for size in METRIC_MM2 if size >= one)


def gauge_text(gauge: int) -> str:
    """``"6"`` or ``"2/0"`` for -1."""
    return str(gauge) if gauge > 0 else f"{1 - gauge}/0"


def diameter_mm(gauge: int) -> float:
    """Diameter of a solid conductor of that gauge. [mm]

    References
    ----------
    ASTM B258: 36 AWG is 0.005 in, 4/0 is 0.46 in, and each step between is the same factor.
    """
    return float(0.005 * 92.0 ** ((36 - gauge) / 39.0) * units.METRES_PER_INCH * 1000.0)


def ohm_per_km(cable: Cable, *, temperature_c: float, stranded: bool) -> float:
    """Resistance of one way along a cable. [ohm/km]

    Parameters
    ----------
    cable : Cable
    temperature_c : float
        Of the copper. [deg C]
    stranded : bool
        Strands lie askew and are longer than the cable.
    """
    hot = 1.0 + COPPER_PER_K * (temperature_c - 20.0)
    lay = STRANDING if stranded else 1.0
    return 1000.0 * COPPER_OHM_MM2_M * hot * lay / cable.area_mm2


def ambient_factor(insulation_c: int, ambient_c: float) -> float:
    """What is left of an ampacity in warm air, 0 to 1.

    Parameters
    ----------
    insulation_c : int
        75, 90 or 105. [deg C]
    ambient_c : float
        Air around the cable, at most `HIGHEST_AMBIENT_C`; the gain of colder air than 30 deg C
        is not taken. [deg C]

    Notes
    -----
    For 105 deg C the rule behind the tables, the root of the remaining rise over the rise at
    30 deg C, rounded down to 0.01: at 50 deg C it gives the 0.85 that is printed for engine
    spaces.

    References
    ----------
    NEC table 310.15(B)(1) and the equation of 310.15(B); ABYC E-11.
    """
    if insulation_c in _AMBIENT:
        return next(factor for upto, factor in _AMBIENT[insulation_c] if ambient_c <= upto)
    rise = (insulation_c - max(ambient_c, BASE_AMBIENT_C)) / (insulation_c - BASE_AMBIENT_C)
    return math.floor(100.0 * math.sqrt(rise)) / 100.0


def ampacity(cable: Cable, *, insulation_c: int, ambient_c: float) -> float:
    """Current a cable may carry for good. [A]

    Parameters
    ----------
    cable : Cable
    insulation_c : int
        75 and 90: cable in a building's manner, terminals for 75 deg C. 105: single boat
        cable. [deg C]
    ambient_c : float
        Air around the cable. [deg C]

    Returns
    -------
    float
        0 for a size that the table does not have, which may then not be used.

    References
    ----------
    NEC tables 310.16 and 310.15(B)(1), terminals by 110.14(C); ABYC E-11.
    """
    one = _AMPACITY[insulation_c].get(cable.gauge, 0.0) * ambient_factor(insulation_c, ambient_c)
    if insulation_c == 90:
        one = min(one, _AMPACITY[75].get(cable.gauge, 0.0))
    return cable.parallel * one


def largest_fuse(cable: Cable, *, insulation_c: int, ambient_c: float) -> float:
    """Rating above which a fuse no longer protects the cable. [A]

    The ampacity, and for small conductors of a building's manner the cap of NEC 240.4(D).
    """
    allowed = ampacity(cable, insulation_c=insulation_c, ambient_c=ambient_c)
    if insulation_c in _AMBIENT:
        allowed = min(allowed, _SMALL_CONDUCTOR_CAP_A.get(cable.gauge, math.inf))
    return allowed


def next_rating(amps: float, ratings: tuple[float, ...] = FUSES_A) -> float | None:
    """The smallest standard rating that is not below a current, or None above the largest. [A]"""
    # 1.25 times a round current must not miss its rating by a rounding of the last bit.
    return next((rating for rating in ratings if rating >= amps - 1e-9), None)


def rating_within(amps: float, ratings: tuple[float, ...] = FUSES_A) -> float | None:
    """The largest standard rating that is not above a current, or None below the smallest. [A]"""
    return next((rating for rating in reversed(ratings) if rating <= amps + 1e-9), None)


def mils_for_drop(amps: float, one_way_m: float, drop_v: float) -> float:
    """Cross section at which a cable loses a voltage, there and back. [circular mil]

    References
    ----------
    ABYC E-11: CM = K I L / E with K 10.75 and L both ways in feet.
    """
    return K_OHM_CMIL_FT * amps * 2.0 * one_way_m / units.METRES_PER_FOOT / drop_v


def drop_volts(cable: Cable, amps: float, one_way_m: float) -> float:
    """Voltage lost there and back, by the rule of `mils_for_drop`. [V]"""
    return mils_for_drop(amps, one_way_m, 1.0) / cable.circular_mils


def sizes(insulation_c: int) -> tuple[Cable, ...]:
    """Cables that have an ampacity, smallest first, parallel ones last."""
    table = _AMPACITY[insulation_c]
    single = [Cable(gauge) for gauge in table]
    shared = [
        Cable(gauge, count)
        for count in range(2, MOST_PARALLEL + 1)
        for gauge in table
        if gauge <= SMALLEST_PARALLEL_GAUGE
    ]
    return (*single, *sorted(shared, key=lambda cable: cable.area_mm2))


def for_fuse(fuse_a: float, *, insulation_c: int, ambient_c: float) -> Cable | None:
    """The smallest cable that a fuse protects, or None when none does."""
    for cable in sizes(insulation_c):
        if largest_fuse(cable, insulation_c=insulation_c, ambient_c=ambient_c) >= fuse_a - 1e-9:
            return cable
    return None


def for_drop(amps: float, one_way_m: float, drop_v: float, *, insulation_c: int) -> Cable | None:
    """The smallest cable that loses no more than a voltage, or None when none does."""
    wanted = mils_for_drop(amps, one_way_m, drop_v)
    return next((x for x in sizes(insulation_c) if x.circular_mils >= wanted), None)


def of_area(area_mm2: float, insulation_c: int) -> Cable | None:
    """The largest single gauge that is not thicker than a metric cable, or None."""
    single = [cable for cable in sizes(insulation_c) if cable.parallel == 1]
    return next((cable for cable in reversed(single) if cable.area_mm2 <= area_mm2), None)


# Short-circuit current of one unit where its data sheet gives none: real ones of lithium iron
# phosphate pass 10 kA (from memory, fairly sure), lead-acid ones of this size stay below it. [A]
ASSUMED_SHORT_CIRCUIT_A = 10_000.0
# What fuses of a class for high fault currents cut off, direct current (class T: 20 kA; from
# memory, fairly sure). [A]
HIGH_INTERRUPTING_A = 20_000.0
# Strings side by side from which each needs a fuse: through a faulty string of two flows no more
# than the other's current (NEC 690.9(A), from memory).
STRINGS_TO_FUSE = 3


def short_circuit_amps(unit_a: float | None, units: int) -> float:
    """Current that a bank drives through a short at its terminals. [A]

    It cannot be worked out from the resistance that decides losses: it is the data sheet's
    figure for one unit, or `ASSUMED_SHORT_CIRCUIT_A`, times the units side by side.
    """
    return units * (ASSUMED_SHORT_CIRCUIT_A if unit_a is None else unit_a)


STANDARD_TEST_C = 25.0  # deg C, standard test conditions (IEC 61215)
# Cells of a panel close to the roof in full sun on a warm day (common practice, no source).
HOT_CELL_C = 70.0
# Open-circuit voltage over that at the maximum power point (common practice, no source).
OPEN_OVER_MPP = 1.2
# Sun brighter than the test's 1000 W/m2 (NEC 690.8(A)).
BRIGHT_SUN = 1.25

# Factor on the open-circuit voltage of crystalline silicon, down to that temperature of the air
# (NEC table 690.7(A), read from a copy).
_COLD_FACTORS: tuple[tuple[float, float], ...] = (
    (25, 1.0), (20, 1.02), (15, 1.04), (10, 1.06), (5, 1.08), (0, 1.10), (-5, 1.12), (-10, 1.14),
    (-15, 1.16), (-20, 1.18), (-25, 1.20), (-30, 1.21), (-35, 1.23), (-40, 1.25),
)  # fmt: skip
COLDEST_C = _COLD_FACTORS[-1][0]


def voltage_at(volts: float, cell_c: float, *, coeff_pct_c: float) -> float:
    """A panel's voltage in cold or heat by its own coefficient. [V]

    Parameters
    ----------
    volts : float
        At 25 deg C. [V]
    cell_c : float
        Of the cells; for the highest open-circuit voltage the lowest air to expect. [deg C]
    coeff_pct_c : float
        Of that voltage, negative. [%/deg C]

    References
    ----------
    NEC 690.7(A)(1).
    """
    return volts * (1.0 + coeff_pct_c / 100.0 * (cell_c - STANDARD_TEST_C))


def cold_voltage_by_table(voc_v: float, coldest_c: float) -> float:
    """Open-circuit voltage in the cold by the table, for panels of unknown coefficient. [V]

    Raises
    ------
    NightledgerError
        Colder than the table.

    References
    ----------
    NEC table 690.7(A).
    """
    # Each row holds from its own temperature up to just below the row before.
    for down_to, factor in _COLD_FACTORS:
        if coldest_c >= down_to:
            return voc_v * factor
    raise NightledgerError(
        f"the table of cold-weather factors ends at {COLDEST_C:.0f} deg C; give the panel's own "
        "voltage coefficient"
    )


def longest_string(controller_v: float, cold_panel_v: float) -> int:
    """How many panels in series stay within a controller's highest voltage."""
    return int(controller_v / cold_panel_v + 1e-9)


def shortest_string(wanted_v: float, panel_v: float) -> int:
    """How many panels in series reach a voltage."""
    return max(math.ceil(wanted_v / panel_v - 1e-9), 1)


def design_current(isc_a: float, strings: int = 1) -> float:
    """Largest current of a panel circuit in bright sun. [A]

    References
    ----------
    NEC 690.8(A): 125 % of the short-circuit current.
    """
    return BRIGHT_SUN * isc_a * strings


def rating_current(isc_a: float, strings: int = 1) -> float:
    """Current its fuse must be rated for, that of one string or of the run they share. [A]

    References
    ----------
    NEC 690.8(B), 690.9(B): 125 % of `design_current`.
    """
    return CONTINUOUS * design_current(isc_a, strings)
