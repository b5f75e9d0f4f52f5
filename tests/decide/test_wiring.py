"""The wiring sheet: what is chosen, what is refused, what is asked for."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import get_args

import pytest

from sim.decide import wiring
from sim.decide.wiring.rows import WiringSheet
from sim.job.model.appliances import APPLIANCE_KINDS
from sim.job.model.wiring import Gauge
from sim.job.peaks import peak_watts
from sim.job.reading.load import load_job
from sim.job.shelf import everything
from sim.report.words.wiring_words import CheckText, check_texts
from sim.resources import profiles_dir
from sim.van.conductors import Cable

Sheet = Callable[..., WiringSheet]

FULL = """
[alternator]
dcdc_amps = 60

[shore]
charger_amps = 20
inlet_volts = 120
inlet_amps = 15

[inverter]
watts = 1000
idle_watts = 8
efficiency = 0.95
full_load_efficiency = 0.9
"""


@pytest.fixture
def sheet(small_job: str, write_job: Callable[[str], Path]) -> Sheet:
    """The sheet of the small job with sections added and some text replaced."""

    def make(more: str = "", **changes: str) -> WiringSheet:
        text = small_job
        for old, new in changes.items():
            assert old in text
            text = text.replace(old, new)
        return wiring(load_job(write_job(text + more)))

    return make


def line(sheet: WiringSheet, run: str, what: str) -> CheckText:
    """The one check of that run whose subject begins so."""
    (found,) = [x for x in check_texts(sheet) if x.run == run and x.what.startswith(what)]
    return found


def test_runs_follow_the_parts_that_are_there(sheet: Sheet) -> None:
    assert [run.name for run in sheet().runs] == [
        "Panels to controller",
        "Controller to battery",
        "Battery to DC panel",
    ]
    assert [run.name for run in sheet(FULL).runs] == [
        "Panels to controller",
        "Controller to battery",
        "Alternator to DC-DC charger",
        "DC-DC charger to battery",
        "Shore inlet to AC panel",
        "Shore charger to battery",
        "Battery to inverter",
        "Battery to DC panel",
    ]


def test_no_dc_panel_without_dc_appliances(sheet: Sheet) -> None:
    none = sheet(**{'use = "fridge-dc"': 'use = "fridge-dc"\ncount = 0'})
    assert "Battery to DC panel" not in [run.name for run in none.runs]


def test_dcdc_charger_of_60_amps(sheet: Sheet) -> None:
    """Fused above 60 A, by a cable that carries the fuse (common practice, no source)."""
    run = next(run for run in sheet(FULL).runs if run.name == "DC-DC charger to battery")
    assert run.amps == 60
    assert run.rating_a == 75
    assert run.fuse_a == 80
    # 4 AWG: the 75 deg C column has 85 A; at 104 deg F the 90 deg C column has 95 x 0.91 = 86.
    assert run.cable == Cable(4)


def test_current_into_the_dcdc_charger(sheet: Sheet) -> None:
    """30 A at 14.4 V from 13.2 V at an efficiency of 0.90 draw 36.4 A, by arithmetic."""
    more = "[alternator]\ndcdc_amps = 30\nefficiency = 0.9\nalternator_v = 13.2\nspare_amps = 45\n"
    made = sheet(more, **{'use = "lifepo4-100"': 'use = "lifepo4-100"\ncharging_v = 14.4'})
    run = next(run for run in made.runs if run.name == "Alternator to DC-DC charger")
    assert run.amps == pytest.approx(36.36, abs=0.01)
    spare = line(made, "Alternator", "Draw of the DC-DC charger")
    # Of 45 A a hot alternator spares 36 A, by the default loss of 20 %.
    assert (spare.status, spare.value) == ("change", "36.4 A")
    assert spare.limit.startswith("36 A")


def test_inverter_draws_most_from_a_low_bank(sheet: Sheet) -> None:
    """1000 W at a full-load efficiency of 0.9 from 12.0 V are 92.6 A; 125 % of them 115.7 A."""
    run = next(run for run in sheet(FULL).runs if run.name == "Battery to inverter")
    assert run.amps == pytest.approx(92.59, abs=0.01)
    assert run.fuse_a == 125
    lower = sheet(FULL + "[wiring]\nlowest_v = 10.5\n")
    run = next(run for run in lower.runs if run.name == "Battery to inverter")
    assert run.amps == pytest.approx(105.82, abs=0.01)
    assert run.fuse_a == 150


def test_a_long_run_takes_a_thicker_cable(sheet: Sheet) -> None:
    near = sheet(FULL + "[wiring.dcdc]\nlength_ft = 2\n")
    far = sheet(FULL + "[wiring.dcdc]\nlength_ft = 25\n")
    thin, thick = (
        next(run for run in made.runs if run.name == "DC-DC charger to battery")
        for made in (near, far)
    )
    assert thin.cable == Cable(4)
    # 10.75 x 60 A x 50 ft / (3 % of 12.8 V) = 83,984 circular mils: 1/0, not 1 with 83,690.
    assert thick.cable == Cable(0)
    assert thick.drop_pct is not None
    assert thick.drop_pct <= 3.0


def test_lengths_that_are_missing_are_asked_for(sheet: Sheet) -> None:
    asked = line(sheet(FULL), "Battery to inverter", "Voltage drop")
    assert asked.status == "say"
    assert asked.advice == "say how long the run is: length_ft under [wiring.inverter]"
    metric = sheet(FULL + '[settings]\nunits = "metric"\n')
    assert "length_m under" in line(metric, "Battery to inverter", "Voltage drop").advice


def fitted(cable: str, fuse: str, feet: float = 3) -> str:
    return f"{FULL}[wiring.inverter]\nlength_ft = {feet}\n{cable}\n{fuse}\n"


@pytest.mark.parametrize(
    ("cable", "fuse", "fuse_status", "cable_status", "advice"),
    [
        ('cable_awg = "1/0"', "fuse_amps = 125", "pass", "pass", ""),
        ('cable_awg = "1/0"', "fuse_amps = 100", "change", "pass", ""),
        ('cable_awg = "2"', "fuse_amps = 125", "pass", "change", "take 1 AWG (50 mm²) or thicker"),
        # A smaller fuse would do where the current allows one.
        (
            'cable_awg = "1"', "fuse_amps = 150", "pass", "change",
            "take 1/0 AWG (70 mm²) or thicker, or a fuse of 125 A",
        ),
        # 50 mm2 is more than 1 AWG and less than 1/0: it counts as 1 AWG.
        ("cable_mm2 = 50", "fuse_amps = 125", "pass", "pass", ""),
        ("cable_mm2 = 0.5", "fuse_amps = 125", "pass", "change", "take 1 AWG (50 mm²) or thicker"),
        (
            'cable_awg = "6"\nparallel = 2', "fuse_amps = 125", "pass", "change",
            "cables thinner than 1/0 AWG may not share a current; take one thicker cable",
        ),
        ('cable_awg = "1/0"\nparallel = 2', "fuse_amps = 300", "pass", "pass", ""),
    ],
)  # fmt: skip
def test_what_is_fitted_is_judged(
    sheet: Sheet, cable: str, fuse: str, fuse_status: str, cable_status: str, advice: str
) -> None:
    made = sheet(fitted(cable, fuse))
    assert line(made, "Battery to inverter", "Fuse").status == fuse_status
    carries = line(made, "Battery to inverter", "Cable carries")
    assert (carries.status, carries.advice) == (cable_status, advice)


def test_a_fitted_cable_that_is_too_long(sheet: Sheet) -> None:
    # 10.75 x 92.6 A x 40 ft / (3 % of 12.8 V) = 103,684 circular mils, 1/0 AWG.
    drop = line(sheet(fitted('cable_awg = "1"', "", 20)), "Battery to inverter", "Voltage drop")
    assert (drop.status, drop.advice) == ("change", "take 1/0 AWG (70 mm²) or thicker")


def test_nothing_is_thick_enough(sheet: Sheet) -> None:
    made = sheet(FULL.replace("watts = 1000", "watts = 20_000"))
    fuse = line(made, "Battery to inverter", "Fuse")
    assert fuse.status == "change"
    assert fuse.advice.endswith("split the load or raise the bank's voltage")
    assert line(made, "Battery to inverter", "Cable carries").status == "change"
    long = sheet(FULL + "[wiring.inverter]\nlength_m = 30\n[wiring]\ndrop_pct = 0.5\n")
    assert line(long, "Battery to inverter", "Voltage drop").status == "change"


def test_an_engine_space_is_hot(sheet: Sheet) -> None:
    """A fuse of 90 A: 2 AWG carries 115 A x 0.88 at 40 deg C, but x 0.75 at 50 it does not."""
    where = '[wiring.alternator]\nlength_ft = 1\nplace = "{}"\n'
    cables = [
        next(
            run.cable
            for run in sheet(FULL + "[wiring]\ninsulation_c = 75\n" + where.format(place)).runs
            if run.name == "Alternator to DC-DC charger"
        )
        for place in ("inside", "engine")
    ]
    assert cables == [Cable(2), Cable(1)]


def test_a_european_inlet_has_a_european_breaker(sheet: Sheet) -> None:
    made = sheet(FULL.replace("= 120", "= 230").replace("inlet_amps = 15", "inlet_amps = 16"))
    run = next(run for run in made.runs if run.name == "Shore inlet to AC panel")
    assert run.fuse_a == 16
    # 14 AWG may have 15 A by the code's cap, so 2.5 mm2 is not enough here.
    assert run.cable == Cable(12)


def test_a_breaker_above_the_inlets_rating(sheet: Sheet) -> None:
    made = sheet(FULL + "[wiring.shore]\nlength_ft = 9\nfuse_amps = 20\n")
    fuse = line(made, "Shore inlet to AC panel", "Fuse")
    assert (fuse.status, fuse.limit, fuse.advice) == (
        "change",
        "at most 15 A",
        "take 15 A, the standard rating for this current",
    )


def cold(series: int, limit: str, coldest: float = -10) -> tuple[str, str]:
    """Changes that give the panels the figures of the published example."""
    panels = (
        f"count = 6\nvoc_v = 49.5\nvoc_temp_coeff_pct_c = -0.27\nisc_a = 11.2\nseries = {series}\n"
        f"{limit}"
    )
    return panels, f"\n[wiring]\ncoldest_c = {coldest}\n"


@pytest.mark.parametrize(
    ("series", "limit", "statuses"),
    [
        (1, "", ["say", "say"]),
        (2, "controller_max_v = 150", ["pass", "pass"]),
        # 2 x 54.18 V by the coefficient fit into 110 V, 2 x 56.43 V by the table do not.
        (2, "controller_max_v = 110", ["pass", "change"]),
        (3, "controller_max_v = 150", ["change", "change"]),
        (1, "controller_max_v = 50", ["change", "change"]),
    ],
)
def test_panels_in_the_cold(sheet: Sheet, series: int, limit: str, statuses: list[str]) -> None:
    panels, plan = cold(series, limit)
    made = sheet(plan, **{"count = 2": panels})
    rows = [x for x in check_texts(made) if x.what.startswith("Open-circuit voltage in the cold")]
    assert [row.status for row in rows] == statuses
    assert [row.value.split(",")[0] for row in rows] == [
        f"{series * volts:.1f} V".replace(".0 V", " V") for volts in (49.5 * 1.0945, 49.5 * 1.14)
    ]
    if limit.endswith(" 50"):
        assert "not even one panel is safe" in rows[0].advice
    if series == 3:
        assert rows[0].advice.startswith("at most 2 in series")


def test_colder_than_the_codes_table(sheet: Sheet) -> None:
    panels, plan = cold(1, "", coldest=-45)
    made = sheet(plan, **{"count = 2": panels})
    rows = [x for x in check_texts(made) if x.what.startswith("Open-circuit voltage in the cold")]
    assert [row.basis for row in rows] == ["by the panel's coefficient, NEC 690.7(A)(1)"]


def test_current_of_panels_in_strings(sheet: Sheet) -> None:
    """Six panels of 11.2 A, two in series: three strings, 3 x 11.2 x 1.5625 = 52.5 A."""
    panels, plan = cold(2, "")
    run = sheet(plan, **{"count = 2": panels}).runs[0]
    assert run.rating_a == pytest.approx(52.5)
    assert run.fuse_a == 60


def test_strings_must_be_equal(sheet: Sheet) -> None:
    panels, plan = cold(4, "")
    strings = line(sheet(plan, **{"count = 2": panels}), "Panels", "Strings")
    assert strings.status == "change"


def test_panels_of_unknown_voltage(sheet: Sheet) -> None:
    own = "watts = 170\ntemp_coeff_pct_c = -0.36"
    made = sheet(**{'use = "rigid-170"': own})
    assert line(made, "Panels", "Voltage and current").status == "say"
    assert "Panels to controller" not in [run.name for run in made.runs]


@pytest.mark.parametrize(("amps", "status"), [(30, "pass"), (20, "say"), (10, "change")])
def test_controller_beside_its_panels(sheet: Sheet, amps: int, status: str) -> None:
    """340 W are 24 A at 13.6 V after the controller: 20 A clip a little, 10 A far too much."""
    made = sheet(**{"controller_amps = 30": f"controller_amps = {amps}"})
    assert line(made, "Panels", "Controller's output").status == status


def test_bank_beside_inverter_and_chargers(sheet: Sheet) -> None:
    """A bank of 100 Ah gives 100 A and takes 50 A."""
    made = sheet(FULL)
    assert line(made, "Battery", "Discharge").status == "pass"
    driving = line(made, "Battery", "Charge while driving")
    assert (driving.status, driving.value, driving.limit) == ("change", "90 A", "50 A, 0.5 C")
    assert line(made, "Battery", "Charge on the plug").status == "pass"
    assert line(sheet(FULL.replace("= 1000", "= 1500")), "Battery", "Discharge").status == "change"


@pytest.mark.parametrize(
    ("count", "given", "cuts", "status", "value"),
    [
        # Without the data sheet's figure 10 kA a unit, and a class of 20 kA asked for.
        (1, "", "", "say", "10,000 A, assumed at 10,000 A a unit"),
        (1, "", "20_000", "pass", "10,000 A, assumed at 10,000 A a unit"),
        (1, "", "7_000", "change", "10,000 A, assumed at 10,000 A a unit"),
        (1, "", "12_000", "change", "10,000 A, assumed at 10,000 A a unit"),
        (3, "", "20_000", "say", "30,000 A, assumed at 10,000 A a unit"),
        # With it, what all units drive together.
        (2, "4_000", "", "say", "8,000 A"),
        (2, "4_000", "8_000", "pass", "8,000 A"),
        (2, "4_000", "6_000", "change", "8,000 A"),
    ],
)
def test_short_circuit_at_the_bank(
    sheet: Sheet, count: int, given: str, cuts: str, status: str, value: str
) -> None:
    """NEC 110.9: what opens a fault is rated for its current."""
    plan = f"[wiring]\nbank_fuse_interrupts_amps = {cuts}\n" if cuts else ""
    bank = f'use = "lifepo4-100"\ncount = {count}'
    bank += f"\nshort_circuit_amps = {given}" if given else ""
    row = line(sheet(plan, **{'use = "lifepo4-100"': bank}), "Battery", "Short circuit")
    assert (row.status, row.value) == (status, value)
    if not given and status != "pass":
        assert "short_circuit_amps of the battery from its data sheet" in row.advice
        assert "20,000 A" in row.advice or "a fuse of that class at each unit" in row.advice


def strung(series: int, more: str = "", count: int = 6) -> dict[str, str]:
    """Changes that give the small job panels of 11.2 A in strings."""
    return {"count = 2": f"count = {count}\nisc_a = 11.2\nseries = {series}\n{more}"}


@pytest.mark.parametrize(
    ("module", "plan", "status", "advice"),
    [
        # 1.5625 x 11.2 A = 17.5 A, so 20 A, where the module's rating allows them.
        ("", "", "say", "fit 20 A in each string; say series_fuse_a"),
        ("series_fuse_a = 20", "", "choose", "fit 20 A in each string"),
        ("series_fuse_a = 20", "string_fuse_amps = 20", "pass", ""),
        ("", "string_fuse_amps = 20", "say", "say series_fuse_a of the panel"),
        ("series_fuse_a = 20", "string_fuse_amps = 15", "change", "take 20 A in each string"),
        ("series_fuse_a = 20", "string_fuse_amps = 30", "change", "take 20 A in each string"),
        ("series_fuse_a = 18", "string_fuse_amps = 20", "change", "no standard rating"),
        (
            "series_fuse_a = 20",
            "[wiring.roof]\nlength_m = 4\nfuse_amps = 60",
            "change",
            "it protects none of them: fit 20 A in each string",
        ),
    ],
)
def test_three_strings_need_a_fuse_each(
    sheet: Sheet, module: str, plan: str, status: str, advice: str
) -> None:
    made = sheet(f"\n[wiring]\n{plan}\n", **strung(2, module))
    row = line(made, "Panels", "Fuse of each string")
    assert row.status == status
    assert row.advice.startswith(advice)
    assert row.limit.startswith("at least 17.5 A")


def test_two_strings_need_none(sheet: Sheet) -> None:
    made = sheet(**strung(3))
    assert not [x for x in check_texts(made) if x.what.startswith("Fuse of each string")]


def on_24_v(panels: str) -> dict[str, str]:
    """Changes that give the small job a bank of 24 V and other panels."""
    return {
        "count = 2": panels,
        'use = "lifepo4-100"': 'use = "lifepo4-100"\nnominal_v = 25.6\ncharging_v = 27.2',
    }


@pytest.mark.parametrize(
    ("panels", "status", "value", "limit", "advice"),
    [
        # 23 V x (1 + 0.0029 x 45) = 26.0 V in the cold, and 25.6 V + 5 V to start.
        (
            "count = 2",
            "change",
            "26 V open at -4 °F, 1 in series",
            "at least 30.6 V, to start on this bank",
            "these panels give nothing: put 2 in series",
        ),
        # 38 V x (1 - 0.0036 x 45) = 31.8 V when hot, and 27.2 V + 0.5 V to run.
        (
            "count = 2\nseries = 2",
            "pass",
            "31.8 V at 158 °F, 2 in series",
            "at least 27.7 V, to run on this bank",
            "",
        ),
        # 31 V x (1 - 0.0036 x 45) = 26.0 V.
        (
            "count = 2\nvmp_v = 31\nvoc_v = 37",
            "change",
            "26 V at 158 °F, 1 in series",
            "at least 27.7 V, to run on this bank",
            "hot panels give less or nothing: put 2 in series",
        ),
        # 19 V x (1 + 0.0036 x 45) = 22.1 V in the cold stay below the bank.
        (
            'count = 2\ncontroller = "boost"',
            "pass",
            "22.1 V at -4 °F, 1 in series",
            "at most 27.2 V, the bank's while charging",
            "",
        ),
        (
            'count = 2\ncontroller = "boost"\nseries = 2',
            "change",
            "44.2 V at -4 °F, 2 in series",
            "at most 27.2 V, the bank's while charging",
            "at most 1 in series",
        ),
    ],
)
def test_strings_beside_a_bank_of_24_v(
    sheet: Sheet, panels: str, status: str, value: str, limit: str, advice: str
) -> None:
    row = line(sheet(**on_24_v(panels)), "Panels", "String's voltage")
    assert (row.status, row.value, row.limit) == (status, value, limit)
    assert row.advice.startswith(advice)


def test_a_string_of_unknown_voltage(sheet: Sheet) -> None:
    made = sheet(**{'use = "rigid-170"': "watts = 170\ntemp_coeff_pct_c = -0.36"})
    row = line(made, "Panels", "String's voltage")
    assert (row.status, row.advice) == ("say", "say vmp_v of the panel, from its data sheet")


CONVERTER = "\n[converter]\namps = 30\nvolts = 12\nefficiency = 0.9\n"


def test_house_loads_behind_a_converter(sheet: Sheet) -> None:
    """360 W out are 360 / (0.9 x 24 V) = 16.7 A in at the bank's lowest, 0.9375 x 25.6 V."""
    made = sheet(CONVERTER, **on_24_v("count = 2"))
    runs = {run.name: run for run in made.runs}
    assert "Battery to DC panel" not in runs
    assert runs["Battery to converter"].amps == pytest.approx(360.0 / (0.9 * 24.0))
    assert runs["Battery to converter"].fuse_a == 25
    assert runs["Converter to DC panel"].amps == pytest.approx(30.0)
    assert runs["Converter to DC panel"].fuse_a == 40
    assert line(made, "Converter", "DC loads at once").status == "pass"
    small = sheet(CONVERTER.replace("= 30", "= 3"), **on_24_v("count = 2"))
    assert line(small, "Converter", "DC loads at once").status == "change"


HOB = '[[appliances]]\nuse = "induction-hob"\n'
MICROWAVE = '[[appliances]]\nuse = "microwave"\nat = ["18:40-18:50"]\n'
LATE = MICROWAVE.replace("18:40-18:50", "23:50-00:10")


@pytest.mark.parametrize(
    ("loads", "watts", "status"),
    [
        (HOB, 2000, "pass"),
        (HOB + MICROWAVE, 3000, "pass"),
        (HOB + MICROWAVE, 2000, "change"),
        # At other hours they share an inverter, if nobody cooks late.
        (HOB + LATE, 2000, "say"),
    ],
)
def test_ac_loads_at_once(sheet: Sheet, loads: str, watts: int, status: str) -> None:
    made = sheet(FULL.replace("= 1000", f"= {watts}") + loads)
    assert line(made, "Inverter", "AC loads at once").status == status


@pytest.mark.parametrize(
    ("plan", "status"),
    [
        ("", "say"),
        ("[wiring]\ninverter_surge_watts = 2000\n", "pass"),
        ("[wiring]\ninverter_surge_watts = 500\n", "change"),
    ],
)
def test_a_compressor_starts(sheet: Sheet, plan: str, status: str) -> None:
    fridge = '[[appliances]]\nuse = "fridge-freezer-ac"\n'
    row = line(sheet(FULL + fridge + plan), "Inverter", "Start of a compressor")
    assert (row.status, row.value) == (status, "600 W")


def test_an_inlet_that_is_too_small(sheet: Sheet) -> None:
    """80 % of 1,800 W are 1,440 W: a hob does not fit beside the charger, 120 A do not at all."""
    hob = sheet(FULL.replace("= 1000", "= 2000") + HOB)
    assert line(hob, "Shore inlet", "Charger and AC loads").status == "say"
    large = sheet(FULL.replace("charger_amps = 20", "charger_amps = 120"))
    assert line(large, "Shore inlet", "Charger and AC loads").status == "change"
    assert line(sheet(FULL), "Shore inlet", "Charger and AC loads").status == "pass"


@pytest.mark.parametrize(("said", "status"), [("", "say"), ("true", "pass"), ("false", "change")])
def test_ticks(sheet: Sheet, said: str, status: str) -> None:
    plan = f"[wiring]\nmain_switch = {said}\n" if said else ""
    assert line(sheet(plan), "Battery", "A main switch").status == status


def test_alarms_are_asked_for_when_fuel_is_aboard(sheet: Sheet) -> None:
    def asked(more: str) -> set[str]:
        words = ("Carbon monoxide", "Propane alarm", "Propane is stored", "AC and DC")
        return {word for word in words for x in check_texts(sheet(more)) if x.what.startswith(word)}

    assert asked("") == set()
    assert asked(FULL) == {"AC and DC"}
    assert asked('[[appliances]]\nuse = "air-heater-fuel"\n') == {"Carbon monoxide"}
    assert asked('[propane]\ntank_l = 20\n[[appliances]]\nuse = "furnace-propane"\n') == {
        "Carbon monoxide", "Propane alarm", "Propane is stored",
    }  # fmt: skip


def test_a_large_load_has_its_own_run(sheet: Sheet) -> None:
    """75 W at 12 V are 6.25 A; the pump is essential, so 3 % and not 10 % may be lost."""
    pump = '[water]\nfresh_l = 80\nopen_drains = ["kitchen", "basin", "shower"]\n'
    pump += '[[appliances]]\nuse = "water-pump"\n'
    plan = '[[wiring.loads]]\nname = "Water pump"\nlength_ft = 10\ncable_awg = "14"\n'
    made = sheet(pump + plan)
    run = next(run for run in made.runs if run.name == "Water pump")
    assert run.amps == pytest.approx(6.25)
    assert run.is_fitted
    assert line(made, "Water pump", "Voltage drop").limit == "3 % of 12.8 V"


@pytest.mark.parametrize("kind", APPLIANCE_KINDS)
def test_every_kind_of_appliance_has_a_peak(kind: str) -> None:
    """A new kind must say what it draws at most, or it would vanish from the sheet."""
    profiles = [x for x in everything() if x.section == "appliances" and x.values["kind"] == kind]
    model = APPLIANCE_KINDS[kind]
    assert profiles
    for profile in profiles:
        values = {k: tuple(v) if isinstance(v, list) else v for k, v in profile.values.items()}
        assert peak_watts(model.model_validate({**values, "count": 2})) > 0  # type: ignore[arg-type]


@pytest.mark.parametrize("gauge", get_args(Gauge))
def test_every_gauge_a_job_may_name_is_known(sheet: Sheet, gauge: str) -> None:
    made = sheet(fitted(f'cable_awg = "{gauge}"', ""))
    run = next(run for run in made.runs if run.name == "Battery to inverter")
    assert run.cable is not None
    assert run.cable.name == f"{gauge} AWG"


def test_the_demo_says_what_stands_behind_every_line() -> None:
    made = wiring(load_job(profiles_dir() / "jobs" / "demo.toml"))
    assert len(made.runs) > 8
    for check in check_texts(made):
        assert check.basis
        assert check.value
        assert bool(check.advice) == (check.status != "pass")


@pytest.mark.parametrize(("amps", "status"), [(120, "change"), (140, "pass")])
def test_an_alternator_gives_half_of_its_rating(sheet: Sheet, amps: int, status: str) -> None:
    """60 A at 13.4 V from 13.5 V at an efficiency of 0.9 draw 66.2 A."""
    made = sheet(FULL + f"[wiring]\nalternator_amps = {amps}\n")
    row = line(made, "Alternator", "Share of its rating")
    assert (row.status, row.value) == (status, "66.2 A")
    assert line(sheet(FULL), "Alternator", "Share of its rating").status == "say"


def test_sun_and_engine_charge_together(sheet: Sheet) -> None:
    """30 A from each are too much for a bank that takes 50 A, though neither is alone."""
    made = sheet(FULL.replace("dcdc_amps = 60", "dcdc_amps = 30"))
    assert line(made, "Battery", "Charge while driving").status == "change"


def test_a_load_past_midnight_meets_one_before_noon(sheet: Sheet) -> None:
    """23:50 to 00:10 is twenty minutes about midnight and no other part of the day."""
    late = HOB.replace("induction-hob", "microwave") + 'at = ["23:50-00:10"]\n'
    early = MICROWAVE.replace("18:40-18:50", "00:05-00:15")
    noon = MICROWAVE.replace("18:40-18:50", "11:50-12:10")
    big = FULL.replace("= 1000", "= 2000")
    assert "2,200 W by the clock" in line(sheet(big + late + early), "Inverter", "AC loads").value
    assert "1,100 W by the clock" in line(sheet(big + late + noon), "Inverter", "AC loads").value


def test_the_plugs_side_is_wired_in_a_buildings_manner(sheet: Sheet) -> None:
    """A 15 A inlet has 14 AWG at least, though boat cable of 18 AWG may have 20 A."""
    made = sheet(FULL + "[wiring]\ninsulation_c = 105\n")
    run = next(run for run in made.runs if run.name == "Shore inlet to AC panel")
    assert run.cable == Cable(14)


def test_an_inlet_is_used_to_four_fifths(sheet: Sheet) -> None:
    """A charger of 100 A at 13.6 V and an efficiency of 0.88 takes 1,545 W of 1,800 W: too much."""
    made = sheet(FULL.replace("charger_amps = 20", "charger_amps = 100"))
    row = line(made, "Shore inlet", "Charger and AC loads")
    assert (row.status, row.limit) == ("change", "1,440 W, 80 % of 1,800 W")


def test_what_runs_on_the_plug_alone_loads_the_inlet_and_not_the_inverter(sheet: Sheet) -> None:
    heater = '[[appliances]]\nuse = "induction-hob"\nruns = "plugged"\n'
    made = sheet(FULL.replace("= 1000", "= 2000") + heater)
    assert line(made, "Inverter", "AC loads").value == "0 W by the clock, 0 W all on"
    assert line(made, "Shore inlet", "Charger and AC loads").value.endswith("1,805 W all on")


@pytest.mark.parametrize(("watts", "own"), [(59, False), (61, True), (64, True)])
def test_a_load_is_large_by_what_it_draws_from_a_low_bank(
    sheet: Sheet, watts: int, own: bool
) -> None:
    """5 A at 12.0 V are 60 W; at the bank's nominal 12.8 V they would be 64 W."""
    pump = f'\n[[appliances]]\nname = "Lamp"\nkind = "steady"\nwatts = {watts}\n'
    assert ("Lamp" in [run.name for run in sheet(pump).runs]) is own


def test_several_groups_of_panels_are_told_apart_by_number(sheet: Sheet) -> None:
    more = '\n[[panels]]\nuse = "rigid-220"\ncount = 1\ncontroller_amps = 20\n'
    one = {x.run for x in check_texts(sheet()) if x.run.startswith("Panels")}
    two = {x.run for x in check_texts(sheet(more)) if x.run.startswith("Panels")}
    assert {name for name in one if name[-1].isdigit()} == set()
    assert {"Panels 1", "Panels 2"} <= two
