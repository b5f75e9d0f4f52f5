"""The book: what is a job, what is stale, and running it all, a bad file among them."""

from __future__ import annotations

import json
import re
import shutil
import signal
import subprocess
import sys
from collections.abc import Iterator
from concurrent.futures import Future
from concurrent.futures.process import BrokenProcessPool
from dataclasses import replace
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from sim import __version__
from sim.book import deaf_children, job_files, look, run_job, run_stale
from sim.cli import app
from sim.errors import JobError, OutputError
from sim.report.data.book_record import BookLine, read_record

QUICK = '\n[settings]\ndraws = 2\nweather = "clear"\n'
SMALL_JOB = (Path(__file__).parent / "data" / "jobs" / "small.toml").read_text("utf-8")
NASTY = "<script>alert(1)</script> & Co"


def book(*arguments: str | Path) -> Result:
    return CliRunner().invoke(app, ["book", *(str(x) for x in arguments)])


def write(path: Path, text: str = SMALL_JOB, customer: str = "") -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    head = f"customer = {json.dumps(customer)}\n" if customer else ""
    path.write_text(head + text + QUICK, "utf-8")
    return path


@pytest.fixture(scope="module")
def run_once(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Result]:
    """A folder with two jobs of one name, one that is broken, and what is no job; run."""
    desk = tmp_path_factory.mktemp("desk")
    write(desk / "jobs" / "a" / "van.toml", customer=NASTY)
    write(desk / "jobs" / "b" / "van.toml", customer="Berta")
    write(desk / "jobs" / "bad.toml", text=SMALL_JOB.replace("nights = 2", "nights = -2"))
    write(desk / "jobs" / ".old" / "van.toml")
    (desk / "jobs" / "tool.toml").write_text("[tool]\nname = 1\n", "utf-8")
    arguments = ("--run", "--out", desk / "out", "--json", desk / "book-numbers.json", "--jobs", 1)
    return desk, book(desk / "jobs", *map(str, arguments))


def lines_of(desk: Path, program: str = __version__) -> dict[str, BookLine]:
    out = desk / "out"
    return {x.file: x for x in look(desk / "jobs", out, read_record(out), program)}


@pytest.fixture
def desk(run_once: tuple[Path, Result], tmp_path: Path) -> Path:
    """A copy of the folder as it was left, to be changed."""
    return shutil.copytree(run_once[0], tmp_path / "desk")


def test_every_job_is_run_and_the_bad_one_stops_none(run_once: tuple[Path, Result]) -> None:
    desk, done = run_once
    assert done.exit_code == 2
    assert "3 jobs: 2 up to date, 1 with a fault." in done.stdout
    assert re.search(r"bad\.toml: .*nights", done.stdout)
    assert (desk / "out" / "a" / "van.html").exists()
    assert (desk / "out" / "b" / "van.html").exists()
    numbers = json.loads((desk / "book-numbers.json").read_text("utf-8"))
    jobs = {job["file"]: job for job in numbers["jobs"]}
    assert set(jobs) == {"a/van.toml", "b/van.toml", "bad.toml"}
    assert jobs["b/van.toml"]["customer"] == "Berta"
    medical = {"names": [], "share": 0.0}
    trip = {"name": "Weekend", "verdict": "ample", "held": 2, "draws": 2, "medical": medical}
    assert jobs["b/van.toml"]["trips"] == [trip]
    assert (jobs["b/van.toml"]["stale"], jobs["b/van.toml"]["error"]) == (False, None)
    assert "nights" in jobs["bad.toml"]["error"]


def test_the_index_is_escaped_and_links_the_reports(run_once: tuple[Path, Result]) -> None:
    text = (run_once[0] / "out" / "book.html").read_text("utf-8")
    assert "<script" not in text
    assert "&lt;script&gt;alert(1)&lt;/script&gt; &amp; Co" in text
    assert re.findall(r'<a href="([^"#][^"]*)"', text) == ["a/van.html", "b/van.html"]
    assert not re.search(r"(?:src|href)=\"(?:https?:)?//", text)


def test_nothing_changed_means_nothing_is_stale(desk: Path) -> None:
    assert {name: line.changed for name, line in lines_of(desk).items()} == {
        "a/van.toml": (),
        "b/van.toml": (),
        "bad.toml": (),
    }


def test_what_changed_is_named(desk: Path) -> None:
    path = desk / "jobs" / "b" / "van.toml"
    path.write_text(path.read_text("utf-8") + "# a word\n", "utf-8")
    assert lines_of(desk)["b/van.toml"].changed == ("job file",)
    assert lines_of(desk)["a/van.toml"].changed == ()
    assert lines_of(desk, program="99")["a/van.toml"].changed == ("program",)
    (desk / "out" / "a" / "van.html").unlink()
    assert lines_of(desk)["a/van.toml"].changed == ("report",)
    write(desk / "jobs" / "c.toml")
    assert lines_of(desk)["c.toml"].changed == ("never run",)


def test_a_changed_profile_makes_all_stale(desk: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sim.book._profiles_mark", lambda: "another")
    assert lines_of(desk)["a/van.toml"].changed == ("profiles",)


def test_jobs_says_how_many_run_side_by_side(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen: list[tuple[int, int]] = []

    def count(tasks: dict[int, object], processes: int) -> Iterator[tuple[int, object]]:
        seen.append((len(tasks), processes))
        return iter(())

    monkeypatch.setattr("sim.book._run_all", count)
    write(tmp_path / "jobs" / "a.toml")
    write(tmp_path / "jobs" / "b.toml")
    done = book(tmp_path / "jobs", "--run", "--out", tmp_path / "out", "--jobs", 3)
    assert seen == [(2, 3)], done.output


def test_without_run_nothing_is_written(tmp_path: Path) -> None:
    write(tmp_path / "jobs" / "book.toml")
    done = book(tmp_path / "jobs", "--out", tmp_path / "out")
    assert done.exit_code == 0, done.stderr
    assert "1 to be run" in done.stdout
    assert not (tmp_path / "out").exists()
    # Its report must not take the place of the index.
    (line,) = look(tmp_path / "jobs", tmp_path / "out", {}, __version__)
    assert line.page == "book-job.html"


def test_a_job_that_fails_keeps_its_last_answer(
    desk: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The page of somebody else stands where the report should go."""
    monkeypatch.setattr("sim.book._run_all", lambda tasks, processes: (
        (index, run_job(task)) for index, task in tasks.items()
    ))  # fmt: skip
    (desk / "out" / "b" / "van.html").write_text("<title>mine</title>", "utf-8")
    stale = tuple(replace(x, changed=("program",)) for x in lines_of(desk).values() if not x.error)
    ran = run_stale(stale, desk / "jobs", desk / "out", "99", processes=1)
    first, second = ran
    assert (first.error, first.changed) == (None, ())
    assert second.error is not None
    assert "no report of this job" in second.error
    assert second.last == stale[1].last
    assert (desk / "out" / "b" / "van.html").read_text("utf-8") == "<title>mine</title>"


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("none", "no such folder"),
        ("file.toml", "is a file; name the folder of the jobs"),
        ("empty", "holds no job file"),
    ],
)
def test_no_jobs(tmp_path: Path, name: str, said: str) -> None:
    (tmp_path / "empty").mkdir()
    (tmp_path / "file.toml").write_text("", "utf-8")
    with pytest.raises(JobError, match=said):
        job_files(tmp_path / name)


@pytest.mark.parametrize("text", ["", "[]", "{", '{"nightledger_book": 1}', '{"jobs": {}}'])
def test_a_record_that_is_none(tmp_path: Path, text: str) -> None:
    (tmp_path / "book.json").write_text(text, "utf-8")
    with pytest.raises(OutputError, match="not the record of a book"):
        read_record(tmp_path)


def test_a_record_of_another_layout_is_passed_over(tmp_path: Path) -> None:
    (tmp_path / "book.json").write_text('{"nightledger_book": 2, "jobs": 7}', "utf-8")
    assert read_record(tmp_path) == {}


@pytest.mark.skipif(not hasattr(signal, "pthread_sigmask"), reason="Windows has other means")
def test_a_job_that_runs_hears_no_terminal() -> None:
    """From its first instant; the program itself hears it again at once."""
    blocked = "import signal; print(sorted(x.name for x in signal.pthread_sigmask(0, [])))"
    before = signal.pthread_sigmask(signal.SIG_BLOCK, [])
    with deaf_children():
        done = subprocess.run(
            [sys.executable, "-c", blocked], capture_output=True, text=True, check=True
        )
    assert done.stdout.split() == ["['SIGHUP',", "'SIGINT']"]
    assert signal.pthread_sigmask(signal.SIG_BLOCK, []) == before


def test_jobs_end_with_the_program() -> None:
    """Where it is killed, nobody ends them; what they hold open of it is shut when they end."""
    program = (
        "import multiprocessing, os, signal, sys, time\n"
        "from concurrent.futures import ProcessPoolExecutor\n"
        "from sim.book import begin_process\n"
        "pool = ProcessPoolExecutor(1, multiprocessing.get_context('spawn'), begin_process)\n"
        "print(pool.submit(os.getpid).result(), flush=True)\n"
        "pool.submit(time.sleep, 60)\n"
        "time.sleep(0.2)\n"
        "os.kill(os.getpid(), signal.SIGTERM)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=False, timeout=50
    )
    assert done.returncode != 0
    assert int(done.stdout) > 0, done.stderr


def test_what_an_ended_process_was_writing_goes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = tmp_path / "out"

    def ended(pool: object, work: object, task: object) -> Future[object]:
        out.mkdir(exist_ok=True)
        (out / ".nightledger-half.part").write_text("<html>", "utf-8")
        gone: Future[object] = Future()
        gone.set_exception(BrokenProcessPool())
        return gone

    monkeypatch.setattr("sim.book.ProcessPoolExecutor.submit", ended)
    write(tmp_path / "jobs" / "a.toml")
    done = book(tmp_path / "jobs", "--run", "--out", out)
    assert "its process was ended" in done.stdout, done.output
    assert sorted(x.name for x in out.iterdir()) == ["book.html", "book.json"]
