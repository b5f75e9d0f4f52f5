"""The wordings of the wiring sheet, a template for each check; `wiring_words` fills them in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from sim.decide.wiring.rows import CurrentRule, FusePlace, Subject

# A template, or templates by how a check ended, by the rule applied, or "else".
Text = str | Mapping[str, str]


@dataclass(frozen=True)
class Wording:
    """The words of one kind of check.

    Attributes
    ----------
    what : str or mapping
        What is looked at.
    value, limit, basis, advice : str or mapping
        Templates; see the module's docstring.
    """

    what: Text
    value: Text
    limit: Text
    basis: Text
    advice: Text


_PRACTICE = "common practice, no source"
_FROM_MEMORY = "NFPA 1192, from memory"
_DATA_SHEET = "of the battery, see its data sheet"
_THICK = "no cable is thick enough"
_THICKER = "take {better:cable} or thicker"
_SPLIT = "split the load or raise the bank's voltage"

CURRENT_RULES: dict[CurrentRule, str] = {
    "panels": "125 % of the short-circuit current, {rows} x {isc_a:A} (NEC 690.8(A))",
    "dcdc": "{dcdc_a:A} out at {charging_v:V}, efficiency {efficiency:g}, {alternator_v:V} in",
    "inlet": "rating of the inlet, {inlet_a:A} at {inlet_v:V}",
    "inverter": "{inverter_w:W}, efficiency {efficiency:g}, bank at its lowest, {low_v:V} "
    "(NEC 690.8(A), inverter input)",
    "charger": "rated output of the charger",
    "converter": "{rated_w:W} out, efficiency {efficiency:g}, bank at its lowest, {low_v:V}",
    "converter out": "rated output of the converter, {rated_w:W} at {volts:V}",
    "all loads": "all DC loads at once, {draw_w:W} at {low_v:V}",
    "load": "{draw_w:W} at {low_v:V}",
}
FUSE_PLACES: dict[FusePlace, str] = {
    "roof": "roof end, or a breaker at the controller; three or more strings need a fuse each "
    "besides",
    "starter battery": "starter battery, and at the far end if that end can feed back",
    "AC panel": "AC panel, within 10 ft (3 m) of the inlet",
    "battery": "battery",
    "converter": "converter's output",
    "DC panel": "DC panel",
}


def _tick(what: str, basis: str) -> Wording:
    return Wording(
        what,
        value={"yes": "yes", "no": "no", "unknown": "☐"},
        limit="must be there",
        basis=basis,
        advice={
            "unknown": "tick it, or write {key} = true under [wiring]",
            "no": "fit it before the van is lived in",
        },
    )


def _charge(what: str) -> Wording:
    return Wording(
        f"{what}, sun included",
        value="{in_a:A}",
        limit="{may_a:A}, {c_rate:g} C",
        basis=f"max_charge_c {_DATA_SHEET}",
        advice="set the chargers to {may_a:A} together, or a larger bank",
    )


_RUNS: dict[Subject, Wording] = {
    "fuse": Wording(
        "Fuse or breaker",
        value={"none": "none", "else": "{fuse_a:A}"},
        limit={"inlet": "at most {rating_a:A}", "else": "at least {rating_a:A}"},
        basis={
            "continuous": "125 % for a load that lasts, NEC 210.20(A) and 215.3",
            "panels": "125 % of that again, NEC 690.8(B) and 690.9(B)",
            "inlet": "breaker within the inlet's rating, NEC 551.43 (from memory)",
        },
        advice={
            "choose": "fit {fuse_a:A} at the {fuse_at:place}",
            "other": "take {best_a:A}, the standard rating for this current",
            "else": f"no standard rating up to {{largest_a:A}} is right; {_SPLIT}",
        },
    ),
    "ampacity": Wording(
        "Cable carries its fuse",
        value={
            "no fuse": "none",
            "no cable": "none",
            "else": "{cable:cable}: {carries_a:carries} at {ambient_c:C}",
        },
        limit={"no fuse": "no fuse found", "else": "at least {fuse_a:A}, its fuse"},
        basis={
            "75": "NEC tables 310.16 and 310.15(B)(1), 75 °C column",
            "90": "NEC tables 310.16 and 310.15(B)(1), 90 °C column, terminals for 75 °C by "
            "110.14(C)",
            "105": "boat cable of 105 °C, ABYC E-11",
            "parallel": "NEC 310.10(G), from memory",
        },
        advice={
            "choose": "fit {cable:cable} or thicker, insulation {insulation_c} °C",
            "parallel": "cables thinner than 1/0 AWG may not share a current; take one thicker "
            "cable",
            "thicker": _THICKER,
            "thicker or fuse": f"{_THICKER}, or a fuse of {{smaller_a:A}}",
            "none thick": _THICK,
            "none thick or fuse": f"{_THICK}, or a fuse of {{smaller_a:A}}",
            "else": f"no cable in the table is thick enough; {_SPLIT}",
        },
    ),
    "drop": Wording(
        "Voltage drop",
        value={
            "no length": "length not known",
            "no length of load": "length not known",
            "no cable": "no cable found",
            "else": "{drop_v:V}, {drop_pct:%} over {length_m:m}",
        },
        limit="{may_pct:%} of {volts:V}",
        basis="circular mil rule with K 10.75, ABYC E-11; 3 % for feeders, charging and essential "
        "loads, 10 % for the rest",
        advice={
            "no length": "say how long the run is: {length_key} under [{key}]",
            "no length of load": 'say how long the run is: {length_key} under [[{key}]] with name '
            '= "{run}"',
            "no cable": "move the ends closer together or raise the voltage",
            "thicker": _THICKER,
            "none thick": _THICK,
        },
    ),
}  # fmt: skip

_PANELS: dict[Subject, Wording] = {
    "panel figures": Wording(
        "Voltage and current",
        value="not known",
        limit="",
        basis="NEC 690.7, 690.8",
        advice="say voc_v and isc_a of the panel, from its data sheet",
    ),
    "strings": Wording(
        "Strings",
        value="{count} panels",
        limit="{series} in series",
        basis="strings side by side must be equal",
        advice="the count must be a multiple of series",
    ),
    "string voltage": Wording(
        "String's voltage beside the bank",
        value={
            "unknown": "not known",
            "never": "{string_v:V} open at {cell_c:C}, {series} in series",
            "else": "{string_v:V} at {cell_c:C}, {series} in series",
        },
        limit={
            "unknown": "not known",
            "never": "at least {limit_v:V}, to start on this bank",
            "boost": "at most {limit_v:V}, the bank's while charging",
            "else": "at least {limit_v:V}, to run on this bank",
        },
        basis={
            "boost": "a controller that steps up; vmp_v with temp_coeff_pct_c",
            "else": "charging_v plus run_above_v, to start nominal_v plus start_above_v; vmp_v "
            "with temp_coeff_pct_c",
        },
        advice={
            "unknown": "say vmp_v of the panel, from its data sheet",
            "never": "these panels give nothing: put {wanted} in series, or take a controller "
            'that steps up (controller = "boost")',
            "hot": "hot panels give less or nothing: put {wanted} in series, or take a controller "
            'that steps up (controller = "boost")',
            "above": "at most {wanted} in series, or a controller that steps down",
            "not one": "take a controller that steps down: not even one panel stays below the bank",
        },
    ),
    "string fuse": Wording(
        "Fuse of each string",
        value={
            "none fits": "none",
            "roof alone": "one of {roof_a:A} at the roof end, for {rows} strings",
            "unknown": "none said, {rows} strings",
            "choose": "none said, {rows} strings",
            "else": "{fuse_a:A} in each of {rows} strings",
        },
        limit={
            "module": "at least {least_a:A}, at most {most_a:A}, the module's series fuse rating",
            "else": "at least {least_a:A}; the module's series fuse rating is not known",
        },
        basis="a fault in one of three or more strings draws on all others, NEC 690.9(A) (from "
        "memory); 156 % of the short-circuit current, NEC 690.8 and 690.9(B)",
        advice={
            "none fits": "no standard rating lies between the two: put more in series, so that "
            "at most two strings stand side by side, or give each its own controller",
            "roof alone": "it protects none of them: fit {best_a:A} in each string, in its "
            "positive cable at the roof, and say string_fuse_amps under [wiring]",
            "unknown": "fit {best_a:A} in each string; say series_fuse_a of the panel, which it "
            "may not pass, and string_fuse_amps under [wiring]",
            "choose": "fit {best_a:A} in each string, and say string_fuse_amps under [wiring]",
            "unrated": "say series_fuse_a of the panel, from its data sheet",
            "other": "take {best_a:A} in each string",
        },
    ),
    "controller output": Wording(
        "Controller's output",
        value="{given_a:A} from {array_w:W} at {charging_v:V}",
        limit="{controller_a:A}, its rating",
        basis="rating of the controller",
        advice={
            "clips": "it clips in full sun; see whether its data sheet allows so many panels",
            "far above": "far above the rating: a larger controller, a second one, or fewer panels",
        },
    ),
    "cold voltage": Wording(
        {
            "coefficient": "Open-circuit voltage in the cold, by their coefficient",
            "table": "Open-circuit voltage in the cold, by the code's table",
        },
        value="{string_v:V}, {series} in series at {coldest_c:C}",
        limit={"unknown": "not known", "else": "{highest_v:V}, the controller's highest"},
        basis={
            "coefficient": "by the panel's coefficient, NEC 690.7(A)(1)",
            "table": "by NEC table 690.7(A)",
        },
        advice={
            "unknown": "say controller_max_v under [[panels]]",
            "fewer": "at most {most} in series, or a controller of higher voltage",
            "not one": "not even one panel is safe: take a controller of higher voltage",
        },
    ),
}

_PARTS: dict[Subject, Wording] = {
    "alternator spare": Wording(
        "Draw of the DC-DC charger",
        value="{draw_a:A}",
        limit="{spare_a:A}, what it can spare when hot",
        basis="spare_amps and hot_loss_pct of the job",
        advice="set the charger lower, or fit a smaller one",
    ),
    "alternator share": Wording(
        "Share of its rating for hours on end",
        value="{draw_a:A}",
        limit={"unknown": "rating not known", "else": "{may_a:A}, half of {alternator_a:A}"},
        basis=_PRACTICE,
        advice={
            "unknown": "say alternator_amps under [wiring]",
            "above": "set the charger lower, fit a smaller one, or a larger alternator",
        },
    ),
    "bank discharge": Wording(
        "Discharge with inverter and DC loads at full",
        value="{out_a:A}",
        limit="{may_a:A}, {c_rate:g} C",
        basis=f"max_discharge_c {_DATA_SHEET}",
        advice="a larger bank, a smaller inverter, or loads that never run together",
    ),
    "charge driving": _charge("Charge while driving"),
    "charge plugged": _charge("Charge on the plug"),
    "short circuit": Wording(
        "Short circuit at its terminals",
        value={
            "given": "{short_a:,.0f} A",
            "assumed": "{short_a:,.0f} A, assumed at {unit_a:,.0f} A a unit",
        },
        limit={
            "unknown given": "not known",
            "unknown assumed": "not known",
            "given": "{cuts_a:,.0f} A, what its fuse cuts off",
            "assumed": "{cuts_a:,.0f} A, what its fuse cuts off",
        },
        basis="interrupting rating, NEC 110.9; bolted strip and blade fuses cut off 1 to 6 kA, "
        "class T types 20 kA (from memory)",
        advice={
            "unknown given": "the fuse at the bank must be rated to cut off {short_a:,.0f} A of "
            "direct current; say bank_fuse_interrupts_amps under [wiring]",
            "unknown assumed": "take a fuse of a class that cuts off {high_a:,.0f} A of direct "
            "current; say bank_fuse_interrupts_amps under [wiring], and short_circuit_amps of the "
            "battery from its data sheet",
            "above": "take a fuse of higher interrupting rating at the bank",
            "below class": "take a fuse of a class that cuts off {high_a:,.0f} A of direct "
            "current, or say short_circuit_amps of the battery from its data sheet",
            "many": "fit a fuse of that class at each unit, and say short_circuit_amps of the "
            "battery from its data sheet",
        },
    ),
    "DC at once": Wording(
        "DC loads at once",
        value="{by_clock_w:W} by the clock, {together_w:W} all on",
        limit="{rated_w:W}, for good",
        basis="rating of the converter",
        advice={
            "by clock": "tell the customer what may not run together",
            "above": "a larger converter, or loads at other hours",
        },
    ),
    "AC at once": Wording(
        "AC loads at once",
        value="{by_clock_w:W} by the clock, {together_w:W} all on",
        limit="{inverter_w:W}, for good",
        basis="rating of the inverter",
        advice={
            "by clock": "tell the customer what may not run together",
            "above": "a larger inverter, or loads at other hours",
        },
    ),
    "compressor start": Wording(
        "Start of a compressor beside the other AC loads",
        value="{start_w:W}",
        limit={"unknown": "not known", "else": "{surge_w:W}, its surge"},
        basis=f"{{times:g}} times its running power, {_PRACTICE}",
        advice={
            "unknown": "say inverter_surge_watts under [wiring]",
            "above": "an inverter with more surge, or a compressor with a soft start",
        },
    ),
    "inlet at once": Wording(
        "Charger and AC loads at once",
        value="{need_w:W} by the clock, {all_on_w:W} all on",
        limit="{may_w:W}, 80 % of {inlet_w:W}",
        basis="a load that lasts takes at most 80 % of its breaker, NEC 210.20(A)",
        advice={
            "by clock": "set the charger lower while large AC loads run, or fit one that does so "
            "itself",
            "above": "the charger alone is too much for this inlet: set it lower or fit a larger "
            "inlet",
        },
    ),
}

_TICKS: dict[Subject, Wording] = {
    "main_switch": _tick("A main switch cuts all house power", _PRACTICE),
    "fuse_at_battery": _tick(
        "A fuse within 7 in (18 cm) of the bank's positive terminal", "ABYC E-11, from memory"
    ),
    "ac_dc_apart": _tick("AC and DC protection sit in separate compartments", _PRACTICE),
    "extinguisher": _tick("A fire extinguisher is at hand by the door", _PRACTICE),
    "smoke_alarm": _tick("Smoke alarm (UL 217)", _FROM_MEMORY),
    "co_alarm": _tick("Carbon monoxide alarm (UL 2034)", _FROM_MEMORY),
    "propane_alarm": _tick("Propane alarm, low down (UL 1484)", _FROM_MEMORY),
    "propane_outside": _tick("Propane is stored outside the living space", _PRACTICE),
}

WORDINGS: dict[Subject, Wording] = {**_RUNS, **_PANELS, **_PARTS, **_TICKS}
