"""Do the tests bite? Small faults are put into the code, one at a time, and the tests must fail.

Each mutant is one change in one module: a comparison, a sign, a constant, a dropped keyword.
It runs the test files that import its module, in a copy of the tree. One that no test notices
survives: a test is missing, or the change makes no difference.

    python tests/bench/mutants.py --count 60 --seed 1
    python tests/bench/mutants.py --count 20 --only sim/van/bank

Those files are few, so that a mutant costs seconds. With a coverage file that names the tests of
each line, what survives them meets the other tests that run its line as well:

    pytest --cov=sim --cov-context=test
    python tests/bench/mutants.py --count 60 --covered .coverage

Tests run in forked processes, in which the libraries are there already.
"""

from __future__ import annotations

import argparse
import ast
import contextlib
import copy
import importlib
import os
import random
import re
import resource
import shutil
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import islice
from math import ceil
from pathlib import Path
from typing import NoReturn

TREE = Path(__file__).parents[2]
ROOMS = ("van", "trip", "ledger", "decide", "report/words", "report/data")
LEFT_OUT = {"bench", "browser", "data"}
MOST_FILES = 5
# So many of the tests that run a line, drawn by chance where there are more.
MOST_COVERING = 150
COVERING_LIMIT_S = 120.0
OPTIONS = ("-p", "no:cacheprovider", "-p", "no:xdist")
# What tests and program import from elsewhere, imported once.
LIBRARIES = (
    "babel.dates", "jinja2", "jsonschema", "numpy", "pandas", "plotly.graph_objects",
    "pvlib", "pydantic", "pytest", "python_calamine", "rich.console", "rich.table",
    "scipy.optimize", "scipy.stats", "typer.testing",
)  # fmt: skip
COMPARISONS: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt,
    ast.Eq: ast.NotEq, ast.NotEq: ast.Eq, ast.Is: ast.IsNot, ast.IsNot: ast.Is,
    ast.In: ast.NotIn, ast.NotIn: ast.In,
}  # fmt: skip
OPERATORS: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult,
    ast.BitAnd: ast.BitOr, ast.BitOr: ast.BitAnd, ast.FloorDiv: ast.Mult,
}  # fmt: skip


@dataclass(frozen=True)
class Mutant:
    """One change: the module, its line, the piece of code before and after, and all of it."""

    module: Path
    line: int
    before: str
    after: str
    text: str

    @property
    def room(self) -> str:
        """The room of the module."""
        inside = self.module.relative_to("sim").as_posix()
        return next(room for room in ROOMS if inside.startswith(f"{room}/"))


def changed(node: ast.AST) -> Iterator[ast.AST]:
    """A node of the code with one small fault in it, for each that it can have."""
    match node:
        case ast.Compare(ops=[op, *_]) if type(op) in COMPARISONS:
            yield _with(node, ops=[COMPARISONS[type(op)](), *node.ops[1:]])
        case ast.BinOp(op=op) if type(op) in OPERATORS:
            yield _with(node, op=OPERATORS[type(op)]())
        case ast.BoolOp(op=op):
            yield _with(node, op=ast.Or() if isinstance(op, ast.And) else ast.And())
        case ast.UnaryOp(op=ast.USub() | ast.Not() | ast.Invert()):
            yield node.operand
        case ast.Constant(value=bool()):
            yield ast.Constant(not node.value)
        case ast.Constant(value=int()):
            yield ast.Constant(node.value + 1)
        case ast.Constant(value=float()):
            yield ast.Constant(node.value * 1.1 if node.value else 1.0)
            if node.value:
                yield ast.Constant(node.value * 0.9)
        case ast.Return(value=ast.expr() as value) if not isinstance(value, ast.Constant):
            yield ast.Return(ast.Constant(None))
        case ast.Call(keywords=[_, *_]):
            for number in range(len(node.keywords)):
                kept = [*node.keywords[:number], *node.keywords[number + 1 :]]
                yield _with(node, keywords=kept)


def _with(node: ast.AST, **changes: object) -> ast.AST:
    made = copy.copy(node)
    for name, value in changes.items():
        setattr(made, name, value)
    return made


def places(node: ast.AST) -> Iterator[tuple[ast.AST, str, int | None]]:
    """Where code that does something stands: its parent, field and place in it. Annotations,
    decorators and what only makes an error's sentence are no such code."""
    for name, value in ast.iter_fields(node):
        if name in ("annotation", "returns", "decorator_list", "type_params"):
            continue
        for number, child in enumerate(value if isinstance(value, list) else [value]):
            if isinstance(child, ast.AST) and not isinstance(child, (ast.Raise, ast.Assert)):
                yield node, name, number if isinstance(value, list) else None
                yield from places(child)


def sites(tree: ast.AST) -> Iterator[tuple[int, int, int]]:
    """Every mutant of a module: its line, which place in the code, and which fault there."""
    for place, (parent, name, number) in enumerate(places(tree)):
        old = getattr(parent, name) if number is None else getattr(parent, name)[number]
        for fault, _ in enumerate(changed(old)):
            yield old.lineno, place, fault


def mutant_at(module: Path, source: str, place: int, fault: int) -> Mutant:
    """The mutant of one of the `sites`."""
    tree = ast.parse(source)
    parent, name, number = next(islice(places(tree), place, None))
    old = getattr(parent, name) if number is None else getattr(parent, name)[number]
    new = next(islice(changed(old), fault, None))
    _put(parent, name, number, new)
    text = ast.unparse(ast.fix_missing_locations(tree))
    return Mutant(module, old.lineno, ast.unparse(old), ast.unparse(new), text)


def _put(parent: ast.AST, name: str, number: int | None, child: ast.AST) -> None:
    if number is None:
        setattr(parent, name, child)
    else:
        getattr(parent, name)[number] = child


def sample(count: int, seed: int, only: str) -> list[Mutant]:
    """So many mutants of the rooms, the same for the same seed; every line is as likely."""
    by_line: dict[tuple[Path, int], list[tuple[int, int]]] = {}
    for room in ROOMS:
        for path in sorted((TREE / "sim" / room).rglob("*.py")):
            module = path.relative_to(TREE)
            if module.as_posix().startswith(only):
                for line, place, fault in sites(ast.parse(path.read_text("utf-8"))):
                    by_line.setdefault((module, line), []).append((place, fault))
    random.seed(seed)
    lines = random.sample(sorted(by_line), min(count, len(by_line)))
    return [
        mutant_at(line[0], (TREE / line[0]).read_text("utf-8"), *random.choice(by_line[line]))
        for line in lines
    ]


@dataclass
class Bench:
    """A copy of the tree in which mutants run, and what is known of its test files."""

    root: Path
    slow_s: float
    # Tests that run a line of a module, from a coverage file.
    covering: dict[str, dict[int, list[str]]] = field(default_factory=dict)
    seconds: dict[Path, float | None] = field(default_factory=dict)
    # Of the run that ended last, with all that it started. [s]
    spent_s: float = 0.0
    # Whether a mutant is in the tree, whose bytecode nothing may keep.
    broken: bool = False

    def __post_init__(self) -> None:
        for library in LIBRARIES:
            importlib.import_module(library)
        assert "sim" not in sys.modules, "the forked tests import it from the copy"

    def run(self, tests: Sequence[Path | str], limit_s: float) -> bool | None:
        """Whether the tests pass; None where they do not end in so much time of the processor,
        which other work on the machine does not change."""
        child = os.fork()
        if child == 0:
            self._pytest([str(test) for test in tests], ceil(limit_s))
        _, status, used = os.wait4(child, 0)
        self.spent_s = used.ru_utime + used.ru_stime
        return None if os.WIFSIGNALED(status) else os.waitstatus_to_exitcode(status) == 0

    def _pytest(self, tests: list[str], limit_s: int) -> NoReturn:
        """The rest of a forked process: pytest in the copy of the tree."""
        code = 1
        with contextlib.suppress(BaseException):
            # One second more for those that catch the signal.
            resource.setrlimit(resource.RLIMIT_CPU, (limit_s, limit_s + 1))
            nowhere = os.open(os.devnull, os.O_RDWR)
            for stream in (0, 1, 2):
                os.dup2(nowhere, stream)
            os.chdir(self.root)
            sys.path.insert(0, str(self.root))
            # For the processes that tests start.
            os.environ |= {"PYTHONPATH": str(self.root), "PYTHONDONTWRITEBYTECODE": "1"}
            sys.dont_write_bytecode = self.broken
            code = int(importlib.import_module("pytest").main(["-x", "-q", *OPTIONS, *tests]))
        os._exit(code)

    def tests_for(self, module: Path) -> list[Path]:
        """The first few test files that pass without a fault and do not take too long: those
        named after the module, then those that import it, then what else is near."""
        name = ".".join(module.with_suffix("").parts)
        package, _, last = name.rpartition(".")
        own = rf"(from|import) {re.escape(name)}\b|from {re.escape(package)} import .*\b{last}\b"
        from_it = re.compile(rf"^\s*({own})", re.MULTILINE)
        from_folder = re.compile(rf"^\s*(from|import) {re.escape(package)}\b", re.MULTILINE)
        folder = module.parts[-2]
        words = set(last.split("_")) - {folder}
        found = []
        for path in (self.root / "tests").rglob("test_*.py"):
            test, text = path.relative_to(self.root), path.read_text("utf-8")
            at_home = test.parts[1] == module.parts[1]
            stem = test.stem.split("_")
            shared = at_home * (2 * len(words & set(stem)) + (folder in stem))
            imports = bool(from_it.search(text))
            if (imports or shared or from_folder.search(text)) and LEFT_OUT.isdisjoint(test.parts):
                mirror = at_home and test.stem == f"test_{last}"
                found.append((not mirror, not imports, not at_home, -shared, test))
        quick = (test for *_, test in sorted(found) if self.takes(test) is not None)
        return list(islice(quick, MOST_FILES))

    def takes(self, test: Path) -> float | None:
        """CPU seconds of a test file on the code as it is; None where it fails or is slow."""
        if test not in self.seconds:
            passed = self.run([test], self.slow_s)
            self.seconds[test] = self.spent_s if passed else None
        return self.seconds[test]

    def tests_of(self, mutant: Mutant) -> list[str]:
        """Other tests that run the mutant's line."""
        by_line = self.covering.get(mutant.module.as_posix(), {})
        # A statement of several lines may be counted at its first.
        line = max((line for line, of in by_line.items() if of and line <= mutant.line), default=0)
        tests = by_line.get(line, [])
        near = {test.as_posix() for test in self.tests_for(mutant.module)}
        others = sorted(test for test in set(tests) if test.partition("::")[0] not in near)
        chance = random.Random(mutant.line)
        return chance.sample(others, min(len(others), MOST_COVERING))

    def fate(self, mutant: Mutant) -> str:
        """What becomes of a mutant: "killed", "survived", or "no tests"."""
        tests = self.tests_for(mutant.module)
        # Never ending is noticed too.
        limit = 10.0 + 4.0 * sum(self.takes(test) or 0.0 for test in tests)
        if tests and not self.passes_with(mutant, tests, limit):
            return "killed"
        others = self.tests_of(mutant)
        passes = bool(others) and self.run(others, COVERING_LIMIT_S)
        if passes and not self.passes_with(mutant, others, 10.0 + 4.0 * self.spent_s):
            return "killed"
        return "survived" if tests or others else "no tests"

    def passes_with(self, mutant: Mutant, tests: Sequence[Path | str], limit_s: float) -> bool:
        """Whether the tests pass with the mutant in the tree."""
        path = self.root / mutant.module
        source = path.read_text("utf-8")
        path.write_text(mutant.text, "utf-8")
        self.broken = True
        try:
            return bool(self.run(tests, limit_s))
        finally:
            self.broken = False
            path.write_text(source, "utf-8")


def covering_tests(path: Path) -> dict[str, dict[int, list[str]]]:
    """Of each module and line the tests that run it, from a coverage file of
    ``--cov-context=test``."""
    from coverage import CoverageData

    data = CoverageData(str(path))
    data.read()
    found: dict[str, dict[int, list[str]]] = {}
    for measured in data.measured_files():
        module = Path(measured).as_posix().rpartition("/sim/")[2]
        found[f"sim/{module}"] = {
            line: [context.partition("|")[0] for context in contexts if context]
            for line, contexts in data.contexts_by_lineno(measured).items()
        }
    return found


def table(fates: list[tuple[Mutant, str]]) -> str:
    """Killed and all, by room."""
    all_of, killed = Counter(m.room for m, _ in fates), Counter()
    killed.update(mutant.room for mutant, fate in fates if fate == "killed")
    rows = [(room, killed[room], all_of[room]) for room in ROOMS if all_of[room]]
    rows.append(("all", killed.total(), all_of.total()))
    return "\n".join(f"{room:14} {k:3d} of {n:3d}  {100 * k / n:3.0f} %" for room, k, n in rows)


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--count", type=int, default=60)
    options.add_argument("--seed", type=int, default=1)
    options.add_argument("--only", default="sim/", help="modules whose path starts so")
    options.add_argument(
        "--slow", type=float, default=15.0, help="test files of more CPU seconds are left out"
    )
    options.add_argument(
        "--covered", type=Path, help="a coverage file that names the tests of each line"
    )
    options.add_argument("--minutes", type=float, default=60.0, help="stop after so long")
    chosen = options.parse_args()
    mutants = sample(chosen.count, chosen.seed, chosen.only)
    end = time.monotonic() + 60.0 * chosen.minutes
    fates: list[tuple[Mutant, str]] = []
    with tempfile.TemporaryDirectory(prefix="mutants-") as folder:
        root = Path(folder) / "tree"
        shutil.copytree(TREE, root, ignore=shutil.ignore_patterns(".*", "__pycache__", "reports"))
        covering = covering_tests(chosen.covered) if chosen.covered else {}
        bench = Bench(root, chosen.slow, covering)
        for mutant in mutants:
            if time.monotonic() > end:
                break
            fates.append((mutant, bench.fate(mutant)))
            where = f"{mutant.module}:{mutant.line}"
            print(f"{fates[-1][1]:9} {where}  {mutant.before!r} -> {mutant.after!r}", flush=True)
    print(f"\n{table(fates)}")


if __name__ == "__main__":
    main()
