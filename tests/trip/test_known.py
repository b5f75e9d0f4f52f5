"""What is known already: made once, for all threads, and forgotten when there is too much."""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import pytest

from sim.arrays import Floats
from sim.threads import run_tasks
from sim.trip.known import Known, held_bytes


def maker(made: list[str], name: str, size: int = 10) -> Callable[[], Floats]:
    def make() -> Floats:
        made.append(name)
        return np.zeros(size)

    return make


def test_a_value_is_made_once() -> None:
    known, made = Known(), list[str]()
    first = known.get("a", maker(made, "a"))
    assert known.get("a", maker(made, "a")) is first
    assert known.get("b", maker(made, "b")) is not first
    assert made == ["a", "b"]


def test_threads_wait_for_one_that_makes_it() -> None:
    known, made = Known(), list[str]()
    both = threading.Barrier(2)

    def work(task: int, tell: object) -> Floats:
        both.wait(timeout=10)
        return known.get("a", maker(made, "a"))

    one, other = run_tasks(work, range(2), jobs=2)
    assert one is other
    assert made == ["a"]


def test_several_are_made_together_and_only_those_that_are_not_known() -> None:
    known, asked = Known(), list[list[int]]()

    def make(places: Sequence[int]) -> list[Floats]:
        asked.append(list(places))
        return [np.full(10, place) for place in places]

    (first,) = known.get_all(["a"], make)
    again, b, c, b_again = known.get_all(["a", "b", "c", "b"], make)
    assert again is first
    assert b is b_again
    assert (b[0], c[0]) == (1, 2)
    assert asked == [[0], [1, 2]]

    def fail(places: Sequence[int]) -> list[Floats]:
        raise ValueError("no sky")

    with pytest.raises(ValueError, match="no sky"):
        known.get_all(["b", "d", "e"], fail)
    (d,) = known.get_all(["d"], make)
    assert d[0] == 0


def test_what_could_not_be_made_is_tried_again() -> None:
    known, made = Known(), list[str]()

    def fail() -> Floats:
        raise ValueError("no sky")

    for _ in range(2):
        with pytest.raises(ValueError, match="no sky"):
            known.get("a", fail)
    assert known.get("a", maker(made, "a")).shape == (10,)


def test_the_longest_unused_is_forgotten_first() -> None:
    known, made = Known(most_bytes=240), list[str]()
    for name in ("a", "b", "c"):
        known.get(name, maker(made, name))
    known.get("a", maker(made, "a"))
    known.get("d", maker(made, "d"))  # the fourth of 80 bytes
    for name in ("a", "c", "d", "b"):
        known.get(name, maker(made, name))
    assert made == ["a", "b", "c", "d", "b"]


def test_too_large_a_value_pushes_nothing_out() -> None:
    known, made = Known(most_bytes=240), list[str]()
    known.get("a", maker(made, "a"))
    assert known.get("large", maker(made, "large", 100)).shape == (100,)
    known.get("a", maker(made, "a"))
    known.get("large", maker(made, "large", 100))
    assert made == ["a", "large", "large"]


@dataclass(frozen=True)
class Held:
    one: Floats
    more: tuple[Floats, ...]
    name: str = "x"


def test_held_bytes_counts_what_is_held() -> None:
    column = np.zeros((5, 1))
    held = Held(np.zeros(3), (np.zeros(2), np.broadcast_to(column, (5, 1000))))
    assert held_bytes(held) == (3 + 2 + 5) * 8
    assert held_bytes("text") == held_bytes(None) == 0
