"""A job that is watched: saved for real, run again, its page asked for over HTTP."""

from __future__ import annotations

import os
import re
import signal
import time
import urllib.request
from pathlib import Path

import pytest
from forked import ended, heed_stops, start

from sim.cli.watch import marks_of
from sim.report.page.live import live_copy, waiting_page

QUICK = "\n[settings]\ndraws = 4\n"
_LONGEST_S = 150.0


def get(address: str, path: str = "") -> str:
    with urllib.request.urlopen(address + path, timeout=20) as reply:
        return str(reply.read().decode("utf-8"))


def until(address: str, answer: int) -> str:
    """The page, once it is the answer of that number."""
    end = time.monotonic() + _LONGEST_S
    while time.monotonic() < end:
        if int(get(address, "state")) >= answer:
            return get(address)
        time.sleep(0.1)
    raise AssertionError(f"there never was a {answer}. answer")


def address_of(folder: Path) -> str:
    """Where the page of a program that watches is, once it has said so."""
    end = time.monotonic() + _LONGEST_S
    while time.monotonic() < end:
        said = (folder / "stdout").read_text("utf-8") if (folder / "stdout").exists() else ""
        if found := re.search(r"http://127\.0\.0\.1:\d+/(?=\s)", said):
            return found[0]
        time.sleep(0.02)
    raise AssertionError("there never was a page")


@pytest.mark.skipif(not hasattr(os, "fork"), reason="stops by a signal")
def test_a_save_runs_the_job_again(tmp_path: Path, small_job: str) -> None:
    file = tmp_path / "smith.toml"
    file.write_text(small_job + QUICK, "utf-8")
    child = start(["watch", "smith.toml"], tmp_path, heed_stops)
    try:
        follow_saves(file, address_of(tmp_path), small_job)
    finally:
        os.kill(child, signal.SIGINT)
        code, told, faults = ended(child, tmp_path)
    assert code == 130
    assert "nights takes a whole number" in faults
    assert faults.rstrip().endswith("nightledger: stopped; no file was left half written")
    assert "Traceback" not in faults
    assert told.count("Report: ") == 3


def follow_saves(file: Path, address: str, small_job: str) -> None:
    """Save the job in good order and in bad, and look at the page."""
    first = until(address, 1)
    assert "Test van" in first
    report = file.parent / "reports" / "smith.html"
    mailed = report.read_text("utf-8")
    # What is mailed asks for nothing; only the served copy does, and only of itself.
    for sign in ("/state", "connect-src", "location.reload", 'id="watch"'):
        assert sign not in mailed
    assert "connect-src 'self'" in first

    file.write_text(small_job.replace("Test van", "Second van") + QUICK, "utf-8")
    assert "Second van" in until(address, 2)

    file.write_text(small_job.replace("nights = 2", "nights = two") + QUICK, "utf-8")
    broken = until(address, 3)
    # The fault is told, and the last good report stays, on the page and in its file.
    assert "nights takes a whole number" in broken
    assert "Second van" in broken
    assert "Second van" in report.read_text("utf-8")

    file.write_text(small_job.replace("Test van", "Third van") + QUICK, "utf-8")
    mended = until(address, 4)
    assert "Third van" in mended
    assert "nights takes a whole number" not in mended


def test_what_counts_as_saved(tmp_path: Path, small_job: str) -> None:
    file = tmp_path / "job.toml"
    text = small_job.replace("nights = 2", 'nights = 2\nweather = "years/a.csv"')
    file.write_text(text, "utf-8")
    before = marks_of(file)
    assert marks_of(file) == before
    # A weather file that was missing, and then one that changed.
    (tmp_path / "years").mkdir()
    (tmp_path / "years" / "a.csv").write_text("1", "utf-8")
    with_weather = marks_of(file)
    assert with_weather != before
    (tmp_path / "years" / "a.csv").write_text("12", "utf-8")
    assert marks_of(file) != with_weather
    named = {Path(name).name for name, _, _ in with_weather}
    # Profiles are read too.
    assert {"job.toml", "a.csv", "fridge-dc.toml", "lifepo4-100.toml"} <= named
    file.unlink()
    assert marks_of(file)[0][2] == -1


def test_the_served_copy_may_run_its_own_script_alone() -> None:
    page = live_copy(waiting_page("a <b>.toml", "No report yet.", "1.0"), 7, ["line 3: <i>& bad"])
    policy = re.search(r'Content-Security-Policy" content="([^"]*)"', page)
    assert policy is not None
    rules = dict(rule.split(" ", 1) for rule in policy[1].split("; "))
    assert re.fullmatch(r"'sha256-[^']+'", rules["script-src"])
    assert rules["connect-src"] == "'self'"
    assert rules["default-src"] == "'none'"
    assert 'data-seen="7"' in page
    assert "line 3: &lt;i&gt;&amp; bad" in page
    assert "a &lt;b&gt;.toml" in page
    # Nothing to say is not shown.
    quiet = live_copy(waiting_page("a", "b", "1.0"), 8)
    assert re.search(r'id="watch"[^>]* hidden></p>', quiet)
