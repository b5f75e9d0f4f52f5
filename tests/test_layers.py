"""The rooms of the house: a room imports only from rooms above it, never from one below.

Read from the source, so that imports inside functions and for type checks count too.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

import sim

ROOT = Path(sim.__file__).parent
ROOMS = (
    ("arrays", "errors", "resources", "stopping", "threads", "units"),
    ("places",),
    ("sky",),
    ("van",),
    ("job",),
    ("interview",),
    ("log",),
    ("trip",),
    ("ledger",),
    ("fit",),
    ("decide",),
    ("report",),
    ("book",),
    ("cli",),
)
RANK = {name: rank for rank, room in enumerate(ROOMS) for name in room}
# The front door and the side door: they hand on what the rooms make.
DOORS = {"__init__.py", "__main__.py"}
FILES = sorted(
    path for path in ROOT.rglob("*.py") if path.relative_to(ROOT).as_posix() not in DOORS
)


def room_of(path: Path) -> str:
    return path.relative_to(ROOT).parts[0].removesuffix(".py")


def imported(tree: ast.AST, package: str) -> Iterator[tuple[int, str]]:
    """Line and full dotted name of everything of `sim` that a module imports."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            for name in node.names:
                yield node.lineno, name.name
        elif isinstance(node, ast.ImportFrom):
            above = package.split(".")[: -(node.level - 1) or None] if node.level else []
            base = ".".join([*above, *([node.module] if node.module else [])])
            for name in node.names:
                yield node.lineno, f"{base}.{name.name}"


def rooms_imported(text: str, package: str) -> set[tuple[int, str]]:
    """Line and dotted name, as far as the room and the module, of imports from `sim`."""
    return {
        (line, ".".join(name.split(".")[1:3]))
        for line, name in imported(ast.parse(text), package)
        if name.split(".")[0] == "sim" and name != "sim"
    }


def whole_imports(path: Path, modules: set[str]) -> set[str]:
    """The modules of `sim` that a module imports, types included."""
    package = ".".join(("sim", *path.relative_to(ROOT).parts[:-1]))
    names = {name for _, name in imported(ast.parse(path.read_text("utf-8")), package)}
    return {name if name in modules else name.rpartition(".")[0] for name in names} & modules


def imports_of(path: Path) -> set[tuple[int, str]]:
    package = ".".join(("sim", *path.relative_to(ROOT).parts[:-1]))
    return rooms_imported(path.read_text("utf-8"), package)


def test_developers_read_the_rooms_in_this_order() -> None:
    text = (ROOT.parent / "DEVELOPERS.md").read_text("utf-8")
    table = text.partition("| room |")[2].partition("\n\n")[0]
    rooms = [re.findall(r"`(\w+)/?`", row.split("|")[1]) for row in table.splitlines()[2:]]
    listed = [name for room in rooms for name in room]
    assert set(listed) == set(RANK)
    assert [RANK[name] for name in listed] == sorted(RANK[name] for name in listed)


def test_every_module_has_its_room() -> None:
    assert len(FILES) > 20
    assert {room_of(path) for path in FILES} <= set(RANK)
    doors = {path.name for path in ROOT.glob("*.py")} - {f"{name}.py" for name in RANK}
    assert doors == DOORS


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(ROOT)))
def test_no_room_imports_from_one_below(path: Path) -> None:
    own = RANK[room_of(path)]
    wrong = [
        f"{path.relative_to(ROOT.parent)}:{line} imports sim.{name}"
        for line, name in sorted(imports_of(path))
        if RANK.get(name.split(".")[0], -1 if name == "__version__" else len(ROOMS)) > own
    ]
    assert wrong == []


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(ROOT)))
def test_nothing_goes_round_by_the_front_door(path: Path) -> None:
    names = {name for _, name in imported(ast.parse(path.read_text("utf-8")), "sim")}
    assert "sim" not in names
    rooms = {name.split(".")[1] for name in names if name.startswith("sim.")}
    assert rooms <= {*RANK, "__version__"}


def test_the_first_room_knows_nothing() -> None:
    for name in ROOMS[0]:
        assert imports_of(ROOT / f"{name}.py") <= {(line, "arrays") for line in range(1, 40)}


def test_no_circle_inside_a_room() -> None:
    """Modules can be put in an order in which each imports only from those before it."""
    modules = {".".join(("sim", *p.relative_to(ROOT).with_suffix("").parts)): p for p in FILES}
    needs = {
        name: {found for found in whole_imports(path, set(modules)) if found != name}
        for name, path in modules.items()
        if path.name != "__init__.py"
    }
    while free := {name for name, before in needs.items() if not before & set(needs)}:
        needs = {name: before for name, before in needs.items() if name not in free}
    assert needs == {}


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("import sim.cli", {(1, "cli")}),
        ("from sim import units", {(1, "units")}),
        ("from sim.report.page.client import render_page", {(1, "report.page")}),
        ("from sim.job import rules, shelf", {(1, "job.rules"), (1, "job.shelf")}),
        ("from . import rules", {(1, "job.rules")}),
        ("from .. import cli", {(1, "cli")}),
        ("from ..sky.sun import Sun", {(1, "sky.sun")}),
        ("def f():\n    import sim.van.cabin as c", {(2, "van.cabin")}),
        ("if TYPE_CHECKING:\n    from sim.ledger import results", {(2, "ledger.results")}),
        ("import simple\nfrom simile import sim", set()),
    ],
)
def test_the_reader_of_imports_sees_every_kind(text: str, found: set[tuple[int, str]]) -> None:
    assert rooms_imported(text, "sim.job") == found


def test_a_job_is_changed_in_one_place() -> None:
    """A copy with other values goes past the model's checks; `with_values` makes them."""
    past = [
        path.relative_to(ROOT).as_posix()
        for path in FILES
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.Attribute) and node.attr in ("model_copy", "model_construct")
    ]
    assert set(past) == {"job/model/changes.py"}
