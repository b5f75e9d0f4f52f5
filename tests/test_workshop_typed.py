"""The workshop's commands as they are typed at a terminal of 80 columns and 24 lines."""

from __future__ import annotations

import fcntl
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

pty = pytest.importorskip("pty")
_LONGEST_S = 120.0


def typed(arguments: Sequence[str], replies: Sequence[str], folder: Path) -> tuple[int, str]:
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
        env=environment | {"TERM": "xterm", "PYTHONPATH": os.pathsep.join(sys.path)},
    )
    os.close(slave)
    screen, waiting, until = "", list(replies), time.monotonic() + _LONGEST_S
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
            os.write(master, reply.encode() + b"\n")
            screen += "\n"
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


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["sketch", "38.57, -109.55", "--has", "laptip"], "no appliance of the shelf"),
        (["compare", "none.toml", "none.toml"], "there is no such file"),
        (["compare", "none.toml"], "Missing argument 'NEW'"),
        (["book", "nowhere"], "no such folder"),
    ],
)
def test_wrong_input_is_a_sentence(tmp_path: Path, arguments: list[str], said: str) -> None:
    code, screen = typed(arguments, [], tmp_path)
    assert code == 2
    assert said in screen
    assert "Traceback" not in screen
