"""Files appear whole or not at all."""

from __future__ import annotations

import os
import stat
from pathlib import Path

import pytest

from sim.errors import OutputError
from sim.report.data.output import expect_writable, file_stem, write_whole


def test_writes_into_a_folder_it_makes(tmp_path: Path) -> None:
    path = write_whole(tmp_path / "a" / "b" / "report.html", "grün\n")
    assert path.read_bytes() == "grün\n".encode()
    assert [p.name for p in path.parent.iterdir()] == ["report.html"]


def test_mode_is_that_of_an_ordinary_file(tmp_path: Path) -> None:
    plain = tmp_path / "plain"
    plain.write_text("")
    written = write_whole(tmp_path / "written", "x")
    assert stat.S_IMODE(os.stat(written).st_mode) == stat.S_IMODE(os.stat(plain).st_mode)


def test_a_failed_write_keeps_the_old_file_and_leaves_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "report.html"
    path.write_text("old")

    def full(self: Path, target: Path) -> Path:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "replace", full)
    with pytest.raises(OutputError, match=r"report\.html: cannot be written: No space left"):
        write_whole(path, "new")
    assert path.read_text() == "old"
    assert [p.name for p in tmp_path.iterdir()] == ["report.html"]


def test_a_file_in_the_way_of_the_folder_is_said(tmp_path: Path) -> None:
    (tmp_path / "reports").write_text("")
    with pytest.raises(OutputError, match=r"name another folder$"):
        write_whole(tmp_path / "reports" / "x.html", "x")


@pytest.mark.parametrize(
    ("name", "stem"),
    [
        ("January, high desert", "january-high-desert"),
        ("../../etc/passwd", "etc-passwd"),
        ("日本", "trip"),
        ("São Paulo; Tromsø", "sao-paulo-tromso"),
        ("x" * 500, "x" * 60),
    ],
)
def test_file_stem_is_plain(name: str, stem: str) -> None:
    assert file_stem(name) == stem


def test_a_folder_is_tried_without_a_trace(tmp_path: Path) -> None:
    expect_writable(tmp_path / "not" / "yet" / "there")
    assert list(tmp_path.iterdir()) == []
    (tmp_path / "file").write_text("")
    with pytest.raises(OutputError, match=r"new: cannot be written: Not a directory"):
        expect_writable(tmp_path / "file" / "new")
