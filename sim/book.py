"""The book of a workshop: every job below a folder, which of them are stale, and running those.

A job is stale when its file, a profile of the shelf, a weather file it reads or the program is not
the one of its last run any more, or when its report is gone.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import multiprocessing
import os
import signal
import threading
import tomllib
from collections import Counter
from collections.abc import Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass, replace
from functools import cache
from multiprocessing import resource_tracker
from pathlib import Path

from sim.errors import Fault, JobError, NightledgerError, printable
from sim.job.model.job import Job
from sim.job.reading.load import load_job
from sim.report.data.book_record import INDEX, BookLine, BookTrip, LastRun
from sim.report.data.names import report_stem, weather_files
from sim.report.data.parts import sweep
from sim.resources import profiles_dir
from sim.threads import Progress

# A file with none of these is TOML for something else.
_OF_A_JOB = {"title", "trips", "van", "battery"}
_WORDS = {"job": "job file", "profiles": "profiles", "weather": "weather", "program": "program"}
# A process that has run so many jobs makes room for a fresh one.
_JOBS_A_PROCESS = 200
# What a terminal sends to all processes of a run. Windows knows no SIGHUP.
_OF_A_TERMINAL = tuple(
    getattr(signal, name) for name in ("SIGINT", "SIGHUP") if hasattr(signal, name)
)


@dataclass(frozen=True)
class _Task:
    """What a process needs to run one job."""

    file: Path
    page: Path
    marks: dict[str, str]
    program: str
    today: dt.date


def job_files(folder: Path) -> list[Path]:
    """The job files below a folder, hidden folders left out, in the order of their names.

    Raises
    ------
    JobError
        No such folder, or no job file below it.
    """
    name = printable(str(folder))
    if not folder.is_dir():
        rule = "is a file; name the folder of the jobs" if folder.exists() else "no such folder"
        raise JobError(Fault(rule, file=name))
    found = []
    for root, folders, files in os.walk(folder):
        folders[:] = [x for x in folders if not x.startswith(".")]
        paths = (Path(root) / x for x in files if x.lower().endswith(".toml") and x[0] != ".")
        found += [path for path in paths if _may_be_a_job(path)]
    if not found:
        raise JobError(Fault("holds no job file, nor does any folder below it", file=name))
    return sorted(found)


def _may_be_a_job(path: Path) -> bool:
    """Whether a TOML file is a job, or is broken and may be meant as one."""
    try:
        return bool(_OF_A_JOB & set(tomllib.loads(path.read_text("utf-8-sig"))))
    except (OSError, ValueError, RecursionError):
        return True


def look(folder: Path, out: Path, record: dict[str, LastRun], program: str) -> tuple[BookLine, ...]:
    """Every job below a folder as it is now, without running any.

    Parameters
    ----------
    folder : Path
    out : Path
        Folder of the reports.
    record : dict
        The last runs, from `read_record`.
    program : str
        Version of the program.

    Raises
    ------
    JobError
        As `job_files` does; what is wrong with one job goes into its line.
    """
    found = [_looked_at(path, folder, program) for path in job_files(folder)]
    stems = Counter(each.stem for each in found)
    lines = []
    for each in found:
        # Beside that of `trip`, unless two jobs would have one.
        stem = f"{each.stem}-job" if f"{each.stem}.html" == INDEX else each.stem
        parent = Path(each.file).parent if stems[each.stem] > 1 else Path()
        page = (parent / f"{stem}.html").as_posix()
        last = record.get(each.file)
        changed = () if each.error else _changed(last, each.marks, (out / page).exists())
        lines.append(
            BookLine(each.file, each.customer, page, last, changed, each.error, each.marks)
        )
    return tuple(lines)


@dataclass(frozen=True)
class _Found:
    """A job file as it is today."""

    file: str
    customer: str
    stem: str
    marks: dict[str, str]
    error: str | None = None


def _looked_at(path: Path, folder: Path, program: str) -> _Found:
    file = path.relative_to(folder).as_posix()
    try:
        job = load_job(path)
    except NightledgerError as error:
        return _Found(file, file, path.stem, {}, _first(error))
    customer = job.customer or job.title
    stem = report_stem(path, job.customer)
    return _Found(file, customer, stem, marks_of(path, job, program))


def _changed(last: LastRun | None, marks: dict[str, str], has_page: bool) -> tuple[str, ...]:
    if last is None:
        return ("never run",)
    changed = [_WORDS[key] for key, mark in marks.items() if last.marks.get(key) != mark]
    return tuple(changed if has_page else [*changed, "report"])


def marks_of(path: Path, job: Job, program: str) -> dict[str, str]:
    """Fingerprints of everything that the result of a job depends on."""
    return {
        "job": _mark([path]),
        "profiles": _profiles_mark(),
        "weather": _mark(list(weather_files(job))),
        "program": program,
    }


@cache
def _profiles_mark() -> str:
    return _mark(sorted(profiles_dir().glob("*/*.toml")))


def _mark(paths: Sequence[Path]) -> str:
    """A fingerprint of files: of their names and of what they hold."""
    digest = hashlib.sha256()
    for path in paths:
        digest.update(path.name.encode("utf-8", "surrogateescape") + b"\0")
        with suppress(OSError):
            digest.update(hashlib.sha256(path.read_bytes()).digest())
    return digest.hexdigest()[:20]


def run_stale(
    lines: tuple[BookLine, ...],
    folder: Path,
    out: Path,
    program: str,
    *,
    processes: int,
    progress: Progress | None = None,
) -> tuple[BookLine, ...]:
    """Run what is stale, jobs side by side in processes of their own, and write their reports.

    Parameters
    ----------
    lines : tuple of BookLine
        From `look`.
    folder, out : Path
    program : str
        Version of the program.
    processes : int
    progress : callable, optional
        Called with the share of the jobs done, 0 to 1.

    Returns
    -------
    tuple of BookLine
        All lines, in their order; a job that failed has its error and keeps its last run.
    """
    today = dt.date.today()
    tasks = {}
    for index, line in enumerate(lines):
        if line.is_stale and line.error is None:
            tasks[index] = _Task(folder / line.file, out / line.page, line.marks, program, today)
    done = list(lines)
    for number, (index, (last, error)) in enumerate(_run_all(tasks, processes), 1):
        line = lines[index]
        if last is None:
            done[index] = replace(line, error=error)
        else:
            done[index] = replace(line, last=last, changed=())
        if progress is not None:
            progress(number / len(tasks))
    return tuple(done)


_Ended = tuple[LastRun | None, str | None]


def _run_all(tasks: dict[int, _Task], processes: int) -> Iterator[tuple[int, _Ended]]:
    """The end of each task as it comes; one that breaks its process does not harm the others."""
    if not tasks:
        return
    with ExitStack() as ends:
        with deaf_children():
            pool = ProcessPoolExecutor(
                min(processes, len(tasks)),
                # A fresh interpreter, without the threads of this one.
                mp_context=multiprocessing.get_context("spawn"),
                initializer=begin_process,
                max_tasks_per_child=_JOBS_A_PROCESS,
            )
            ends.callback(_end, pool, {task.page.parent for task in tasks.values()})
            waiting: dict[Future[_Ended], int] = {
                pool.submit(run_job, task): index for index, task in tasks.items()
            }
        for future in as_completed(waiting):
            try:
                yield waiting[future], future.result()
            except BrokenProcessPool:
                yield waiting[future], (None, "its process was ended, perhaps for want of memory")


def _end(pool: ProcessPoolExecutor, folders: set[Path]) -> None:
    """Let the jobs that run be finished; what an ended process had begun to write goes."""
    pool.shutdown(cancel_futures=True)
    for folder in folders:
        sweep(folder)


@contextmanager
def deaf_children() -> Iterator[None]:
    """Processes begun here hear no Ctrl-C and no terminal that closes, from their first instant:
    a job that runs is finished, and the first process begins no other."""
    if not hasattr(signal, "pthread_sigmask"):  # Windows
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, _OF_A_TERMINAL)
    try:
        # The keeper of what processes share is one of them, and listens again when it is there.
        resource_tracker.ensure_running()
        signal.pthread_sigmask(signal.SIG_BLOCK, _OF_A_TERMINAL)
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def begin_process() -> None:
    """What each process does first."""
    for number in _OF_A_TERMINAL:
        signal.signal(number, signal.SIG_IGN)
    threading.Thread(target=_end_with_first, daemon=True).start()
    # Jobs run side by side, so each needs one thread only.
    os.environ["OMP_NUM_THREADS"] = "1"


def _end_with_first() -> None:
    """End when the first process is gone: nobody waits for the job any more."""
    first = multiprocessing.parent_process()
    if first is not None:
        first.join()
        os._exit(1)


def run_job(task: _Task) -> _Ended:
    """Run one job and write its report; what goes wrong comes back as a sentence."""
    from sim.ledger.answer import answer_of
    from sim.ledger.simulate import simulate
    from sim.report.data.output import owner_of, settle
    from sim.report.page.client import render_page

    try:
        job = load_job(task.file)
        owner = owner_of("trip", task.file, task.page.parent)
        inputs = (task.file, *weather_files(job))
        outputs = settle(page=task.page, owner=owner, inputs=inputs)
        result = simulate(job, lean=True)
        outputs.write(page=render_page(result, written=task.today, version=task.program))
    except NightledgerError as error:
        return None, _first(error)
    except Exception as error:
        what = printable(f"{type(error).__name__}: {error}", 200)
        return None, f"a fault of the program, not of your input ({what})"
    trips = []
    for trip in result.trips:
        answer, first = answer_of(trip), trip.first_out
        store = first.name or first.store
        trips.append(
            BookTrip(
                trip.name,
                answer.verdict,
                answer.held,
                answer.draws,
                store,
                first.share,
                answer.medical,
                answer.medical_dark,
            )
        )
    return LastRun(task.today.isoformat(), task.marks, tuple(trips)), None


def _first(error: NightledgerError) -> str:
    """The first fault, and how many more there are."""
    more = len(error.faults) - 1
    fault = replace(error.faults[0], file=None)
    return f"{fault}" + (f"; and {more} more, see nightledger check" if more else "")
