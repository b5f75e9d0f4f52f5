"""The wiring section of a job file: what is refused, and where it stands."""

from __future__ import annotations

from collections.abc import Callable

import pytest

FaultsOf = Callable[[str], list[str]]


# The number is that of the line below the small job's last one.
@pytest.mark.parametrize(
    ("more", "fault"),
    [
        (
            '[[wiring.loads]]\nname = "Fridge"\nlength_m = 2\n',
            '2: wiring.loads[1].name = "Fridge": no DC appliance has this name; '
            'there is "Refrigerator, 12 V compressor"',
        ),
        (
            '[wiring.roof]\nlength_m = 2\ncable_awg = "8"\ncable_mm2 = 10\n',
            "4: wiring.roof.cable_mm2 = 10: give cable_awg or cable_mm2, not both",
        ),
        (
            "[wiring.roof]\nlength_m = 2\nparallel = 2\n",
            "3: wiring.roof.parallel = 2: say of which cable: give cable_awg or cable_mm2 too",
        ),
        (
            "[wiring.roof]\nlength_ft = 900\n",
            "2: wiring.roof.length_ft = 900: must be a number from 0.2 to 98.4",
        ),
        (
            "[wiring]\ninsulation_c = 80\n",
            "2: wiring.insulation_c = 80: must be 75, 90 or 105",
        ),
        (
            "[wiring.inverter]\nlength_m = 2\ncable_awg = 2\n",
            "3: wiring.inverter.cable_awg = 2: must be ",
        ),
        (
            "[wiring]\nmain_switch = 1\n",
            "2: wiring.main_switch = 1: must be true or false",
        ),
    ],
)
def test_each_slip_is_one_fault(small_job: str, faults_of: FaultsOf, more: str, fault: str) -> None:
    (found,) = faults_of(small_job + more)
    below, rest = fault.split(": ", 1)
    line = small_job.count("\n") + int(below)
    assert found.startswith(f"job.toml, line {line}: {rest}")


def test_an_appliance_whose_cable_stands_twice(small_job: str, faults_of: FaultsOf) -> None:
    cable = '[[wiring.loads]]\nname = "Refrigerator, 12 V compressor"\nlength_m = 2\n'
    (found,) = faults_of(small_job + cable + cable)
    assert found.endswith("this appliance has two cables here; keep one")
