"""Independent pieces of work side by side, with one bar for all of them."""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

Progress = Callable[[float], None]
_T = TypeVar("_T")
_R = TypeVar("_R")


def run_tasks(
    work: Callable[[_T, Progress], _R],
    tasks: Sequence[_T],
    *,
    jobs: int,
    progress: Progress | None = None,
) -> list[_R]:
    """Do independent tasks side by side; results in the order of the tasks.

    Parameters
    ----------
    work : callable
        Takes a task and a function that it calls with the share of it that is done.
    tasks : sequence
    jobs : int
        Threads, at least 1. The array library lets go of Python's lock while it computes.
    progress : callable, optional
        Called with the share of all tasks done, 0 to 1.
    """
    done = [0.0] * len(tasks)
    lock = threading.Lock()

    def one(index: int) -> _R:
        def tell(share: float) -> None:
            with lock:
                done[index] = share
                if progress is not None:
                    progress(sum(done) / len(done))

        result = work(tasks[index], tell)
        tell(1.0)
        return result

    if jobs == 1 or len(tasks) <= 1:
        return [one(index) for index in range(len(tasks))]
    pool = ThreadPoolExecutor(min(jobs, len(tasks)))
    try:
        return list(pool.map(one, range(len(tasks))))
    finally:
        pool.shutdown(cancel_futures=True)
