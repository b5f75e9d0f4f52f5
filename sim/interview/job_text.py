"""The job file of an interview: commented, and made to be edited further."""

from __future__ import annotations

import json
from collections.abc import Iterator

from sim.interview.draft import Answers
from sim.interview.load_questions import all_aboard
from sim.interview.power_questions import charger_amps, controller_amps
from sim.interview.questions import PRICES
from sim.interview.roof_questions import roof_text
from sim.interview.tank_questions import engine_fuel, service_line, tank_lines
from sim.interview.trip_questions import There, trip_names
from sim.job import shelf
from sim.places.lookup import Place
from sim.places.roads import estimated_drive

# Draw of an inverter that is on and feeds nothing, of its rating (common practice, no source).
_IDLE_SHARE, _IDLE_LEAST_W = 0.006, 4

_HEAD = """\
# Nightledger job file: one customer, one van, the trips it must carry.
# Every key has its unit in its name. Where a length or a temperature is asked for you may
# write it in the other system: length_ft for length_m, day_f for day_c.
# `use` takes a profile from the shelf (see: nightledger shelf); any key beside it overrides.
# Every key with its units, bounds and meaning: nightledger shelf --keys.
# After a change: nightledger check FILE, then nightledger trip FILE.
"""


def job_text(answers: Answers) -> str:
    """A job file from the answers of a finished interview.

    Parameters
    ----------
    answers : dict
        From `interview_questions.questions`, all answered.

    Returns
    -------
    str
        TOML with comments, ending in a line end.
    """
    parts = [
        _HEAD,
        *_van(answers),
        *roof_text(answers),
        *_sources(answers),
        *tank_lines(answers),
        *_appliances(answers),
        *_prices(answers),
        *_trips(answers),
        _settings(answers),
        _wiring(answers),
    ]
    return "\n".join(parts)


def quoted(text: str) -> str:
    """A text as TOML writes it."""
    # JSON's escapes are among TOML's; the interview lets no control character in.
    return json.dumps(text, ensure_ascii=False)


def _van(answers: Answers) -> Iterator[str]:
    customer = answers["customer"]
    yield f"title = {quoted(f'Van for {customer}')}\ncustomer = {quoted(customer)}\n"
    unit = "ft" if answers["units"] == "us" else "m"
    place = "outside" if answers["battery"].is_outside else "cabin"
    yield (
        "[van]\n"
        f"use = {quoted(answers['van'])}\n"
        f"length_{unit} = {answers['length']}  # living space, behind the seats\n"
        "# skin_absorptance = 0.3  # of the roof: about 0.3 white, 0.6 silver, 0.9 black\n"
        f"battery_place = {quoted(place)}  # or the other: cabin, outside\n"
        f"engine_fuel = {quoted(engine_fuel(answers))}\n"
    )
    lines = [
        "[living]",
        f"use = {quoted(answers['living'])}",
        f"people = {answers['people']}",
        '# wake_at = "07:00"',
        '# sleep_at = "22:30"',
    ]
    if answers["pets"] == "stays":
        out = shelf.profile("days", answers["living"]).values["out"]
        lines.append("# A pet stays aboard: heat and fans run on as with people, who are out at")
        lines.append(f"# {', '.join(out)}. Their own warmth and their lamps are counted then too.")
        lines.append("out = []")
    yield "\n".join(lines) + "\n"


def _sources(answers: Answers) -> Iterator[str]:
    panels, bank = answers["panels"], answers["battery"]
    if panels is not None:
        yield (
            "[[panels]]  # once for each group that has a controller of its own\n"
            f"use = {quoted(panels.name)}\n"
            f"count = {panels.count}\n"
            'mount = "flat"\n'
            f"controller_amps = {controller_amps(answers)}  # {panels.watts:.0f} W at the bank\n"
        )
    yield f"[battery]\nuse = {quoted(bank.name)}\ncount = {bank.count}  # side by side\n"
    if answers["dcdc"]:
        yield (
            "[alternator]\n"
            f"dcdc_amps = {answers['dcdc']}\n"
            "# spare_amps = 70  # what the alternator can spare; left out: never the limit\n"
        )
    if answers["inlet"] != "none":
        volts, amps = answers["inlet"].split()
        yield (
            "[shore]\n"
            f"charger_amps = {charger_amps(answers)}  # at the battery, not at the plug\n"
            f"inlet_volts = {volts}\n"
            f"inlet_amps = {amps}\n"
        )
    if "inverter" in answers:
        watts = answers["inverter"]
        idle = max(round(_IDLE_SHARE * watts), _IDLE_LEAST_W)
        yield (
            "[inverter]\n"
            f"watts = {watts}\n"
            f"idle_watts = {idle}  # on and feeding nothing: see its data sheet\n"
            'runs = "when needed"  # or "always", "search", "by hand" with its hours in at\n'
        )


def _appliances(answers: Answers) -> Iterator[str]:
    for name, count in all_aboard(answers).items():
        profile = shelf.profile("appliances", name)
        lines = [f"[[appliances]]  # {profile.title}", f"use = {quoted(name)}"]
        if profile.values.get("fuel") in ("diesel", "petrol"):
            lines.append(f"fuel = {quoted(engine_fuel(answers))}  # from the van's own tank")
        if count > 1:
            lines.append(f"count = {count}")
        yield "\n".join(lines) + "\n"


def _prices(answers: Answers) -> Iterator[str]:
    if "currency" not in answers:
        return
    lines = ["[prices]  # of one, fitted", f"currency = {quoted(answers['currency'])}"]
    for key, what in PRICES:
        price = answers[f"price {key}"]
        lines.append(f"# {key} =  # {what}" if price is None else f"{key} = {price}  # {what}")
    yield "\n".join(lines) + "\n"


def _trips(answers: Answers) -> Iterator[str]:
    for key, name in trip_names(answers).items():
        yield (
            "[[trips]]\n"
            f"name = {quoted(name)}\n"
            f"depart = {answers[f'{key} depart'].isoformat()}\n"
            'leave_at = "10:00"  # of every morning of leaving, local time\n'
            f"start = {quoted(answers['home'].label)}\n"
        )
        before = answers["home"]
        for number, leg in enumerate(answers[f"{key} route"], 1):
            lines = [
                "[[trips.stops]]",
                f"place = {quoted(leg.place.label)}",
                f"nights = {leg.nights}",
                _drive_line(before, leg.place),
                *_there_lines(answers, answers.get(f"{key} stop {number} there")),
            ]
            yield "\n".join(lines) + "\n"
            before = leg.place


def _drive_line(before: Place, here: Place) -> str:
    drive = estimated_drive(before, here)
    if drive is None:
        return "drive_hours = 0  # no road is known: write the hours at the wheel"
    if drive.hours == 0.0:
        return "drive_hours = 0"
    return f"# drive_hours = {drive.hours:g}  # left out: estimated as this"


def _there_lines(answers: Answers, found: There | None) -> Iterator[str]:
    """What it is like at a stop with nights."""
    if found is None:
        return
    yield f"surroundings = {quoted(found.surroundings)}"
    if found.skyline_deg is not None:
        yield f"horizon_deg = {found.skyline_deg}  # the skyline"
    else:
        yield "# horizon_deg = 10  # a skyline of your own; shade_pct for trees"
    if found.plug != "never":
        has = "" if answers["inlet"] != "none" else "# "
        yield f"{has}plug_in = {quoted(found.plug)}" + ("  # the van has no inlet" if has else "")
    yield from service_line(answers, found.services)


def _settings(answers: Answers) -> str:
    return (
        "[settings]\n"
        "# draws = 500       # simulated trips; left out: as many as the answer needs\n"
        "seed = 1            # the same seed draws the same weather\n"
        'weather = "climate"\n'
        f"units = {quoted(answers['units'])}\n"
    )


def _wiring(answers: Answers) -> str:
    """A plan to be filled in: what the wiring sheet asks for first."""
    unit = "ft" if answers["units"] == "us" else "m"
    return (
        "# For nightledger wiring FILE: take the # away and write what is planned.\n"
        "# [wiring]\n"
        "# main_switch = true\n"
        "# [wiring.inverter]  # and roof, controller, alternator, dcdc, dc_panel, shore, charger\n"
        f"# length_{unit} = 1  # one way\n"
    )
