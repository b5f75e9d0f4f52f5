"""Where keys, headers and list entries of a TOML text stand."""

from __future__ import annotations

import tomllib
from pathlib import Path as FilePath

import pytest
from hypothesis import given, reject
from hypothesis import strategies as st

from sim.job.reading.toml_lines import Path, key_lines, line_of
from sim.resources import profiles_dir

# QQQ stands for three single quotes.
TEXT = r'''# [comment]
title = "a # no comment, [no header], \" no end"  # a QQQ here
path = 'C:\'
long = """
[van]
key = 1 \""" still inside
""" # after
also = QQQ
[[trips]]''QQQ
[ van . "the battery" ]   # spaces and quotes
a.b . c = 1
a.b.d = [
  1, 2,  # [van]
  [3,
   4],
]
[[trips]]
depart = 2027-05-07 10:00:00
stops = [ { n = 1 }, { n = 2 },
{ x = { y = 3 } } ]
[[trips]]
[[trips.stops]]
n = 3
[trips.stops.deep]
z = -1e3
[[trips.stops]]
"" = {}
'''.replace("QQQ", "'''")


def test_each_key_stands_on_its_line() -> None:
    battery: Path = ("van", "the battery")
    lines = key_lines(TEXT)
    assert set(lines) == paths(tomllib.loads(TEXT)) - {()}
    assert lines == {
        ("title",): 2,
        ("path",): 3,
        ("long",): 4,
        ("also",): 8,
        ("van",): 10,
        battery: 10,
        (*battery, "a"): 11,
        (*battery, "a", "b"): 11,
        (*battery, "a", "b", "c"): 11,
        (*battery, "a", "b", "d"): 12,
        (*battery, "a", "b", "d", 0): 13,
        (*battery, "a", "b", "d", 1): 13,
        (*battery, "a", "b", "d", 2): 14,
        (*battery, "a", "b", "d", 2, 0): 14,
        (*battery, "a", "b", "d", 2, 1): 15,
        ("trips",): 17,
        ("trips", 0): 17,
        ("trips", 0, "depart"): 18,
        ("trips", 0, "stops"): 19,
        ("trips", 0, "stops", 0): 19,
        ("trips", 0, "stops", 0, "n"): 19,
        ("trips", 0, "stops", 1): 19,
        ("trips", 0, "stops", 1, "n"): 19,
        ("trips", 0, "stops", 2): 20,
        ("trips", 0, "stops", 2, "x"): 20,
        ("trips", 0, "stops", 2, "x", "y"): 20,
        ("trips", 1): 21,
        ("trips", 1, "stops"): 22,
        ("trips", 1, "stops", 0): 22,
        ("trips", 1, "stops", 0, "n"): 23,
        ("trips", 1, "stops", 0, "deep"): 24,
        ("trips", 1, "stops", 0, "deep", "z"): 25,
        ("trips", 1, "stops", 1): 26,
        ("trips", 1, "stops", 1, ""): 27,
    }


def test_a_key_that_is_not_there_stands_where_its_section_does() -> None:
    lines = key_lines("[van]\n\n[[trips]]\n[[trips]]\nname = 1\n")
    assert line_of(lines, ("trips", 1, "depart")) == 4
    assert line_of(lines, ("trips", 1, "stops", 3, "place")) == 4
    assert line_of(lines, ("battery", "use")) is None


def paths(value: object, path: Path = ()) -> set[Path]:
    """Every key and list entry of parsed data."""
    if isinstance(value, dict):
        inside = [paths(item, (*path, key)) for key, item in value.items()]
    elif isinstance(value, list):
        inside = [paths(item, (*path, index)) for index, item in enumerate(value)]
    else:
        inside = []
    return {path}.union(*inside)


@pytest.mark.parametrize("file", sorted(profiles_dir().rglob("*.toml")), ids=lambda f: f.stem)
def test_it_finds_what_the_parser_finds(file: FilePath) -> None:
    text = file.read_text("utf-8")
    assert set(key_lines(text)) == paths(tomllib.loads(text)) - {()}


values = st.recursive(
    st.sampled_from(["1", "-2.5e3", "true", "2027-05-07", "07:30:00", '"a]b}c,#"', "'x\"='"])
    | st.sampled_from(['"""one\n[two]\n"""', "'''\n= 3\n'''", '"\\""', '""']),
    lambda inner: (
        st.lists(inner, max_size=3).map(lambda x: "[\n " + ",\n # ]\n".join(x) + " ]")
        | st.lists(inner, max_size=3).map(
            lambda x: "{" + ", ".join(f"k{i} = {v}" for i, v in enumerate(x)) + "}"
        )
    ),
    max_leaves=8,
)


@given(st.lists(values, min_size=1, max_size=6))
def test_it_finds_what_the_parser_finds_in_any_value(entries: list[str]) -> None:
    text = "".join(
        ("[[section]]\n" if index % 2 else "") + f"key{index} = {entry}\n"
        for index, entry in enumerate(entries)
    )
    # A multi-line list within a one-line table is for later versions of TOML.
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        reject()
    lines = key_lines(text)
    assert set(lines) == paths(data) - {()}
    rows = text.split("\n")
    for path, line in lines.items():
        if isinstance(path[-1], str) and path[-1].startswith("key"):
            assert rows[line - 1].startswith(f"{path[-1]} =")
