"""A second process beside this one, which does a share of its tasks on another core.

Threads bring nothing here: arrays of a few thousand lanes are so quick that each holds Python's
lock nearly all the time. On Linux the second process is a copy of this one, with all that is
imported, made when there is work for it. Elsewhere, or beside threads, of which a copy has none but
their locks, it is a fresh interpreter, started early, so that it imports while this one does. It
hears no Ctrl-C and no terminal that closes, and ends as soon as this one does, however that ends.
Where it cannot be had, or is lost, this process does all tasks itself: what comes of them is the
same.
"""

from __future__ import annotations

import gc
import os
import pickle
import signal
import subprocess
import sys
import threading
import warnings
from collections import deque
from collections.abc import Callable, Sequence
from contextlib import ExitStack, suppress
from importlib import import_module
from typing import IO, Any, NoReturn, Protocol, TypeVar

from sim import stopping

_T = TypeVar("_T")
# A task, and how many of them there are; made anew in each process from the same.
Tasks = tuple[Callable[[int], _T], int]

_BEGIN = (
    "import sys; sys.path[:] = sys.argv.pop(1).splitlines(); "
    "from sim.second import live_afresh; live_afresh()"
)
# On Windows a group of its own keeps Ctrl-C away; elsewhere a session of its own does.
_OWN_GROUP = getattr(subprocess, "CREATE_NEW_PROCESS_GROUP", 0)


def cores() -> int:
    """Cores that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def may_copy() -> bool:
    """Whether a copy of this process can be trusted to run: on Linux, without threads of Python."""
    return sys.platform == "linux" and threading.active_count() == 1


class Process(Protocol):
    """A process that does tasks: either kind."""

    @property
    def pid(self) -> int: ...
    @property
    def stdin(self) -> IO[bytes] | None: ...
    @property
    def stdout(self) -> IO[bytes] | None: ...
    def kill(self) -> None: ...
    def wait(self) -> int: ...


class Copy:
    """A copy of this process that serves tasks.

    Raises
    ------
    OSError
        Where the system has no room for one more.
    """

    def __init__(self) -> None:
        with ExitStack() as undone:
            calls_there, calls = _pipe(undone)
            answers, answers_there = _pipe(undone)
            with warnings.catch_warnings():
                # The array library has threads of its own, and begins them anew in a copy.
                warnings.simplefilter("ignore", DeprecationWarning)
                self.pid = os.fork()
            if self.pid == 0:
                _live_as_copy(calls_there, answers_there, of_the_first=(calls, answers))
            undone.pop_all()
        os.close(calls_there)
        os.close(answers_there)
        self.stdin, self.stdout = os.fdopen(calls, "wb"), os.fdopen(answers, "rb")

    def kill(self) -> None:
        """End it; once `wait` has seen its end its number may be another's."""
        os.kill(self.pid, signal.SIGKILL)

    def wait(self) -> int:
        return os.waitpid(self.pid, 0)[1]


class Second:
    """A second process, until `close`; also to be used in a ``with``.

    Parameters
    ----------
    modules : sequence of str
        What its tasks need: imported here before it is copied, or there at once.
    start : bool
        Whether there is to be one; without it all tasks are done here.
    copy : bool, optional
        Whether it is to be a copy of this process, made by `begin`, or a fresh one, begun here;
        `may_copy` unless given.
    """

    def __init__(
        self, modules: Sequence[str], *, start: bool = True, copy: bool | None = None
    ) -> None:
        self._modules = tuple(modules)
        self._copies = start and (may_copy() if copy is None else copy)
        self._found: dict[int, Any] = {}
        self._waiting: deque[int] | None = None
        self._lock = threading.Lock()
        self._thread: threading.Thread | None = None
        self._process: Process | None = None
        if start and not self._copies and sys.executable and not getattr(sys, "frozen", False):
            with suppress(OSError):
                self._process = _fresh(self._modules)

    def __enter__(self) -> Second:
        return self

    def __exit__(self, *ended: object) -> None:
        self.close()

    def close(self) -> None:
        """End the process, whatever it is at."""
        if self._process is None:
            return
        self._process.kill()
        self._process.wait()
        if self._thread is not None:
            self._thread.join()
        for stream in (self._process.stdin, self._process.stdout):
            if stream is not None:
                with suppress(OSError):
                    stream.close()
        self._process = None

    def begin(self, make: Callable[[], Tasks[_T]]) -> None:
        """Let it make its tasks, as `finish` does here, and begin with the first of them.

        Parameters
        ----------
        make : callable
            Goes there as a pickle; so does what comes of a task on its way back.
        """
        if self._copies:
            for module in self._modules:
                import_module(module)
            with stopping.unstoppable(), suppress(OSError):
                self._process = Copy()
        if self._process is not None:
            self._thread = threading.Thread(target=self._hand_out, args=(make,), daemon=True)
            self._thread.start()

    def finish(self, tasks: Tasks[_T], progress: Callable[[float], None] | None = None) -> list[_T]:
        """Do the last tasks here until the two meet; what comes of all, in their order.

        Raises
        ------
        Exception
            What a task raises.
        """
        work, count = tasks
        tell = progress or (lambda done: None)
        self._count(count)
        while (number := self._next(first=False)) is not None:
            self._found[number] = work(number)
            tell(len(self._found) / count)
        if self._thread is not None:
            self._thread.join()
        for number in range(count):
            # One that the other process was at when it was lost, or in which something is wrong.
            if number not in self._found:
                self._found[number] = work(number)
        tell(1.0)
        return [self._found[number] for number in range(count)]

    def _count(self, count: int) -> None:
        """So many tasks wait, for whichever process is the first to know."""
        with self._lock:
            if self._waiting is None:
                self._waiting = deque(range(count))

    def _next(self, *, first: bool) -> int | None:
        """The first or the last task that waits; None where none does."""
        with self._lock:
            if not self._waiting:
                return None
            return self._waiting.popleft() if first else self._waiting.pop()

    def _hand_out(self, make: Callable[[], Tasks[Any]]) -> None:
        """Give the process one task after the other, until none waits or it is lost."""
        assert self._process is not None
        calls, answers = self._process.stdin, self._process.stdout
        assert calls is not None
        assert answers is not None
        with suppress(OSError, EOFError, pickle.UnpicklingError):
            _send(calls, make)
            self._count(pickle.load(answers))
            while (number := self._next(first=True)) is not None:
                _send(calls, number)
                self._found[number] = pickle.load(answers)


def _pipe(undone: ExitStack) -> tuple[int, int]:
    ends = os.pipe()
    for end in ends:
        undone.callback(os.close, end)
    return ends


def _fresh(modules: Sequence[str]) -> subprocess.Popen[bytes]:
    return subprocess.Popen(
        # It may be ended amid an import, which would leave compiled files half written.
        [sys.executable, "-B", "-c", _BEGIN, "\n".join(sys.path), *modules],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
        creationflags=_OWN_GROUP,
    )


def live_afresh() -> None:
    """The life of a fresh process: import, and serve."""
    calls, answers = sys.stdin.buffer, os.fdopen(os.dup(1), "wb")
    # Whatever is printed has no business among the answers.
    os.dup2(2, 1)
    # What is imported stays: no garbage is looked for in it, now or later.
    gc.disable()
    for module in sys.argv[1:]:
        import_module(module)
    gc.freeze()
    gc.enable()
    _serve(calls, answers)


def _live_as_copy(calls: int, answers: int, *, of_the_first: tuple[int, ...]) -> NoReturn:
    """The life of a copy: let go of what is the first's, and serve. Nothing that the first has
    begun, such as a file half written, is ended here."""
    try:
        os.setsid()
        for number in stopping.STOPS:
            signal.signal(number, signal.SIG_DFL)
        for pipe in of_the_first:
            os.close(pipe)
        nowhere = os.open(os.devnull, os.O_RDWR)
        for stream in range(3):
            os.dup2(nowhere, stream)
        _serve(os.fdopen(calls, "rb"), os.fdopen(answers, "wb"))
    finally:
        os._exit(0)


def _serve(calls: IO[bytes], answers: IO[bytes]) -> None:
    """Make the tasks, and do those that are asked for, until the first process ends."""
    with suppress(EOFError, OSError):
        work, count = pickle.load(calls)()
        _send(answers, count)
        while True:
            _send(answers, work(pickle.load(calls)))


def _send(stream: IO[bytes], what: object) -> None:
    pickle.dump(what, stream, pickle.HIGHEST_PROTOCOL)
    stream.flush()
