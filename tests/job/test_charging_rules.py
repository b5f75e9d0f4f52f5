"""What the keys of panels and controllers promise each other."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from sim.job.reading.load import load_job

Changed = Callable[[str, str], str]
FaultsOf = Callable[[str], list[str]]

AMPS = "controller_amps = 30"
RULES = {
    "PWM without the panel's voltage": (
        'use = "rigid-170"\n',
        'watts = 100\ntemp_coeff_pct_c = -0.3\ncontroller = "pwm"\n',
        ["a PWM controller needs vmp_v too, the panel's voltage at its maximum power point"],
    ),
    "PWM below the bank": (
        'use = "rigid-170"\n',
        'use = "rigid-170"\ncontroller = "pwm"\nvmp_v = 9\n',
        [
            "too low to charge the bank through a PWM controller; with series it must reach "
            "charging_v, which is 13.4"
        ],
    ),
    "a flat panel has no side": (
        'use = "rigid-170"\n',
        'use = "rigid-170"\nside = "left"\n',
        ['a flat group has none; write mount = "tilted", or leave it out'],
    ),
    "a portable panel has no side": (
        'use = "rigid-170"\n',
        'use = "rigid-170"\nmount = "portable"\nside = "left"\n',
        ["portable panels are turned by hand; write facing_deg, or leave both out"],
    ),
    "a string longer than its group": (
        'use = "rigid-170"\ncount = 2\n',
        'use = "rigid-170"\ncount = 2\nseries = 3\n',
        ["more panels in a string than the group has; count is 2"],
    ),
    "a side and a direction": (
        'use = "rigid-170"\n',
        'use = "rigid-170"\nmount = "tilted"\ntilt_deg = 30\nside = "left"\nfacing_deg = 90\n',
        ["cannot be given with facing_deg; leave one of them out"],
    ),
}


@pytest.mark.parametrize(("old", "new", "rules"), RULES.values(), ids=RULES.keys())
def test_rules_of_panels(
    old: str, new: str, rules: list[str], changed: Changed, faults_of: FaultsOf
) -> None:
    faults = faults_of(changed(old, new))
    assert len(faults) == len(rules)
    for fault, rule in zip(faults, rules, strict=True):
        assert fault.endswith(rule)


def test_surroundings_nobody_knows(changed: Changed, faults_of: FaultsOf) -> None:
    faults = faults_of(changed("nights = 2", 'nights = 2\nsurroundings = "jungle"'))
    assert len(faults) == 1
    assert '"open", "some trees", "forest" or "canyon"' in faults[0]


def test_two_in_series_reach_the_bank(changed: Changed, write_job: Callable[[str], Path]) -> None:
    pwm = 'use = "rigid-170"\ncontroller = "pwm"\nvmp_v = 9\nseries = 2\n'
    (group,) = load_job(write_job(changed('use = "rigid-170"\n', pwm))).panels
    assert (group.controller, group.series) == ("pwm", 2)
