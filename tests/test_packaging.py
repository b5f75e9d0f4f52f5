"""What is shipped is listed with its licence, and the floors of what is needed are said."""

from __future__ import annotations

import re
import tomllib
from importlib.metadata import metadata
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
LISTED = (ROOT / "profiles" / "THIRD-PARTY.md").read_text("utf-8")
NEEDED = [re.match(r"[a-z0-9-]+", line)[0] for line in PROJECT["project"]["dependencies"]]  # type: ignore[index]
# Our own, in source form.
PLAIN = {".py", ".toml", ".md", ".html", ".css", ".js"}


def licence_of(package: str) -> str:
    """All that a package's metadata say of its licence."""
    told = metadata(package)
    classifiers = [x for x in told.get_all("Classifier") or [] if x.startswith("License")]
    return " ".join([told.get("License-Expression") or "", told.get("License") or "", *classifiers])


@pytest.mark.parametrize("package", NEEDED)
def test_licences_of_what_is_needed_are_listed(package: str) -> None:
    (row,) = re.findall(rf"^\| {package} \| ([A-Za-z]+)", LISTED, re.M)
    assert row in licence_of(package)


def test_nothing_else_is_listed_as_needed() -> None:
    table = LISTED.split("## Needed to run")[1]
    assert re.findall(r"^\| ([a-z][a-z0-9-]*) \| ", table, re.M)[1:] == sorted(NEEDED)


def test_every_data_file_is_listed() -> None:
    found = {
        path.relative_to(ROOT).as_posix()
        for folder in ("sim", "profiles")
        for path in (ROOT / folder).rglob("*")
        if path.is_file()
        and path.suffix not in PLAIN
        and path.name != "LICENSE"
        and "__pycache__" not in path.parts
    }
    assert found == set(re.findall(r"^\| `((?:profiles|sim)/[^`]+)` \|", LISTED, re.M))


@pytest.mark.parametrize("line", PROJECT["project"]["dependencies"])
def test_every_need_has_a_floor_and_no_ceiling(line: str) -> None:
    assert re.fullmatch(r"[a-z0-9-]+>=[0-9.]+", line)


def test_the_source_distribution_holds_what_lies_at_the_top() -> None:
    for pattern in PROJECT["tool"]["hatch"]["build"]["targets"]["sdist"]["include"]:
        assert pattern.startswith("/"), f"{pattern} would match in any folder"
        assert (ROOT / pattern[1:]).exists()
