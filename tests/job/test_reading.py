"""Files that cannot be read, and TOML that is none: line, column, and what was meant."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from sim.errors import JobError
from sim.job.reading.load import load_job

Changed = Callable[[str, str], str]
FaultsIn = Callable[[Path], list[str]]
FaultsOf = Callable[[str], list[str]]


def test_no_such_file(tmp_path: Path, faults_in: FaultsIn) -> None:
    assert faults_in(tmp_path / "none.toml") == ["none.toml: there is no such file"]


def test_a_folder(tmp_path: Path, faults_in: FaultsIn) -> None:
    folder = tmp_path / "jobs"
    folder.mkdir()
    assert faults_in(folder) == ["jobs: this is a folder; name the job file in it"]


def test_a_name_that_is_none(tmp_path: Path) -> None:
    with pytest.raises(JobError, match=r"cannot be read: this is not a file name$"):
        load_job("a\0b.toml")
    with pytest.raises(JobError, match=r"cannot be read: File name too long$"):
        load_job(tmp_path / ("x" * 5000))


@pytest.mark.parametrize("encoding", ["latin-1", "utf-16"])
def test_another_encoding(
    encoding: str, small_job: str, tmp_path: Path, faults_in: FaultsIn
) -> None:
    path = tmp_path / "job.toml"
    path.write_bytes(small_job.replace("small-van", "smäll-van").encode(encoding))
    line = 4 if encoding == "latin-1" else 1
    assert faults_in(path) == [f"job.toml, line {line}: not UTF-8 text; save the file as UTF-8"]


def test_a_file_far_too_large(faults_of: FaultsOf) -> None:
    assert faults_of("#" * 2_000_001) == ["job.toml: too large for a job file (over 2 MB)"]


@pytest.mark.parametrize("text", ["", "# nothing yet\n"])
def test_an_empty_file_is_told_what_a_job_needs(text: str, faults_of: FaultsOf) -> None:
    assert faults_of(text) == [
        "job.toml: title: this key is missing; give text in quotes",
        'job.toml: van: this section is missing: write [van] and below it use = "long-high-roof",'
        ' "medium-roof" or "small-van"',
        "job.toml: living: this section is missing: write [living] and below it use = "
        '"family-of-four", "full-time-single", "two-remote-workers", "weekend-away" or '
        '"winter-sport"',
        "job.toml: battery: this section is missing: write [battery] and below it use = "
        '"agm-100", "agm-200", "flooded-225", "lifepo4-100", "lifepo4-200" or "lifepo4-300"',
        "job.toml: trips: the job has no trip; add a [[trips]] section with name, depart and "
        "[[trips.stops]]",
    ]


BACKSLASH = "text in double quotes cannot hold a \\; write / in paths, or use single quotes"
CURRENCY = "write the number alone, without a sign of currency"
DATE = "write a date of the calendar as year-month-day, such as 2027-01-09"
LIST = "a list needs commas between its entries, quotes around text, and a ] at its end"
ODD = "a character that a job file cannot hold; delete it and retype"
TWICE = "this section is in the file twice, or as [section] and [[section]] both; keep one"
ALTERNATORS = "a job with several of [alternator] has [[alternator]] above each, the first one too"
UNIT = "write the number alone, without a unit"
UNREAD = "a value is missing, or cannot be read; text must be in quotes"


@pytest.mark.parametrize(
    ("old", "new", "line", "column", "rule"),
    [
        ('"Test van"', "Test van", 1, 9, UNREAD),
        ("count = 2", "count =", 11, 8, UNREAD),
        ('"Test van"', '"Test van', 1, 18, "a text is not closed; a quote is missing at its end"),
        (
            '"Test van"',
            "'Coeur d'Alene'",
            1,
            18,
            "an apostrophe ends a text in single quotes; use double quotes",
        ),
        ('"Test van"', "“Test van”", 1, 9, 'use straight quotes, as in "text"'),
        ('"Test van"', '"C:\\Users\\x"', 1, 14, BACKSLASH),
        ('"Test van"', '"C:\\data"', 1, 14, BACKSLASH),
        ('"Test van"', '"Test\x00van"', 1, 14, ODD),
        ("title =", "title", 1, 7, "a key needs = and a value after it"),
        ("count = 2", "two of them", 11, 5, "a key needs = and a value after it"),
        ("count = 2", "!", 11, 1, "a line must be a key = value, a [section] or a # comment"),
        ("count = 2", "cöunt = 2", 11, 2, "a key needs = and a value after it"),
        (
            "[van]",
            "[van",
            3,
            5,
            "a section's name must end with a bracket: [van], or [[panels]] for a list",
        ),
        (
            "[[panels]]",
            "[[panels]",
            9,
            9,
            "a section's name must end with a bracket: [van], or [[panels]] for a list",
        ),
        (
            "count = 2",
            "count = 2\ncount = 3",
            12,
            10,
            "this key is in its section twice; keep one",
        ),
        ("[living]", "[van]", 6, 5, TWICE),
        ("[living]", "[[van]]", 6, 6, TWICE),
        ("[living]", "[alternator]\n[alternator]\n[living]", 7, 12, ALTERNATORS),
        ("[living]", "[alternator]\n[[alternator]]\n[living]", 7, 13, ALTERNATORS),
        ("[living]", "[[alternator]]\n[alternator]\n[living]", 7, 12, ALTERNATORS),
        ("nights = 2", "shade_pct = 30 %", 26, 16, UNIT),
        ("nights = 2", "horizon_deg = 12°", 26, 17, UNIT),
        ("count = 2", "at = [10 20]", 11, 10, LIST),
        ("count = 2", "at = [07:00-09:00]", 11, 8, LIST),
        (
            "count = 2",
            "a = {b = 1,\nc = 2}",
            11,
            12,
            "a key has letters, digits, _ and - only",
        ),
        (
            "count = 2",
            "count = 1,240",
            11,
            10,
            "write a number without a comma: 1240, or 1.24 with a decimal point",
        ),
        ("count = 2", "count = 2,5", 11, 10, "write a decimal point, not a comma"),
        ("count = 2", "count = 02", 11, 10, "a number must not begin with 0"),
        ("count = 2", "count = 2 pieces", 11, 11, "write the number alone, without a unit"),
        ("count = 2", "count = True", 11, 9, "write true or false"),
        ("count = 2", "count = $240", 11, 9, CURRENCY),
        ("count = 2", "count = 240 €", 11, 13, CURRENCY),
        ("nights = 2", "plug_in = yes", 26, 11, 'plug_in takes "never", "nights" or "always"'),
        ("nights = 2", "nights = two # or so", 26, 10, "nights takes a whole number from 0 to 366"),
        ("2027-05-07", "soon", 22, 10, "depart takes a date such as 2027-01-09"),
        ("2027-05-07", "2027-13-01", 22, 14, DATE),
        ("2027-05-07", "2027-5-7", 22, 14, DATE),
        ("2027-05-07", "5/7/2027", 22, 11, DATE),
        (
            "2027-05-07",
            "2027-02-30",
            22,
            10,
            "this is not a date of the calendar; write year-month-day, such as 2027-01-09",
        ),
        (
            "2027-05-07",
            "2027-05-07\nleave_at = 10:00",
            23,
            14,
            'put a time of day in quotes, such as "07:30"',
        ),
    ],
)
def test_broken_toml(
    old: str, new: str, line: int, column: int, rule: str, changed: Changed, faults_of: FaultsOf
) -> None:
    assert faults_of(changed(old, new)) == [f"job.toml, line {line}: column {column}: {rule}"]


def test_toml_that_ends_too_soon(small_job: str, faults_of: FaultsOf) -> None:
    lines = small_job.count("\n")
    assert faults_of(small_job + 'weather = """\n\n') == [
        f"job.toml, line {lines + 1}: a text is not closed; a quote is missing at its end"
    ]
    assert faults_of(small_job + "weather = '''") == [
        f"job.toml, line {lines + 1}: a text is not closed; a quote is missing at its end"
    ]


@pytest.mark.parametrize("depth", [490, 3000])
def test_nesting_without_end(depth: int, changed: Changed, faults_of: FaultsOf) -> None:
    text = changed("count = 2", f"count = {'[' * depth}{']' * depth}")
    assert faults_of(text) in (
        ["job.toml: nested too deeply for a job file"],
        ["job.toml, line 11: panels[1].count: must be a whole number from 0 to 60, not a list"],
    )


@pytest.mark.parametrize(
    ("key", "line"),
    [("{0} = 1\n", 1), ("# a\n  [{0}]\nx = 1\n", 2), ("a = {{ b = 1, {0} = 2 }}\n", 1)],
)
def test_a_key_without_end_is_refused_before_it_is_parsed(
    small_job: str, faults_of: FaultsOf, key: str, line: int
) -> None:
    for part in ("a", '"a b"', "'.'"):
        long = key.format(" . ".join([part] * 21))
        assert faults_of(long + small_job) == [
            f"job.toml, line {line}: a key with more than 20 parts"
        ]
        most = key.format(".".join([part] * 20))
        assert "more than 20 parts" not in faults_of(most + small_job)[0]


def test_dots_in_a_text_are_no_key(changed: Changed, write_job: Callable[[str], Path]) -> None:
    path = write_job(changed('"Test van"', '"a, ' + "b.c." * 30 + '" # x, ' + "y.z." * 30))
    assert load_job(path).title.startswith("a, b.c.")
