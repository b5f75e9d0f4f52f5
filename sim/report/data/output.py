"""Writing results: whole or not at all."""

from __future__ import annotations

import os
import re
import tempfile
import unicodedata
from pathlib import Path

from sim.errors import Fault, OutputError
from sim.places.gazetteer import PLAIN_LETTERS


def write_whole(path: Path, text: str) -> Path:
    """Write a text file through a temporary one beside it, then rename it into place.

    Parameters
    ----------
    path : Path
        Its folder is made when missing.
    text : str
        Written as UTF-8 with Unix line ends.

    Returns
    -------
    Path
        `path`.

    Raises
    ------
    OutputError
        The folder or the file cannot be written; nothing is left behind.
    """
    part = None
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.NamedTemporaryFile(
            "w",
            encoding="utf-8",
            newline="\n",
            dir=path.parent,
            prefix=f".{path.name[:40]}.",
            suffix=".part",
            delete=False,
        ) as file:
            part = Path(file.name)
            file.write(text)
        # A temporary file is private; a report is as readable as any other file.
        umask = os.umask(0)
        os.umask(umask)
        part.chmod(0o666 & ~umask)
        part.replace(path)
        part = None
    except (OSError, ValueError) as error:
        raise _unwritable(path, error) from None
    finally:
        if part is not None:
            part.unlink(missing_ok=True)
    return path


def expect_writable(folder: Path) -> None:
    """Find out before long work whether a folder can be written, or made.

    Raises
    ------
    OutputError
        It cannot; nothing is left behind, an empty folder neither.
    """
    try:
        there = next(path for path in (folder, *folder.absolute().parents) if path.exists())
        tempfile.TemporaryFile(dir=there).close()
    except (OSError, ValueError) as error:
        raise _unwritable(folder, error) from None


def _unwritable(path: Path, error: Exception) -> OutputError:
    reason = getattr(error, "strerror", None) or str(error)
    return OutputError(Fault(f"cannot be written: {reason}; name another folder", file=str(path)))


def file_stem(name: str) -> str:
    """A short, plain file name for a trip's or a job's name."""
    letters = unicodedata.normalize("NFKD", name.lower().translate(PLAIN_LETTERS))
    letters = "".join(letter for letter in letters if not unicodedata.combining(letter))
    plain = re.sub(r"[^a-z0-9]+", "-", letters).strip("-")
    return plain[:60].strip("-") or "trip"
