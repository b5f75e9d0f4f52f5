"""The workshop's commands as they are typed at a terminal of 80 columns and 24 lines."""

from __future__ import annotations

import contextlib
import fcntl
import json
import os
import re
import select
import signal
import struct
import sys
import termios
import time
import traceback
import warnings
from collections.abc import Callable, Sequence
from pathlib import Path

import pytest

# All that the commands import when they run.
import sim.cli.commands
import sim.decide
import sim.interview.questions
import sim.ledger.simulate
import sim.report.page.client
from sim.book import run_job
from sim.job.reading.load import load_job

pty = pytest.importorskip("pty")
_LONGEST_S = 120.0
# A key that stops, and the window that is closed.
CTRL_C, CLOSED = "\x03", "closed"
# Between the prompt and the wait for a key a stop can be lost; nobody types as fast.
_REACTION_S, _AGAIN_S = 0.3, 5.0


def _forked(
    arguments: Sequence[str], ends: tuple[int, int], folder: Path, environment: dict[str, str]
) -> int:
    """Start a command at a terminal, of which both ends are given, in a fork of this process: what
    is imported once need not be again. Its process id."""
    with warnings.catch_warnings():
        # The test runner has threads of its own, which the child never asks for anything.
        warnings.simplefilter("ignore", DeprecationWarning)
        child = os.fork()
    if child == 0:
        code = 70
        try:
            # A terminal that stops by keys, as a login gives it.
            master, terminal = ends
            os.close(master)
            os.setsid()
            fcntl.ioctl(terminal, termios.TIOCSCTTY, 0)
            for number in (0, 1, 2):
                os.dup2(terminal, number)
            for stop in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
                signal.signal(stop, signal.SIG_DFL)
            signal.signal(signal.SIGINT, signal.default_int_handler)
            os.chdir(folder)
            os.environ.clear()
            os.environ.update(environment)
            sys.argv = ["nightledger", *arguments]
            sys.stdin = sys.__stdin__ = os.fdopen(0, encoding="utf-8", closefd=False)
            sys.stdout, sys.stderr = (
                os.fdopen(number, "w", encoding="utf-8", closefd=False, buffering=1)
                for number in (1, 2)
            )
            sim.cli.run()
            code = 0
        except SystemExit as end:
            code = end.code if isinstance(end.code, int) else int(end.code is not None)
        except BaseException:
            traceback.print_exc()
        finally:
            for stream in (sys.stdout, sys.stderr):
                with contextlib.suppress(OSError):
                    stream.flush()
            os._exit(code)
    return child


def _ended(child: int) -> int:
    """The exit code of a process that is about to end."""
    until = time.monotonic() + _LONGEST_S
    while time.monotonic() < until:
        found, status = os.waitpid(child, os.WNOHANG)
        if found:
            return os.waitstatus_to_exitcode(status)
        time.sleep(0.02)
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    raise AssertionError("the command did not end")


def typed(
    arguments: Sequence[str],
    replies: Sequence[str],
    folder: Path,
    terminal: str = "xterm",
    follow: Callable[[str], str | None] = lambda screen: None,
) -> tuple[int, str]:
    """Exit code and screen of a command whose every question is answered by a line; `follow` sees
    the screen as it grows, and may give a key to press."""
    master, slave = pty.openpty()
    fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
    environment = {k: v for k, v in os.environ.items() if k not in ("COLUMNS", "LINES")}
    process = _forked(arguments, (master, slave), folder, environment | {"TERM": terminal})
    os.close(slave)
    screen, waiting, until = "", list(replies), time.monotonic() + _LONGEST_S
    again = until
    while time.monotonic() < until:
        if select.select([master], [], [], 0.1)[0]:
            try:
                got = os.read(master, 65536)
            except OSError:  # the other end is closed
                break
            if not got:
                break
            screen += got.decode("utf-8", "replace")
        if again == until and (key := follow(screen)) is not None:
            time.sleep(_REACTION_S)
            os.write(master, key.encode())
            again = time.monotonic() + _AGAIN_S
        if waiting and screen.endswith("> "):
            reply = waiting.pop(0)
            if reply in (CTRL_C, CLOSED):
                time.sleep(_REACTION_S)
            if reply == CLOSED:
                break
            os.write(master, reply.encode() + (b"" if reply == CTRL_C else b"\n"))
            again = time.monotonic() + _AGAIN_S if reply == CTRL_C else until
            screen += "\n"
        if time.monotonic() > again:
            os.write(master, CTRL_C.encode())
            again = time.monotonic() + _AGAIN_S
    os.close(master)
    return _ended(process), re.sub(r"\x1b\[[0-9;?]*[A-Za-z]", "", screen)


def test_sketch_by_five_questions_one_of_them_answered_wrongly(tmp_path: Path) -> None:
    replies = ["38.57, -109.55", "smarch", "march", "", "3", "fridge, laptops"]
    code, screen = typed(["sketch", "--save", "smith"], replies, tmp_path)
    assert code == 0, screen
    lines = screen.replace("\r", "").split("\n")
    assert "give a month by its English name or its number" in screen
    answer = [n for n, line in enumerate(lines) if line.startswith("Smallest that is ample")]
    assert len(answer) == 1
    told = [line for line in lines[answer[0] :] if line]
    assert len(told) <= 12
    assert max(map(len, told)) <= 80
    assert (tmp_path / "smith" / "smith.toml").exists()


TRAPS = {
    "plug.toml": (
        "[[trips.stops]]\nplug_in = yes\n",
        'plug_in takes "never", "nights" or "always"',
    ),
    "price.toml": (
        "[prices]\npanel = $240\n",
        "write the number alone, without a sign of currency",
    ),
    "comma.toml": ("[van]\nlength_m = 4,2\n", "write a decimal point, not a comma"),
    "two.toml": (
        "[alternator]\ndcdc_amps = 30\n[[alternator]]\ndcdc_amps = 20\n",
        "has [[alternator]] above each, the first one too",
    ),
}


@pytest.mark.parametrize("name", TRAPS)
def test_a_trap_of_hand_editing_has_its_sentence(tmp_path: Path, name: str) -> None:
    text, said = TRAPS[name]
    (tmp_path / name).write_text(text, "utf-8")
    for command in ("check", "trip"):
        code, screen = typed([command, name], [], tmp_path)
        assert code == 2
        assert said in " ".join(screen.split())


SMALL_JOB = (Path(__file__).parent / "data" / "jobs" / "small.toml").read_text("utf-8")
QUICK = '\n[settings]\ndraws = 2\nweather = "clear"\n'


def write_job(path: Path, customer: str, old: str = "", new: str = "") -> Path:
    """The small job of a customer, with one part replaced."""
    path.parent.mkdir(parents=True, exist_ok=True)
    assert old in SMALL_JOB
    text = f'customer = "{customer}"\n{SMALL_JOB.replace(old, new) if old else SMALL_JOB}{QUICK}'
    path.write_text(text, "utf-8")
    return path


def final(screen: str) -> list[str]:
    """The lines that stay: of one that was written again and again, as a bar of progress is, the
    last."""
    return [line.rsplit("\r", 1)[-1] for line in screen.replace("\r\n", "\n").split("\n")]


def test_a_promise_is_kept_and_what_changed_since_is_said(tmp_path: Path) -> None:
    write_job(tmp_path / "ada.toml", "Ada")
    code, screen = typed(["trip", "ada.toml", "--keep"], [], tmp_path)
    assert code == 0, screen
    assert "reports/ada-promise.json" in screen
    write_job(tmp_path / "ada.toml", "Ada", "count = 2", "count = 1")
    code, screen = typed(["compare", "reports/ada-promise.json", "ada.toml"], [], tmp_path)
    assert code == 0, screen
    lines = final(screen)
    assert max(map(len, lines)) <= 80
    assert len([line for line in lines if line]) <= 24
    assert "In the build:" in lines
    assert "  panels[1].count: 2 -> 1" in lines
    assert "Report: reports/ada-compare.html" in lines
    # The promise is no job file, and not what the page goes into.
    code, screen = typed(["trip", "reports/ada-promise.json"], [], tmp_path)
    assert code == 2
    assert "Traceback" not in screen


def test_a_book_is_read_run_and_read_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    # Jobs in processes of their own are run in test_book.py.
    monkeypatch.setattr("sim.book._run_all", lambda tasks, processes: (
        (index, run_job(task)) for index, task in tasks.items()
    ))  # fmt: skip
    write_job(tmp_path / "customers" / "ada" / "ada.toml", "Ada")
    write_job(tmp_path / "customers" / "bo.toml", "Bo", "nights = 2", "nights = two")
    code, screen = typed(["book", "customers"], [], tmp_path)
    assert code == 2
    assert "1 to be run (nightledger book FOLDER --run), 1 with a" in screen
    assert "never run" in screen
    code, screen = typed(["book", "customers", "--run", "--jobs", "1"], [], tmp_path)
    assert code == 2
    # One bad file stops nobody; a bar went by.
    assert "Running the jobs" in screen
    assert "2 jobs: 1 up to date, 1 with a fault." in final(screen)
    assert "nights takes a whole number" in screen
    assert (tmp_path / "reports" / "ada.html").exists()
    assert (tmp_path / "reports" / "book.html").exists()
    (tmp_path / "customers" / "bo.toml").unlink()
    write_job(tmp_path / "customers" / "ada" / "ada.toml", "Ada", "count = 2", "count = 3")
    code, screen = typed(["book", "customers"], [], tmp_path)
    assert code == 0
    assert "changed since: job" in screen
    assert max(map(len, final(screen))) <= 80


def test_a_job_is_watched_until_ctrl_c(tmp_path: Path) -> None:
    """A fault is said and the watch goes on; the mended file is run; Ctrl-C ends it."""
    path = write_job(tmp_path / "ada.toml", "Ada", "nights = 2", "nights = two")
    seen: list[str] = []

    def follow(screen: str) -> str | None:
        if "Open http://127.0.0.1:" not in screen:
            return None
        if not seen and "nights takes a whole number" in screen:
            seen.append("fault")
            write_job(path, "Ada")
        if "Report: reports/ada.html" in screen:
            return CTRL_C
        return None

    code, screen = typed(["watch", "ada.toml"], [], tmp_path, follow=follow)
    assert code == 130, screen
    assert seen == ["fault"]
    assert "stopped" in screen
    assert "Traceback" not in screen
    # A fault may be longer: it is one line, for whoever searches for it.
    lines = [line for line in final(screen) if not line.startswith("nightledger: ")]
    assert max(map(len, lines)) <= 80


def test_a_place_in_the_south_is_no_option(tmp_path: Path) -> None:
    code, screen = typed(["sky", "-33.97", "18.60"], [], tmp_path)
    assert code == 0, screen
    assert "33.97° S 18.60° E" in screen


def test_sketch_stopped_by_hand(tmp_path: Path) -> None:
    code, screen = typed(["sketch"], ["38.57, -109.55", "quit"], tmp_path)
    assert code == 130
    assert "stopped" in screen


SHORT = [
    "Åsa", "metric", "Springfield", "1", "back", "Bergen, Norway", "", "", "",
    "2027-07-01", "Voss, Norway, 2 nights", "9, 5", "done", "", "4,2",
]  # fmt: skip


@pytest.mark.parametrize("terminal", ["xterm", "dumb"])
def test_begin_by_hand_on_a_screen_of_24_lines(tmp_path: Path, terminal: str) -> None:
    code, screen = typed(["begin", "asa"], [*SHORT, *[""] * 20], tmp_path, terminal)
    assert code == 0, screen
    text = screen.replace("\r", "")
    # A place of many is picked by its number; going back shows it in brackets.
    assert "2  Springfield" in text
    assert re.search(r"Where do their trips start\?  \[(39|Springfield)", text)
    questions = text.split("\n\n")
    assert max(len(part.splitlines()) for part in questions) <= 24
    assert max(len(line) for part in questions[1:] for line in part.splitlines()) <= 80
    aboard = next(part for part in questions if part.startswith("What is aboard?"))
    assert re.search(r"Cold: +1 chest-cooler-dc", aboard)
    job = load_job(tmp_path / "asa" / "asa.toml")
    assert (job.customer, job.settings.units, job.van.length_m) == ("Åsa", "metric", 4.2)
    assert job.trips[0].stops[0].plug_in == "nights"


def test_begin_stopped_by_ctrl_c_goes_on_the_next_time(tmp_path: Path) -> None:
    code, screen = typed(["begin", "asa"], [*SHORT[:8], CTRL_C], tmp_path)
    assert code == 130, screen
    assert "the answers so far are in" in screen
    assert (tmp_path / "asa" / "asa.draft.json").exists()
    code, screen = typed(["begin", "asa"], ["yes", *SHORT[8:], *[""] * 20], tmp_path)
    assert code == 0, screen
    assert "Who is the van for?" not in screen
    assert [path.name for path in sorted((tmp_path / "asa").iterdir())] == [
        "asa.toml",
        "nightledger.schema.json",
    ]
    assert load_job(tmp_path / "asa" / "asa.toml").customer == "Åsa"


def test_begin_keeps_the_answers_when_its_window_is_closed(tmp_path: Path) -> None:
    code, _ = typed(["begin", "asa"], ["Åsa", "metric", CLOSED], tmp_path)
    assert code == 130
    draft = (tmp_path / "asa" / "asa.draft.json").read_text("utf-8")
    assert json.loads(draft)["replies"] == {"customer": "Åsa", "units": "metric"}


def test_a_wrong_answer_is_a_sentence_and_the_question_waits(tmp_path: Path) -> None:
    replies = ["Asa", "furlongs", "us", "Mohab, UT", "1", CTRL_C]
    code, screen = typed(["begin", "asa"], replies, tmp_path)
    assert code == 130, screen
    assert "give a number from 1 to 2, or a word of the list." in screen
    assert "1  Moab, Utah, US" in screen
    assert "How do they live in the van?" in screen


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["begin", "ada"], "is there already"),
        (["begin", "ada/ada.toml/x"], "cannot be written"),
        (["sketch", "38.57, -109.55", "--has", "laptip"], "not an appliance on the shelf"),
        (["compare", "none.toml", "none.toml"], "there is no such file"),
        (["compare", "none.toml"], "NEW is missing; write: nightledger compare OLD NEW"),
        (["compare", "ada/other.json", "ada/ada.toml"], "is not a kept promise"),
        (["book", "nowhere"], "no such folder"),
        (["book", "ada/ada.toml"], "is a file; name the folder of the jobs"),
        (["book", "ada", "--jobs", "none"], "--jobs"),
        (["watch", "none.toml", "--port", "99999"], "--port"),
        (["sketch", "38.57, -109.55", "--has", "heater-electric"], "parked without one"),
        (["sketch", "-33,97 18,60"], "write points: -33.97 18.60"),
        (["shelf", "--schema", "nothing"], "--schema"),
    ],
)
def test_wrong_input_is_a_sentence(tmp_path: Path, arguments: list[str], said: str) -> None:
    (tmp_path / "ada").mkdir()
    (tmp_path / "ada" / "ada.toml").write_text("", "utf-8")
    (tmp_path / "ada" / "other.json").write_text('{"a": 1}', "utf-8")
    code, screen = typed(arguments, [], tmp_path)
    assert code == 2
    assert said in " ".join(screen.split())
    assert "Traceback" not in screen
