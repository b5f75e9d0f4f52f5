"""The job file of an interview: commented, and made to be edited further."""

from __future__ import annotations

import json
from collections.abc import Iterator

from sim.interview.draft import Answers
from sim.interview.questions import PRICES
from sim.interview.tank_questions import service_line, tank_lines
from sim.job import shelf

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
    yield (
        "[van]\n"
        f"use = {quoted(answers['van'])}\n"
        f"length_{unit} = {answers['length']}  # living space, behind the seats\n"
        f"skin_absorptance = {answers['colour']}  # about 0.3 white, 0.6 silver, 0.9 black\n"
        f"battery_place = {quoted(answers['battery_place'])}  # or the other: cabin, outside\n"
        f"engine_fuel = {quoted(answers.get('engine fuel', 'diesel'))}\n"
    )
    yield (
        "[living]\n"
        f"use = {quoted(answers['living'])}\n"
        f"people = {answers['people']}\n"
        '# wake_at = "07:00"\n'
        '# sleep_at = "22:30"\n'
    )


def _sources(answers: Answers) -> Iterator[str]:
    if answers["panels"]:
        yield (
            "[[panels]]  # once for each group that has a controller of its own\n"
            f"use = {quoted(answers['panel'])}\n"
            f"count = {answers['panels']}\n"
            'mount = "flat"\n'
            f"controller_amps = {answers['controller']}\n"
        )
    yield (
        "[battery]\n"
        f"use = {quoted(answers['battery'])}\n"
        f"count = {answers['batteries']}  # side by side\n"
    )
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
            f"charger_amps = {answers['charger']}\n"
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
    for name, count in answers["appliances"].items():
        profile = shelf.profile("appliances", name)
        lines = [f"[[appliances]]  # {profile.title}", f"use = {quoted(name)}"]
        if profile.values.get("fuel") in ("diesel", "petrol"):
            lines.append(f"fuel = {quoted(answers['engine fuel'])}  # from the van's own tank")
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
    number = 1
    while (trip := f"trip {number}") + " name" in answers:
        yield (
            "[[trips]]\n"
            f"name = {quoted(answers[f'{trip} name'])}\n"
            f"depart = {answers[f'{trip} depart'].isoformat()}\n"
            'leave_at = "10:00"  # of every morning of leaving, local time\n'
            f"start = {quoted(answers[f'{trip} start'].label)}\n"
        )
        stop = 1
        while answers.get(f"{trip} stop {stop} place") is not None:
            yield _stop(answers, f"{trip} stop {stop}")
            stop += 1
        number += 1


def _stop(answers: Answers, key: str) -> str:
    lines = [
        "[[trips.stops]]",
        f"place = {quoted(answers[f'{key} place'].label)}",
        f"nights = {answers[f'{key} nights']}",
        f"drive_hours = {answers[f'{key} drive']}",
    ]
    if answers.get(f"{key} plug", "never") != "never":
        lines.append(f"plug_in = {quoted(answers[f'{key} plug'])}")
    if answers.get(f"{key} shade"):
        lines.append(f"shade_pct = {answers[f'{key} shade']}")
    lines += service_line(answers, key)
    return "\n".join(lines) + "\n"


def _settings(answers: Answers) -> str:
    return (
        "[settings]\n"
        "draws = 200         # possible weathers for each trip\n"
        "seed = 1            # the same seed draws the same weathers\n"
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
