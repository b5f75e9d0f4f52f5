"""Files that appear whole or not at all: each written beside its place, then all renamed."""

from __future__ import annotations

import os
import sys
import tempfile
import time
from collections.abc import Iterable, Iterator, Mapping
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path

from sim.errors import Fault, OutputError, printable
from sim.stopping import unstoppable

_PREFIX, _SUFFIX = ".nightledger-", ".part"
# Where files cannot be locked, a part this old belongs to nobody any more.
_OLD_S = 3600.0


def write_whole(texts: Mapping[Path, str], *, without: Iterable[Path] = ()) -> None:
    """Write text files so that either all of them are new, or none is.

    Parameters
    ----------
    texts : mapping
        From paths to texts, written as UTF-8 with Unix line ends. Folders are made when missing.
    without : iterable of Path
        Files that go with the old ones, where they are still there.

    Raises
    ------
    OutputError
        A folder or file cannot be written; no part is left behind.
    """
    parts: dict[Path, Path] = {}
    try:
        with ExitStack() as locks:
            for path, text in texts.items():
                with unwritable(path):
                    path.parent.mkdir(parents=True, exist_ok=True)
                    with unstoppable():
                        file = _locked_part(path.parent, locks)
                        parts[path] = Path(file)
                    _fill(Path(file), text)
            if sys.platform == "win32":  # which renames no open file
                locks.close()
            with unstoppable():
                for path, part in parts.items():
                    with unwritable(path):
                        part.replace(path)
                for path in without:
                    with suppress(OSError):
                        path.unlink(missing_ok=True)
    finally:
        for part in parts.values():
            part.unlink(missing_ok=True)


def sweep(folder: Path) -> None:
    """Remove the parts that a run killed in the middle of writing has left in a folder."""
    with suppress(OSError):
        for part in folder.glob(f"{_PREFIX}*{_SUFFIX}"):
            with suppress(OSError):
                if _is_nobodys(part):
                    part.unlink(missing_ok=True)


@contextmanager
def unwritable(path: Path) -> Iterator[None]:
    """Turns the system's refusal to write into a sentence that names the file.

    Raises
    ------
    OutputError
    """
    try:
        yield
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        rule = f"cannot be written: {reason}; name another folder"
        raise OutputError(Fault(rule, file=printable(str(path)))) from None


def _locked_part(folder: Path, locks: ExitStack) -> str:
    """A new empty part in a folder, locked for as long as the locks are kept."""
    while True:
        number, name = tempfile.mkstemp(_SUFFIX, _PREFIX, folder)
        locks.callback(os.close, number)
        # Another run may have swept it away before it was locked.
        if _lock(number) and os.path.exists(name):
            return name


def _fill(part: Path, text: str) -> None:
    part.write_text(text, "utf-8", newline="\n")
    # A part is private at first; a report is as readable as any other file.
    umask = os.umask(0)
    os.umask(umask)
    part.chmod(0o666 & ~umask)


def _lock(number: int) -> bool:
    """Lock an open file for this process, if no other holds it."""
    if sys.platform == "win32":
        return True
    import fcntl

    try:
        fcntl.flock(number, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    except OSError:  # a file system without locks
        return True
    return True


def _is_nobodys(part: Path) -> bool:
    """Whether no run that still goes on is writing a part."""
    if sys.platform == "win32":
        return time.time() - part.stat().st_mtime > _OLD_S
    number = os.open(part, os.O_RDWR | os.O_NOFOLLOW)
    try:
        return _lock(number)
    finally:
        os.close(number)
