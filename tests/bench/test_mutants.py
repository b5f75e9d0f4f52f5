"""The runner of mutants: which faults it makes, and that a fault that matters is noticed."""

from __future__ import annotations

import ast
import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import pytest

SOURCE = '''\
LIMIT = 2.0


def shed(soc: float, floor: float = 0.05) -> bool:
    """Whether 5 % is reached."""
    return soc <= floor and not soc > LIMIT
'''


@pytest.fixture(scope="module")
def mutants() -> ModuleType:
    spec = importlib.util.spec_from_file_location("mutants", Path(__file__).parent / "mutants.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    # Its data classes look their module up.
    sys.modules["mutants"] = module
    spec.loader.exec_module(module)
    return module


def test_every_fault_is_one_change(mutants: ModuleType) -> None:
    module = Path("sim/van/shed.py")
    found = [
        mutants.mutant_at(module, SOURCE, place, fault)
        for _, place, fault in mutants.sites(ast.parse(SOURCE))
    ]
    changes = {(each.line, each.before, each.after) for each in found}
    assert {
        (1, "2.0", "2.2"),
        (1, "2.0", "1.8"),
        (6, "soc <= floor", "soc < floor"),
        (6, "soc > LIMIT", "soc >= LIMIT"),
        (6, "not soc > LIMIT", "soc > LIMIT"),
        (6, "soc <= floor and (not soc > LIMIT)", "soc <= floor or not soc > LIMIT"),
    } <= changes
    # Neither annotations nor texts are changed.
    assert len(changes) == len(found) == 9
    plain = ast.unparse(ast.parse(SOURCE))
    for each in found:
        assert each.text != plain
        assert each.room == "van"
        ast.parse(each.text)


def test_the_sample_is_the_same_for_the_same_seed(mutants: ModuleType) -> None:
    one, same, other = (mutants.sample(6, seed, "sim/van/bank/wear") for seed in (1, 1, 2))
    assert one == same != other
    assert len({(each.module, each.line) for each in one}) == 6


def test_the_table_counts_by_room(mutants: ModuleType) -> None:
    van, trip = (mutants.Mutant(Path(f"sim/{x}/a.py"), 1, "", "", "") for x in ("van", "trip"))
    rows = mutants.table([(van, "killed"), (van, "survived"), (trip, "killed")]).splitlines()
    assert [row.split() for row in rows] == [
        ["van", "1", "of", "2", "50", "%"],
        ["trip", "1", "of", "1", "100", "%"],
        ["all", "2", "of", "3", "67", "%"],
    ]
