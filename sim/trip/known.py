"""What was worked out already and need not be again: the latest of it, within bounds of memory."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable, Sequence
from concurrent.futures import Future
from dataclasses import dataclass, fields, is_dataclass
from typing import Any, TypeVar

import numpy as np

# All that is kept for the changes of a job that may share it.
MOST_BYTES = 256_000_000
_T = TypeVar("_T")


class Key:
    """A key whose hash, which for a whole job takes a while, is worked out once."""

    def __init__(self, key: Hashable) -> None:
        self.key, self._hash = key, hash(key)

    def __hash__(self) -> int:
        return self._hash

    def __eq__(self, other: object) -> bool:
        return self is other or (
            isinstance(other, Key) and self._hash == other._hash and self.key == other.key
        )


class Known:
    """Values by their key, the latest used of them, for any number of threads.

    A value that is being made is waited for and not made twice. One that is too large to be kept
    goes to those who wait for it, and is forgotten.
    """

    def __init__(self, most_bytes: int = MOST_BYTES) -> None:
        self._most, self._bytes = most_bytes, 0
        self._lock = threading.Lock()
        self._found: OrderedDict[Key, Future[Any]] = OrderedDict()
        self._sizes: dict[Key, int] = {}

    def get(self, key: Hashable, make: Callable[[], _T]) -> _T:
        """The value of a key; made if it is not known."""
        return self.get_all([key], lambda _: [make()])[0]

    def get_all(
        self, keys: Sequence[Hashable], make: Callable[[Sequence[int]], Sequence[_T]]
    ) -> list[_T]:
        """The values of keys; `make` gets the places of those that are not known, and makes these
        together."""
        found: list[Future[Any]] = []
        mine: list[int] = []
        own = [key if isinstance(key, Key) else Key(key) for key in keys]
        with self._lock:
            for place, key in enumerate(own):
                if key in self._found:
                    self._found.move_to_end(key)
                else:
                    self._found[key] = Future()
                    mine.append(place)
                found.append(self._found[key])
        if mine:
            try:
                values = make(mine)
            except BaseException as error:
                for place in mine:
                    with self._lock:
                        del self._found[own[place]]
                    found[place].set_exception(error)
                raise
            for place, value in zip(mine, values, strict=True):
                found[place].set_result(value)
                self._keep(own[place], held_bytes(value))
        return [one.result() for one in found]

    def _keep(self, key: Key, size: int) -> None:
        """Count a value that was made, and forget what was not used for longest."""
        with self._lock:
            self._sizes[key], self._bytes = size, self._bytes + size
            # What is still being made has no size and stays.
            for other in [key, *self._found] if size > self._most else list(self._found):
                if self._bytes <= self._most:
                    break
                if other in self._sizes:
                    self._bytes -= self._sizes.pop(other)
                    del self._found[other]


@dataclass(frozen=True)
class Kept:
    """What comes of something that is known by its key, and of a little more.

    Attributes
    ----------
    known : Known
    key : Key
    """

    known: Known
    key: Key

    def get(self, name: str, acting: Hashable, make: Callable[[], _T]) -> _T:
        """What comes of it by a name, and by all else that acts on that."""
        return self.known.get((name, self.key, acting), make)


def held_bytes(value: object) -> int:
    """Memory that the arrays of a value take, as far as it is made of dataclasses and tuples."""
    if isinstance(value, np.ndarray):
        own = value.base if isinstance(value.base, np.ndarray) else value
        return min(value.nbytes, own.nbytes)
    if isinstance(value, (tuple, list)):
        return sum(map(held_bytes, value))
    if is_dataclass(value):
        return sum(held_bytes(getattr(value, field.name)) for field in fields(value))
    return 0
