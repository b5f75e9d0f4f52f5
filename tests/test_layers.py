"""The rooms of the house: a room imports only from rooms above it, never from one below.

Read from the source, so that imports inside functions and for type checks count too.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

import sim

ROOT = Path(sim.__file__).parent
ROOMS = (
    ("arrays", "errors", "resources", "second", "stopping", "threads", "units"),
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


@cache
def tree_of(path: Path) -> ast.Module:
    return ast.parse(path.read_text("utf-8"))


@cache
def nodes_of(tree: ast.AST) -> tuple[ast.AST, ...]:
    """All of a tree's nodes; several tests look at each."""
    return tuple(ast.walk(tree))


def room_of(path: Path) -> str:
    return path.relative_to(ROOT).parts[0].removesuffix(".py")


def imported(tree: ast.AST, package: str) -> Iterator[tuple[int, str]]:
    """Line and full dotted name of everything of `sim` that a module imports."""
    for node in nodes_of(tree):
        if isinstance(node, ast.Import):
            for name in node.names:
                yield node.lineno, name.name
        elif isinstance(node, ast.ImportFrom):
            above = package.split(".")[: -(node.level - 1) or None] if node.level else []
            base = ".".join([*above, *([node.module] if node.module else [])])
            for name in node.names:
                yield node.lineno, f"{base}.{name.name}"


def rooms_imported(tree: ast.AST, package: str) -> set[tuple[int, str]]:
    """Line and dotted name, as far as the room and the module, of imports from `sim`."""
    return {
        (line, ".".join(name.split(".")[1:3]))
        for line, name in imported(tree, package)
        if name.split(".")[0] == "sim" and name != "sim"
    }


def whole_imports(path: Path, modules: set[str]) -> set[str]:
    """The modules of `sim` that a module imports, types included."""
    package = ".".join(("sim", *path.relative_to(ROOT).parts[:-1]))
    names = {name for _, name in imported(tree_of(path), package)}
    return {name if name in modules else name.rpartition(".")[0] for name in names} & modules


def imports_of(path: Path) -> set[tuple[int, str]]:
    package = ".".join(("sim", *path.relative_to(ROOT).parts[:-1]))
    return rooms_imported(tree_of(path), package)


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


def test_no_room_imports_from_one_below() -> None:
    wrong = [
        f"{path.relative_to(ROOT.parent)}:{line} imports sim.{name}"
        for path in FILES
        for line, name in sorted(imports_of(path))
        if RANK.get(name.split(".")[0], -1 if name == "__version__" else len(ROOMS))
        > RANK[room_of(path)]
    ]
    assert wrong == []


def test_nothing_goes_round_by_the_front_door() -> None:
    for path in FILES:
        names = {name for _, name in imported(tree_of(path), "sim")}
        assert "sim" not in names, path
        rooms = {name.split(".")[1] for name in names if name.startswith("sim.")}
        assert rooms <= {*RANK, "__version__"}, path


def test_the_first_room_knows_nothing() -> None:
    for name in ROOMS[0]:
        assert {room for _, room in imports_of(ROOT / f"{name}.py")} <= {"arrays", "stopping"}


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
    assert rooms_imported(ast.parse(text), "sim.job") == found


def test_a_job_is_changed_in_one_place() -> None:
    """A copy with other values goes past the model's checks; `with_values` makes them."""
    past = [
        path.relative_to(ROOT).as_posix()
        for path in FILES
        for node in nodes_of(tree_of(path))
        if isinstance(node, ast.Attribute) and node.attr in ("model_copy", "model_construct")
    ]
    assert set(past) == {"job/model/changes.py"}


# A Typer command's parameters are its command line, so the command of many options has as many.
MOST_ARGUMENTS = 7
COMMAND_LINES = {("cli/trips.py", "trip")}


def lines_and_arguments(node: ast.FunctionDef | ast.AsyncFunctionDef) -> tuple[int, int]:
    """How long a function is, and how many arguments its caller may give."""
    given = node.args
    names = [x.arg for x in (*given.posonlyargs, *given.args, *given.kwonlyargs)]
    names += [x.arg for x in (given.vararg, given.kwarg) if x is not None]
    own = names[:1] in (["self"], ["cls"])
    return (node.end_lineno or node.lineno) - node.lineno + 1, len(names) - own


def test_modules_and_functions_are_short_and_take_few_arguments() -> None:
    """At most 400 lines a module, 60 a function, 7 arguments."""
    wrong = []
    for path in FILES:
        name = path.relative_to(ROOT).as_posix()
        if (long := len(path.read_text("utf-8").splitlines())) > 400:
            wrong.append(f"{name}: {long} lines")
        for node in nodes_of(tree_of(path)):
            if isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef)):
                lines, arguments = lines_and_arguments(node)
                if lines > 60:
                    wrong.append(f"{name}: {node.name} has {lines} lines")
                if arguments > MOST_ARGUMENTS and (name, node.name) not in COMMAND_LINES:
                    wrong.append(f"{name}: {node.name} takes {arguments} arguments")
    assert wrong == []


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("def f(a, /, b, *c, d, **e):\n    return a", (2, 5)),
        ("async def f(self, a): pass", (1, 1)),
        ("def f(cls): pass", (1, 0)),
    ],
)
def test_every_argument_counts_but_its_own(text: str, found: tuple[int, int]) -> None:
    (node,) = ast.parse(text).body
    assert isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef))
    assert lines_and_arguments(node) == found
