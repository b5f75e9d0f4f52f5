"""A second process that does a share of the tasks: the same answers, and never one left behind."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from functools import partial
from pathlib import Path

import pytest

from sim.second import Second, Tasks, cores, may_copy

can_copy = pytest.mark.skipif(sys.platform != "linux", reason="copies are made on Linux")
HERE = str(Path(__file__).parent)
OWN = os.getpid()


def who_and_what(lag_s: float, number: int) -> tuple[int, int]:
    """Which process did a task, and what came of it."""
    time.sleep(lag_s)
    return os.getpid(), number**2


def squares(count: int, lag_s: float = 0.0) -> Tasks[tuple[int, int]]:
    return partial(who_and_what, lag_s), count


def fails_in_the_other(number: int) -> int:
    if os.getpid() != OWN:
        raise ValueError("only here")
    return number


def broken_there(own: int) -> Tasks[int]:
    global OWN
    OWN = own
    return fails_in_the_other, 4


def ends(code: int) -> Tasks[tuple[int, int]]:
    os._exit(code)


def where_one_writes(number: int) -> tuple[int | str, ...]:
    """Which process it is, and what its three streams are."""
    return (os.getpid(), *(os.readlink(f"/proc/self/fd/{stream}") for stream in range(3)))


def where_it_writes() -> Tasks[tuple[int | str, ...]]:
    return where_one_writes, 2


def fails(number: int) -> int:
    raise ValueError(f"task {number}")


@pytest.fixture(autouse=True)
def importable(monkeypatch: pytest.MonkeyPatch) -> None:
    """The tasks of this module are found by their names in the other process too."""
    monkeypatch.syspath_prepend(HERE)


both_kinds = pytest.mark.parametrize("copy", [False, pytest.param(True, marks=can_copy)])


@pytest.fixture(params=[False, pytest.param(True, marks=can_copy)], ids=["fresh", "copy"])
def second(request: pytest.FixtureRequest) -> Iterator[Second]:
    with Second(["json"], copy=request.param) as found:
        yield found


def pid_of(second: Second) -> int:
    assert second._process is not None
    return second._process.pid


def is_gone(pid: int, within_s: float = 20.0) -> bool:
    until = time.monotonic() + within_s
    while time.monotonic() < until:
        try:
            os.kill(pid, 0)
        except ProcessLookupError:
            return True
        time.sleep(0.02)
    return False


def test_both_do_tasks_and_the_answers_are_in_order(second: Second) -> None:
    second.begin(partial(squares, 200, 0.005))
    told: list[float] = []
    found = second.finish(squares(200, 0.005), told.append)
    assert [what for _, what in found] == [number**2 for number in range(200)]
    assert {who for who, _ in found} == {OWN, pid_of(second)}
    # The first are done there, the last here.
    assert (found[0][0], found[-1][0]) == (pid_of(second), OWN)
    assert told == sorted(told)
    assert told[-1] == 1.0


def test_without_one_all_is_done_here() -> None:
    with Second([], start=False) as second:
        second.begin(partial(squares, 5))
        assert second.finish(squares(5)) == [(OWN, number**2) for number in range(5)]


def test_no_task_at_all(second: Second) -> None:
    second.begin(partial(squares, 0))
    assert second.finish(squares(0)) == []


@pytest.mark.parametrize("executable", ["", "/nowhere/python"])
def test_where_none_can_be_started(monkeypatch: pytest.MonkeyPatch, executable: str) -> None:
    monkeypatch.setattr(sys, "executable", executable)
    with Second([], copy=False) as second:
        second.begin(partial(squares, 3))
        assert second.finish(squares(3)) == [(OWN, number**2) for number in range(3)]


def test_what_it_fails_at_is_done_here(second: Second) -> None:
    second.begin(partial(broken_there, OWN))
    time.sleep(0.5)
    assert second.finish((fails_in_the_other, 4)) == [0, 1, 2, 3]


def test_one_that_ends_at_once_is_done_without(second: Second) -> None:
    second.begin(partial(ends, 3))
    assert [what for _, what in second.finish(squares(4))] == [0, 1, 4, 9]


def test_one_that_is_killed_is_done_without(second: Second) -> None:
    second.begin(partial(squares, 8, 0.2))
    time.sleep(1.0)
    os.kill(pid_of(second), signal.SIGTERM)
    assert [what for _, what in second.finish(squares(8))] == [n**2 for n in range(8)]


def test_what_a_task_raises_here_is_raised(second: Second) -> None:
    second.begin(partial(broken_there, OWN))
    with pytest.raises(ValueError, match="task 3"):
        second.finish((fails, 4))


@can_copy
def test_where_the_system_refuses_a_copy(monkeypatch: pytest.MonkeyPatch) -> None:
    def refused() -> int:
        raise BlockingIOError("no more processes")

    monkeypatch.setattr(os, "fork", refused)
    files = os.listdir("/proc/self/fd")
    with Second([], copy=True) as second:
        second.begin(partial(squares, 3))
        assert second.finish(squares(3)) == [(OWN, number**2) for number in range(3)]
        assert os.listdir("/proc/self/fd") == files


@can_copy
def test_beside_a_thread_no_copy_is_made(monkeypatch: pytest.MonkeyPatch) -> None:
    """A copy has the locks of other threads, and nobody who would open them."""
    monkeypatch.setattr(threading, "active_count", lambda: 1)
    assert may_copy()
    monkeypatch.setattr(threading, "active_count", lambda: 2)
    assert not may_copy()


@can_copy
def test_a_copy_brings_what_was_imported_and_lets_go_of_the_terminal() -> None:
    with Second(["colorsys"], copy=True) as second:
        second.begin(where_it_writes)
        time.sleep(0.5)
        found = second.finish((where_one_writes, 2))
    there = found[0]
    assert there[0] != OWN
    assert there[1:] == (os.devnull,) * 3


@both_kinds
def test_closed_it_is_gone_whatever_it_is_at(copy: bool) -> None:
    with Second([], copy=copy) as second:
        second.begin(partial(squares, 2, 60.0))
        pid = pid_of(second)
        time.sleep(0.5)
    assert is_gone(pid)


PARENT = """
import os, sys, time
from functools import partial
from sim.second import Second
from test_second import squares
second = Second([], copy=COPY)
second.begin(partial(squares, 10**6, 0.01))
print(second._process.pid, flush=True)
time.sleep(60)
"""


@pytest.mark.skipif(sys.platform == "win32", reason="signals of POSIX")
@pytest.mark.parametrize("number", [signal.SIGKILL, signal.SIGTERM])
@both_kinds
def test_it_ends_when_the_first_is_killed(number: signal.Signals, copy: bool) -> None:
    parent = subprocess.Popen(
        [sys.executable, "-c", f"COPY = {copy}\n{PARENT}"],
        stdout=subprocess.PIPE,
        text=True,
        env=os.environ | {"PYTHONPATH": os.pathsep.join([HERE, *sys.path])},
    )
    assert parent.stdout is not None
    pid = int(parent.stdout.readline())
    parent.send_signal(number)
    parent.wait()
    parent.stdout.close()
    assert is_gone(pid)


@pytest.mark.skipif(sys.platform == "win32", reason="signals of POSIX")
def test_it_hears_no_ctrl_c(second: Second) -> None:
    """A terminal sends Ctrl-C, and that it closes, to all processes of a session's group."""
    second.begin(partial(squares, 10**6, 0.01))
    time.sleep(0.2)
    assert os.getsid(pid_of(second)) != os.getsid(0)


def test_at_least_one_core() -> None:
    assert cores() >= 1
