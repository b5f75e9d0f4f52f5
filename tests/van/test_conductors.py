"""Cables and fuses: choosing, edges of the tables, what grows with what."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.errors import NightledgerError
from sim.van import conductors
from sim.van.conductors import Cable

INSULATION = (75, 90, 105)


@pytest.mark.parametrize(
    ("cable", "name", "metric"),
    [
        (Cable(10), "10 AWG", 6.0),
        (Cable(0), "1/0 AWG", 70.0),
        (Cable(-1), "2/0 AWG", 70.0),
        (Cable(-3, 2), "2 x 4/0 AWG", 120.0),
        (Cable(18), "18 AWG", 1.0),
    ],
)
def test_names(cable: Cable, name: str, metric: float) -> None:
    """A cable is called as in the shop, and its metric stand-in is never thinner."""
    assert cable.name == name
    assert cable.metric_mm2 == metric
    assert cable.metric_mm2 * cable.parallel >= cable.area_mm2


@pytest.mark.parametrize("insulation_c", INSULATION)
def test_sizes_grow(insulation_c: int) -> None:
    """The list goes from thin to thick, and more copper carries more."""
    sizes = conductors.sizes(insulation_c)
    single = [cable for cable in sizes if cable.parallel == 1]
    assert len(single) == len(sizes[: len(single)])
    for thin, thick in itertools.pairwise(single):
        assert thin.area_mm2 < thick.area_mm2
        assert conductors.ampacity(
            thin, insulation_c=insulation_c, ambient_c=40
        ) < conductors.ampacity(thick, insulation_c=insulation_c, ambient_c=40)


def test_only_thick_cables_share_a_current() -> None:
    """Nothing below 1/0 is laid in parallel."""
    shared = [cable for cable in conductors.sizes(105) if cable.parallel > 1]
    assert {cable.gauge for cable in shared} == {0, -1, -2, -3}
    assert max(cable.parallel for cable in shared) == conductors.MOST_PARALLEL


@given(
    fuse=st.sampled_from(conductors.FUSES_A),
    insulation_c=st.sampled_from(INSULATION),
    ambient_c=st.floats(-20, 60),
)
def test_fuse_protects_the_chosen_cable(fuse: float, insulation_c: int, ambient_c: float) -> None:
    """The chosen cable is allowed the fuse, and the next thinner one is not."""
    sizes = conductors.sizes(insulation_c)
    cable = conductors.for_fuse(fuse, insulation_c=insulation_c, ambient_c=ambient_c)
    allowed = [
        conductors.largest_fuse(x, insulation_c=insulation_c, ambient_c=ambient_c) for x in sizes
    ]
    if cable is None:
        assert max(allowed) < fuse
        return
    at = sizes.index(cable)
    assert allowed[at] >= fuse - 1e-9
    assert all(less < fuse for less in allowed[:at])


@given(
    amps=st.floats(0.1, 400),
    one_way_m=st.floats(0.1, 15),
    drop_v=st.floats(0.05, 3),
    insulation_c=st.sampled_from(INSULATION),
)
def test_drop_of_the_chosen_cable(
    amps: float, one_way_m: float, drop_v: float, insulation_c: int
) -> None:
    """The chosen cable loses no more than allowed; any that was passed over loses more."""
    cable = conductors.for_drop(amps, one_way_m, drop_v, insulation_c=insulation_c)
    for other in conductors.sizes(insulation_c):
        lost = conductors.drop_volts(other, amps, one_way_m)
        if other == cable:
            assert lost <= drop_v * (1 + 1e-9)
            return
        assert lost > drop_v * (1 - 1e-9)
    assert cable is None


@given(st.sampled_from(INSULATION), st.floats(-40, 60), st.floats(-40, 60))
def test_warm_air_never_helps(insulation_c: int, one_c: float, other_c: float) -> None:
    """The factor falls with the air's temperature and stays within 0 and 1."""
    cool, warm = sorted((one_c, other_c))
    factors = [conductors.ambient_factor(insulation_c, x) for x in (cool, warm)]
    assert 0 < factors[1] <= factors[0] <= 1


@pytest.mark.parametrize(
    ("amps", "expected"),
    [(0.0, 1), (1.25 * 12, 15), (1.25 * 60, 80), (599.9, 600), (600.0, 600), (600.1, None)],
)
def test_next_rating(amps: float, expected: float | None) -> None:
    """The next standard size up; a current that is a size takes that size."""
    assert conductors.next_rating(amps) == expected


def test_european_breakers() -> None:
    """A 16 A inlet has a 16 A breaker, not the code's 20 A."""
    assert conductors.rating_within(16, conductors.BREAKERS_230V_A) == 16
    assert conductors.rating_within(15) == 15
    assert conductors.rating_within(0.5) is None


@pytest.mark.parametrize(
    ("area", "gauge"), [(2.5, 14), (4, 12), (16, 6), (35, 2), (70, -1), (95, -2), (120, -3)]
)
def test_metric_cable_counts_as_the_next_thinner_gauge(area: float, gauge: int) -> None:
    """A metric cable is never taken for more copper than it has."""
    assert conductors.of_area(area, 105) == Cable(gauge)
    assert conductors.of_area(0.5, 105) is None


def test_size_without_an_ampacity() -> None:
    """18 AWG stands only in the boat cable's table."""
    assert conductors.ampacity(Cable(18), insulation_c=75, ambient_c=30) == 0
    assert conductors.ampacity(Cable(18), insulation_c=105, ambient_c=30) == 20


def test_short_circuit_of_units_side_by_side() -> None:
    """The data sheet's figure, or 10 kA, for each."""
    assert conductors.short_circuit_amps(3500.0, 2) == 7000.0
    assert conductors.short_circuit_amps(None, 1) == 10_000.0
    assert conductors.short_circuit_amps(None, 3) == 30_000.0


def test_string_that_just_reaches() -> None:
    """28.2 V take two panels of 15.9 V, and one of exactly 28.2 V."""
    assert conductors.shortest_string(28.2, 15.9) == 2
    assert conductors.shortest_string(28.2, 28.2) == 1
    assert conductors.shortest_string(2.0, 28.2) == 1


def test_colder_than_the_table() -> None:
    """The code's table ends at -40 deg C; below it the panel's coefficient must be known."""
    with pytest.raises(NightledgerError, match="ends at -40 deg C"):
        conductors.cold_voltage_by_table(40.0, -41)
    assert conductors.voltage_at(40.0, -41, coeff_pct_c=-0.3) == pytest.approx(47.92)


def test_strings_in_parallel_add_up() -> None:
    """Three strings carry three times the current of one."""
    assert conductors.design_current(10.0, 3) == pytest.approx(37.5)
    assert conductors.rating_current(10.0, 3) == pytest.approx(46.875)


def test_string_that_just_fits() -> None:
    """100 V takes two panels of exactly 50 V and not two of 50.1 V."""
    assert conductors.longest_string(100, 50.0) == 2
    assert conductors.longest_string(100, 50.1) == 1
