"""Stopping: Ctrl-C, a terminal that closes and a polite kill all end the program in one way.

They raise `KeyboardInterrupt` in the main thread, so that what is half done is tidied up. Where
several steps belong together (`unstoppable`) they wait until the last of them is done.
"""

from __future__ import annotations

import signal
from collections.abc import Iterator
from contextlib import contextmanager
from threading import Timer
from types import FrameType

# What stops a program; Windows knows no SIGHUP.
STOPS = tuple(
    getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name)
)
# Code of Python's own import, and how soon a stop that met it comes again. [s]
_IMPORTING = "<frozen importlib"
_AGAIN_S = 0.01


class _State:
    """Whether stops are taken, whether one must wait, and whether one does."""

    listens = False
    held = False
    asked = False


def listen() -> None:
    """Take every stop in the same way from here on; one that the caller ignores stays ignored.

    For the main thread of a program; a library must leave signals alone.
    """
    _State.listens = True
    for number in STOPS:
        if signal.getsignal(number) is not signal.SIG_IGN:
            signal.signal(number, _stop)


def hear_no_more() -> None:
    """The program is at its end: what comes from here on has nothing left to stop."""
    for number in STOPS:
        if signal.getsignal(number) is _stop:
            signal.signal(number, signal.SIG_IGN)


def listens() -> bool:
    """Whether this process is the program itself, and not another's that uses it as a library."""
    return _State.listens


def _stop(number: int, frame: FrameType | None) -> None:
    if _State.held:
        _State.asked = True
        return
    if frame is not None and frame.f_code.co_filename.startswith(_IMPORTING):
        # Python drops what is raised in a callback of its import: ask again a moment later.
        Timer(_AGAIN_S, signal.raise_signal, (number,)).start()
        return
    raise KeyboardInterrupt


@contextmanager
def unstoppable() -> Iterator[None]:
    """A few quick steps that belong together: a stop waits for the end of the block."""
    _State.held = True
    try:
        yield
    finally:
        _State.held = False
        if _State.asked:
            _State.asked = False
            raise KeyboardInterrupt
