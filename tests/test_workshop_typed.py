"""The workshop's commands as they are typed at a terminal of 80 columns and 24 lines."""

from __future__ import annotations

import fcntl
import json
import os
import re
import select
import struct
import subprocess
import sys
import termios
import time
from collections.abc import Sequence
from pathlib import Path

import pytest

from sim.job.reading.load import load_job

pty = pytest.importorskip("pty")
_LONGEST_S = 120.0
# A key that stops, and the window that is closed.
CTRL_C, CLOSED = "\x03", "closed"
# Between the prompt and the wait for a key a stop can be lost; nobody types as fast.
_REACTION_S, _AGAIN_S = 0.3, 5.0


def typed(
    arguments: Sequence[str], replies: Sequence[str], folder: Path, terminal: str = "xterm"
) -> tuple[int, str]:
    """Exit code and screen of a command whose every question is answered by a line."""
    master, slave = pty.openpty()
    fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
    environment = {k: v for k, v in os.environ.items() if k not in ("COLUMNS", "LINES")}
    process = subprocess.Popen(
        [sys.executable, "-m", "sim", *arguments],
        stdin=slave,
        stdout=slave,
        stderr=slave,
        cwd=folder,
        # A terminal that stops by keys, as a login gives it.
        start_new_session=True,
        preexec_fn=lambda: fcntl.ioctl(0, termios.TIOCSCTTY, 0),
        env=environment | {"TERM": terminal, "PYTHONPATH": os.pathsep.join(sys.path)},
    )
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
    return process.wait(timeout=_LONGEST_S), re.sub(r"\x1b\[[0-9;?]*[A-Za-z]", "", screen)


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
