"""Stops that come at awkward moments."""

from __future__ import annotations

import signal
import time
from collections.abc import Iterator
from types import SimpleNamespace
from typing import Any

import pytest

from sim import stopping


@pytest.fixture(autouse=True)
def listening() -> Iterator[None]:
    before = signal.signal(signal.SIGINT, stopping._stop)
    yield
    signal.signal(signal.SIGINT, before)


def frame(filename: str) -> Any:
    return SimpleNamespace(f_code=SimpleNamespace(co_filename=filename))


def test_a_stop_ends_the_program_at_once() -> None:
    with pytest.raises(KeyboardInterrupt):
        signal.raise_signal(signal.SIGINT)


def test_a_stop_amid_an_import_comes_again_a_moment_later() -> None:
    """What is raised in a callback of Python's import would be dropped."""
    stopping._stop(signal.SIGINT, frame("<frozen importlib._bootstrap>"))
    with pytest.raises(KeyboardInterrupt):
        time.sleep(5.0)


def test_a_stop_waits_for_steps_that_belong_together() -> None:
    done = []

    def steps() -> None:
        with stopping.unstoppable():
            signal.raise_signal(signal.SIGINT)
            done.append("last step")

    with pytest.raises(KeyboardInterrupt):
        steps()
    assert done == ["last step"]


def test_a_stop_at_the_very_end_stops_nothing() -> None:
    """Python would print where it was; a signal that is not ours keeps what it had."""
    other = signal.getsignal(signal.SIGTERM)
    stopping.hear_no_more()
    signal.raise_signal(signal.SIGINT)
    assert signal.getsignal(signal.SIGINT) is signal.SIG_IGN
    assert signal.getsignal(signal.SIGTERM) is other
