"""Cables, fuses and panel circuits against published tables and worked examples.

None of these figures was read from a standard itself: the electrical code's (NEC, NFPA 70) tables
were read from data files and training texts that copy them, the marine ones (ABYC E-11) from
tables that boat equipment dealers print.
"""

from __future__ import annotations

import pytest

from sim import units
from sim.van import conductors
from sim.van.conductors import Cable

# AWG number (1/0 is 0, 4/0 is -3): circular mils (NEC chapter 9, table 8), mm2 (ASTM B258
# formula), ohm per 1000 ft at 75 deg C stranded (table 8), at 20 deg C solid (wire tables).
CONDUCTORS = {
    14: (4110, 2.08, 3.14, 2.525),
    12: (6530, 3.31, 1.98, 1.588),
    10: (10380, 5.26, 1.24, 0.9989),
    8: (16510, 8.37, 0.778, 0.6282),
    6: (26240, 13.30, 0.491, 0.3951),
    4: (41740, 21.15, 0.308, 0.2485),
    2: (66360, 33.63, 0.194, 0.1563),
    1: (83690, 42.41, 0.154, 0.1239),
    0: (105600, 53.48, 0.122, 0.09827),
    -1: (133100, 67.43, 0.0967, 0.07793),
    -2: (167800, 85.03, 0.0766, 0.06180),
    -3: (211600, 107.22, 0.0608, 0.04901),
}
# NEC chapter 9, table 8, ohm per 1000 ft at 75 deg C, solid.
SOLID_75 = {8: 0.764, 10: 1.21, 12: 1.93, 14: 3.07}
# The code rounds areas to four figures and lays its strands by several constructions.
AREA_TOLERANCE = 0.005
RESISTANCE_TOLERANCE = 0.03
# The formula against wire tables of four figures for solid copper at 20 deg C.
SOLID_TOLERANCE = 0.001


def ohm_per_kft(gauge: int, temperature_c: float, *, stranded: bool) -> float:
    per_km = conductors.ohm_per_km(Cable(gauge), temperature_c=temperature_c, stranded=stranded)
    return per_km * units.METRES_PER_FOOT


@pytest.mark.parametrize("gauge", CONDUCTORS)
def test_conductor_table(gauge: int) -> None:
    """NEC chapter 9 table 8 from the ASTM B258 diameters and the resistivity of copper."""
    mils, area, stranded_75, solid_20 = CONDUCTORS[gauge]
    assert Cable(gauge).circular_mils == pytest.approx(mils, rel=AREA_TOLERANCE)
    assert Cable(gauge).area_mm2 == pytest.approx(area, rel=AREA_TOLERANCE)
    assert ohm_per_kft(gauge, 75, stranded=True) == pytest.approx(
        stranded_75, rel=RESISTANCE_TOLERANCE
    )
    assert ohm_per_kft(gauge, 20, stranded=False) == pytest.approx(solid_20, rel=SOLID_TOLERANCE)


@pytest.mark.parametrize("gauge", SOLID_75)
def test_hot_solid_conductors(gauge: int) -> None:
    """The same table's solid column: the strands' lay is left out, the heat is in."""
    ours = ohm_per_kft(gauge, 75, stranded=False)
    assert ours == pytest.approx(SOLID_75[gauge], rel=0.01)


def test_the_two_ends_of_the_wire_gauge() -> None:
    """ASTM B258: 4/0 is 0.46 in and 36 AWG 0.005 in, both exactly."""
    assert conductors.diameter_mm(-3) / 25.4 == pytest.approx(0.46, rel=1e-12)
    assert conductors.diameter_mm(36) / 25.4 == pytest.approx(0.005, rel=1e-12)


# NEC table 310.16, copper, 30 deg C. 75 and 90 deg C insulation. [A]
BUILDING = {
    14: (20, 25), 12: (25, 30), 10: (35, 40), 8: (50, 55), 6: (65, 75), 4: (85, 95),
    2: (115, 130), 1: (130, 145), 0: (150, 170), -1: (175, 195), -2: (200, 225), -3: (230, 260),
}  # fmt: skip
# ABYC E-11 style, 105 deg C insulation, outside engine spaces. [A]
MARINE = {
    18: 20, 16: 25, 14: 35, 12: 45, 10: 60, 8: 80, 6: 120, 4: 160, 2: 210, 1: 245, 0: 285,
    -1: 330, -2: 385, -3: 445,
}  # fmt: skip


@pytest.mark.parametrize("gauge", BUILDING)
def test_ampacity_in_a_buildings_manner(gauge: int) -> None:
    """The 75 deg C column, which terminals of 75 deg C hold a 90 deg C cable to as well."""
    at_75, at_90 = BUILDING[gauge]
    assert conductors.ampacity(Cable(gauge), insulation_c=75, ambient_c=30) == at_75
    assert conductors.ampacity(Cable(gauge), insulation_c=90, ambient_c=30) == min(at_75, at_90)
    # Hot enough that the 90 deg C column is the smaller of the two: 0.71 at 60 deg C.
    assert conductors.ampacity(Cable(gauge), insulation_c=90, ambient_c=60) == pytest.approx(
        0.71 * at_90, rel=1e-12
    )


@pytest.mark.parametrize("gauge", MARINE)
def test_ampacity_of_boat_cable(gauge: int) -> None:
    """ABYC E-11, outside engine spaces and, with 0.85, inside them."""
    outside = conductors.ampacity(Cable(gauge), insulation_c=105, ambient_c=30)
    engine = conductors.ampacity(
        Cable(gauge), insulation_c=105, ambient_c=conductors.ENGINE_SPACE_C
    )
    assert outside == MARINE[gauge]
    assert engine == pytest.approx(0.85 * MARINE[gauge], rel=1e-12)


# NEC table 310.15(B)(1): up to that air temperature, factors for 75 and 90 deg C insulation.
AMBIENT = {35: (0.94, 0.96), 40: (0.88, 0.91), 45: (0.82, 0.87), 50: (0.75, 0.82),
           55: (0.67, 0.76), 60: (0.58, 0.71)}  # fmt: skip


@pytest.mark.parametrize("upto_c", AMBIENT)
@pytest.mark.parametrize(("column", "insulation_c"), [(0, 75), (1, 90)])
def test_ambient_correction(upto_c: int, column: int, insulation_c: int) -> None:
    """Both ends of each row: 31 to 35 deg C is one factor."""
    factor = AMBIENT[upto_c][column]
    assert conductors.ambient_factor(insulation_c, upto_c) == factor
    assert conductors.ambient_factor(insulation_c, upto_c - 4) == factor


def test_ten_gauge_in_a_hot_attic() -> None:
    """Training text on NEC 690.8: 10 AWG of 90 deg C, 40 A, at 45 deg C 40 x 0.87 = 34.8 A."""
    assert BUILDING[10][1] * conductors.ambient_factor(90, 45) == pytest.approx(34.8, abs=1e-9)
    ours = conductors.ampacity(Cable(10), insulation_c=90, ambient_c=45)
    assert ours == pytest.approx(34.8, abs=1e-9)


def test_bilge_pump_example() -> None:
    """ABYC E-11 example: 10 A over 11 + 10 ft at 12 V.

    3 % gives 6271 circular mils and 12 AWG, 10 % gives 1881 and 16 AWG (a dealer's guide and a
    chandler's catalogue; the latter's printed table rounds the length up and says 10 AWG for
    3 %: formula and table differ, the formula is taken). To 1 circular mil.
    """
    one_way = 21 / 2 * units.METRES_PER_FOOT
    assert conductors.mils_for_drop(10, one_way, 0.36) == pytest.approx(6271, abs=1)
    assert conductors.mils_for_drop(10, one_way, 1.2) == pytest.approx(1881, abs=1)
    assert conductors.for_drop(10, one_way, 0.36, insulation_c=105) == Cable(12)
    assert conductors.for_drop(10, one_way, 1.2, insulation_c=105) == Cable(16)
    # On 12 AWG 0.346 V are lost, 2.88 % of 12 V; to half of the last figure.
    drop = conductors.drop_volts(Cable(12), 10, one_way)
    assert drop == pytest.approx(0.346, abs=0.0005)
    assert 100 * drop / 12 == pytest.approx(2.88, abs=0.005)


def test_cold_panels() -> None:
    """Training text on NEC 690.7: 49.5 V, -0.27 %/C, -10 deg C, 600 V. To 0.01 V."""
    by_coefficient = conductors.voltage_at(49.5, -10, coeff_pct_c=-0.27)
    by_table = conductors.cold_voltage_by_table(49.5, -10)
    assert by_coefficient == pytest.approx(54.18, abs=0.01)
    assert by_table == pytest.approx(56.43, abs=0.01)
    assert conductors.longest_string(600, by_coefficient) == 11
    assert conductors.longest_string(600, by_table) == 10


# NEC table 690.7(A), crystalline silicon: warmest and coldest whole degree of a row, factor.
COLD = [
    (24, 20, 1.02), (19, 15, 1.04), (14, 10, 1.06), (9, 5, 1.08), (4, 0, 1.10), (-1, -5, 1.12),
    (-6, -10, 1.14), (-11, -15, 1.16), (-16, -20, 1.18), (-21, -25, 1.20), (-26, -30, 1.21),
    (-31, -35, 1.23), (-36, -40, 1.25),
]  # fmt: skip


@pytest.mark.parametrize(("warm", "cold", "factor"), COLD)
def test_cold_weather_table(warm: int, cold: int, factor: float) -> None:
    """Every row, at both of its ends."""
    assert conductors.cold_voltage_by_table(1.0, warm) == factor
    assert conductors.cold_voltage_by_table(1.0, cold) == factor


def test_panel_current_example() -> None:
    """Training text on NEC 690.8: Isc 11.2 A is 14.0 A, then 17.5 A, then a fuse of 20 A."""
    assert conductors.design_current(11.2) == pytest.approx(14.0, abs=1e-9)
    assert conductors.rating_current(11.2) == pytest.approx(17.5, abs=1e-9)
    assert conductors.next_rating(conductors.rating_current(11.2)) == 20


def test_one_fuse_for_three_strings_protects_no_module() -> None:
    """NEC 690.8, 690.9 and 240.6(A): three strings of 9.5 A have a run of 3 x 9.5 x 1.5625 = 44.5 A
    and a fuse of 45 A, each string one of 14.8 A and 15 A. Modules print a series fuse rating of
    15 to 30 A (from memory): the fuse of the run is above all of them.
    """
    run = conductors.next_rating(conductors.rating_current(9.5, 3))
    string = conductors.next_rating(conductors.rating_current(9.5))
    assert conductors.rating_current(9.5, 3) == pytest.approx(44.53, abs=0.005)
    assert conductors.rating_current(9.5) == pytest.approx(14.84, abs=0.005)
    assert (run, string) == (45, 15)
    assert conductors.STRINGS_TO_FUSE == 3


def test_interrupting_rating_of_a_bank() -> None:
    """NEC 110.9 asks what opens a fault to be rated for its current. One unit without a figure
    of its own is taken for 10 kA, within what class T fuses cut off, 20 kA (both from memory)."""
    assert conductors.short_circuit_amps(None, 1) <= conductors.HIGH_INTERRUPTING_A
    assert conductors.short_circuit_amps(None, 3) > conductors.HIGH_INTERRUPTING_A


def test_continuous_load_example() -> None:
    """Same text: an inverter of 32 A continuous has a breaker of 40 A."""
    assert conductors.next_rating(conductors.CONTINUOUS * 32) == 40


def test_standard_ratings() -> None:
    """NEC 240.6(A)."""
    published = (
        "15 20 25 30 35 40 45 50 60 70 80 90 100 110 125 150 175 200 225 250 300 350 400 450 "
        "500 600"
    )
    assert [x for x in conductors.FUSES_A if x >= 15] == [float(x) for x in published.split()]


@pytest.mark.parametrize(("gauge", "cap"), [(14, 15), (12, 20), (10, 30)])
def test_small_conductors(gauge: int, cap: int) -> None:
    """NEC 240.4(D): the cap holds although the ampacity is higher."""
    assert conductors.ampacity(Cable(gauge), insulation_c=90, ambient_c=30) > cap
    assert conductors.largest_fuse(Cable(gauge), insulation_c=90, ambient_c=30) == cap


def test_dcdc_charger_of_60_amps() -> None:
    """Common practice, no source: its fuse is above 60 A and its cable carries that fuse."""
    fuse = conductors.next_rating(conductors.CONTINUOUS * 60)
    assert fuse is not None
    assert fuse > 60
    cable = conductors.for_fuse(fuse, insulation_c=105, ambient_c=30)
    assert cable is not None
    assert conductors.ampacity(cable, insulation_c=105, ambient_c=30) >= fuse
