"""Files are settled before any work, and appear whole or not at all."""

from __future__ import annotations

import os
import stat
import sys
from pathlib import Path

import pytest

from sim.errors import OutputError
from sim.report.data.names import file_stem, report_stem
from sim.report.data.output import expect_writable, owner_of, settle
from sim.report.data.parts import sweep, write_whole

PAGE = '<!doctype html>\n<head>\n<meta name="generator" content="x">\n<title>{}</title></html>\n'


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


# --- whole files ----------------------------------------------------------------------------------


def test_writes_into_a_folder_it_makes(tmp_path: Path) -> None:
    path = tmp_path / "a" / "b" / "report.html"
    write_whole({path: "grün\n"})
    assert path.read_bytes() == "grün\n".encode()
    assert names(path.parent) == ["report.html"]


def test_mode_is_that_of_an_ordinary_file(tmp_path: Path) -> None:
    plain, written = tmp_path / "plain", tmp_path / "written"
    plain.write_text("")
    write_whole({written: "x"})
    assert stat.S_IMODE(os.stat(written).st_mode) == stat.S_IMODE(os.stat(plain).st_mode)


@pytest.mark.parametrize("what", ["replace", "write_text"])
def test_a_failed_write_keeps_the_old_files_and_leaves_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, what: str
) -> None:
    """Also when it is the second of two files that finds the disk full."""
    old = {tmp_path / "report.html": "old", tmp_path / "table.csv": "old"}
    for path, text in old.items():
        path.write_text(text)
    really, calls = getattr(Path, what), []

    def full(self: Path, *rest: object, **more: object) -> object:
        calls.append(self)
        if what == "replace" or len(calls) == 2:
            raise OSError(28, "No space left on device")
        return really(self, *rest, **more)

    monkeypatch.setattr(Path, what, full)
    with pytest.raises(OutputError, match=r"cannot be written: No space left"):
        write_whole(dict.fromkeys(old, "new"))
    monkeypatch.undo()
    assert {path: path.read_text() for path in old} == old
    assert names(tmp_path) == ["report.html", "table.csv"]


def test_a_file_in_the_way_of_the_folder_is_said(tmp_path: Path) -> None:
    (tmp_path / "reports").write_text("")
    with pytest.raises(OutputError, match=r"name another folder$"):
        write_whole({tmp_path / "reports" / "x.html": "x"})


@pytest.mark.skipif(sys.platform == "win32", reason="files are not locked there")
def test_parts_left_by_a_kill_are_swept_and_those_being_written_are_not(tmp_path: Path) -> None:
    import fcntl

    left, used = (tmp_path / f".nightledger-{name}.part" for name in ("left", "used"))
    other = tmp_path / "mine.part"
    for path in (left, used, other):
        path.write_text("half")
    with used.open("r+") as file:
        fcntl.flock(file, fcntl.LOCK_EX)
        sweep(tmp_path)
        assert names(tmp_path) == sorted([used.name, other.name])
    settle(page=tmp_path / "x.html")
    assert names(tmp_path) == [other.name]


# --- settled before any work ----------------------------------------------------------------------


def test_nothing_is_written_twice(tmp_path: Path) -> None:
    page = tmp_path / "job.html"
    for data in (page, tmp_path / "sub" / ".." / "job.html", tmp_path / "JOB.html"):
        with pytest.raises(OutputError, match="would be written twice"):
            settle(page=page, data=data)
    table = tmp_path / "job-1.csv"
    with pytest.raises(OutputError, match="would be written twice"):
        settle(page=page, data=table, tables=[table])
    assert names(tmp_path) == []


def test_nothing_that_is_read_is_written(tmp_path: Path) -> None:
    job = tmp_path / "job.json"
    job.write_text("{}")
    hard = tmp_path / "hard.json"
    os.link(job, hard)
    for data in (job, hard):
        with pytest.raises(OutputError, match="is read by this very command"):
            settle(data=data, inputs=[job])
    assert job.read_text() == "{}"


def test_only_json_is_replaced_by_json(tmp_path: Path) -> None:
    path = tmp_path / "other.toml"
    path.write_text('title = "x"')
    with pytest.raises(OutputError, match="holds no JSON; name another file"):
        settle(data=path)
    for text in ("", ' {"trips": 1}\n'):
        path.write_text(text)
        assert settle(data=path).write(data="{}") == [path]


@pytest.mark.skipif(sys.platform == "win32", reason="no such files there")
def test_what_is_no_ordinary_file_is_refused(tmp_path: Path) -> None:
    pipe, link, gone = tmp_path / "pipe", tmp_path / "link", tmp_path / "gone"
    os.mkfifo(pipe)
    (tmp_path / "real").write_text("")
    link.symlink_to(tmp_path / "real")
    gone.symlink_to(tmp_path / "nowhere")
    for path, said in (
        (pipe, "is a device or a pipe, not a file"),
        (link, "a link"),
        (gone, "a link"),
        (tmp_path, "is a folder"),
        (Path("/dev/null"), "is a device or a pipe, not a file"),
        (tmp_path / ("x" * 300), "File name too long"),
        (tmp_path / "real" / "x", "Not a directory"),
    ):
        with pytest.raises(OutputError, match=said):
            settle(data=path)
        with pytest.raises(OutputError, match=said):
            settle(page=path)
    assert names(tmp_path) == ["gone", "link", "pipe", "real"]


def test_a_page_of_another_job_is_never_replaced(tmp_path: Path) -> None:
    page, a, b = tmp_path / "job.html", tmp_path / "a" / "job.toml", tmp_path / "b" / "job.toml"
    first = owner_of("trip", a, tmp_path)
    for title in ("Van &amp; dog", "Van for two"):  # its own may be, whatever it is called
        settle(page=page, owner=first).write(page=PAGE.format(title))
    for owner in (owner_of("trip", b, tmp_path), owner_of("wiring", a, tmp_path)):
        with pytest.raises(OutputError, match='is the report of another job file, "Van for two"'):
            settle(page=page, owner=owner)
    page.write_text("<title>mine</title>")
    with pytest.raises(OutputError, match="no report of this job"):
        settle(page=page, owner=first)


def test_the_job_and_its_reports_may_move_together(tmp_path: Path) -> None:
    here, there = tmp_path / "here", tmp_path / "there"
    one = owner_of("trip", here / "job.toml", here / "reports")
    assert owner_of("trip", there / "job.toml", there / "reports") == one
    assert owner_of("trip", there / "job.toml", here / "reports") != one


def test_tables_of_a_trip_that_was_renamed_go(tmp_path: Path) -> None:
    page, mine = tmp_path / "job.html", tmp_path / "job-1-mine.csv"
    mine.write_text("not of this program")

    def run(*tables: str) -> None:
        outputs = settle(page=page, tables=[tmp_path / name for name in tables], owner="me")
        outputs.write(page=PAGE.format("x"), tables=dict.fromkeys(tables, "a,b\n"))

    run("job-1-easter-hours.csv", "job-1-easter-days.csv")
    run("job-1-pfingsten-日本-hours.csv")
    assert names(tmp_path) == ["job-1-mine.csv", "job-1-pfingsten-日本-hours.csv", "job.html"]
    run()  # without tables those that lie there stay, and stay known
    run("job-1-summer-hours.csv")
    assert names(tmp_path) == ["job-1-mine.csv", "job-1-summer-hours.csv", "job.html"]


def test_a_page_cannot_name_files_elsewhere_to_be_removed(tmp_path: Path) -> None:
    page, kept = tmp_path / "in" / "job.html", tmp_path / "kept.csv"
    settle(page=page, owner="me").write(page=PAGE.format("x"))
    kept.write_text("")
    label = '<meta name="nightledger-tables" content="../kept.csv /etc/x.csv job.html">'
    page.write_text(page.read_text() + label)
    assert settle(page=page, owner="me").old_tables == ()


def test_a_folder_is_tried_without_a_trace(tmp_path: Path) -> None:
    expect_writable(tmp_path / "not" / "yet" / "there")
    assert list(tmp_path.iterdir()) == []
    (tmp_path / "file").write_text("")
    with pytest.raises(OutputError, match=r"new: cannot be written: Not a directory"):
        expect_writable(tmp_path / "file" / "new")


# --- names ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "stem"),
    [
        ("January, high desert", "january-high-desert"),
        ("../../etc/passwd", "etc-passwd"),
        ("日本 一周", "日本-一周"),
        ("São Paulo; Tromsø", "sao-paulo-tromso"),
        ("Большой Май", "большой-май"),
        ("हिन्दी", "हिन्दी"),
        ("한국", "한국"),
        ("🚐", "trip"),
        ("CON", "con-1"),
        ("x" * 500, "x" * 60),
        ("日" * 100, "日" * 30),
        ("\x1b[31m", "31m"),
    ],
)
def test_file_stem_is_plain(name: str, stem: str) -> None:
    assert file_stem(name) == stem


@pytest.mark.parametrize(
    ("file", "customer", "stem"),
    [
        ("a/job.toml", "The Garcías", "the-garcias"),
        ("a/job.toml", None, "job"),
        ("garcia.toml", "Ines García", "garcia"),
    ],
)
def test_reports_are_named_after_the_file_or_the_customer(
    file: str, customer: str | None, stem: str
) -> None:
    assert report_stem(Path(file), customer) == stem
