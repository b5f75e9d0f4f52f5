"""What a command will write, settled before it works, and written in one go."""

from __future__ import annotations

import hashlib
import html
import os
import re
import stat
import tempfile
from collections.abc import Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from sim.errors import Fault, OutputError, printable, shown
from sim.report.data.parts import sweep, unwritable, write_whole

# A label lies within so much of a page.
_HEAD_LETTERS = 400_000
_ANCHOR = '<meta name="generator"'
_META = re.compile(r'<meta name="nightledger-(job|tables)" content="([^"]*)">')
_TITLE = re.compile(r"<title>(.*?)</title>", re.DOTALL)
_TABLE_NAME = re.compile(r"[^\W_]\w*(?:-\w+)*\.csv")


@dataclass(frozen=True)
class Label:
    """What a page says in its head about whose it is.

    Attributes
    ----------
    owner : str
        From `owner_of`; empty in a file that carries no label.
    title : str
    tables : tuple of str
        File names of the tables that were written with it.
    """

    owner: str
    title: str
    tables: tuple[str, ...]


@dataclass(frozen=True)
class Outputs:
    """The files a command will write; see `settle`.

    Attributes
    ----------
    page, data, job, promise : Path or None
        The report, its numbers as JSON, a job file, a kept promise.
    tables : tuple of Path
        CSV files; those that turn out to hold nothing need not be written.
    owner : str
        Whose page it is.
    old_tables : tuple of Path
        Tables that lie beside the page from a run before.
    """

    page: Path | None = None
    data: Path | None = None
    job: Path | None = None
    promise: Path | None = None
    tables: tuple[Path, ...] = ()
    owner: str = ""
    old_tables: tuple[Path, ...] = ()

    @property
    def stem(self) -> str:
        """The name of the page without its ending; those of tables begin with it."""
        return self.page.stem if self.page is not None else ""

    def write(
        self,
        *,
        page: str | None = None,
        data: str | None = None,
        job: str | None = None,
        promise: str | None = None,
        tables: Mapping[str, str] | None = None,
    ) -> list[Path]:
        """Write all of it or nothing.

        Parameters
        ----------
        page, data, job, promise : str, optional
            Texts of what was settled.
        tables : mapping, optional
            From file names to texts.

        Returns
        -------
        list of Path
            What was written: page, numbers, job file, promise, tables.

        Raises
        ------
        OutputError
            Something cannot be written; what was there is as it was.
        """
        by_name = {path.name: path for path in self.tables}
        new = {by_name[name]: text for name, text in (tables or {}).items()}
        # Without new tables the old ones stay, and stay known.
        beside = list(new) or [path for path in self.old_tables if path.exists()]
        if page is not None:
            page = _labelled(page, self.owner, [path.name for path in beside])
        named = ((self.page, page), (self.data, data), (self.job, job), (self.promise, promise))
        texts = (*named, *new.items())
        written = {path: text for path, text in texts if path is not None and text is not None}
        stale = [path for path in self.old_tables if new and path not in new]
        write_whole(written, without=stale)
        return list(written)


def settle(
    *,
    page: Path | None = None,
    data: Path | None = None,
    job: Path | None = None,
    promise: Path | None = None,
    tables: Iterable[Path] = (),
    owner: str = "",
    inputs: Iterable[Path] = (),
) -> Outputs:
    """Look at every file a command will write, before it works.

    Parameters
    ----------
    page, data, job, promise : Path, optional
        The report, its numbers as JSON, a job file, a promise to be kept.
    tables : iterable of Path
        CSV files beside the page.
    owner : str
        Whose page it is, from `owner_of`.
    inputs : iterable of Path
        Files that the command reads, none of which it may write.

    Returns
    -------
    Outputs

    Raises
    ------
    OutputError
        Two of them are one file, one is read, is no ordinary file, is the page of another job,
        holds something else than numbers, is a promise kept before, or cannot be written.
        Nothing was changed.
    """
    tables, read = tuple(tables), tuple(inputs)
    targets = [path for path in (page, data, job, promise, *tables) if path is not None]
    for path in targets:
        _expect_ordinary(path)
    _expect_apart(targets, read)
    label = _label_of(page) if page is not None else None
    if page is not None and label is not None and label.owner != owner:
        raise _other_page(page, label)
    if data is not None and not _may_hold_numbers(data):
        raise _refused(data, "is there already and holds no JSON; name another file")
    if promise is not None and promise.exists():
        raise _refused(promise, "is a promise kept before; move it, or leave --keep out")
    for folder in dict.fromkeys(path.parent for path in targets):
        expect_writable(folder)
        sweep(folder)
    old = () if page is None or label is None else tuple(page.parent / x for x in label.tables)
    return Outputs(page, data, job, promise, tables, owner, old)


def owner_of(what: str, source: Path | str, folder: Path) -> str:
    """Whose a page is, as its label says it; nothing of it can be read back.

    Parameters
    ----------
    what : str
        Which page: that of ``trip``, of ``wiring`` and so on.
    source : Path or str
        The job file, counted from the page's folder so that both may move together; or a text.
    folder : Path
        Where the page goes.
    """
    name = str(source)
    if isinstance(source, Path):
        try:
            name = os.path.relpath(source.resolve(), folder.resolve())
        except ValueError:  # on another drive
            name = str(source.resolve())
        name = name.replace(os.sep, "/")
    return hashlib.sha256(f"{what}\n{name}".encode("utf-8", "surrogateescape")).hexdigest()[:20]


def expect_writable(folder: Path) -> None:
    """Find out before long work whether a folder can be written, or made.

    Raises
    ------
    OutputError
        It cannot; nothing is left behind, an empty folder neither.
    """
    with unwritable(folder):
        there = next(path for path in (folder, *folder.absolute().parents) if path.exists())
        tempfile.TemporaryFile(dir=there).close()


def _expect_ordinary(path: Path) -> None:
    """A file that is there must be one that can be replaced by another."""
    with unwritable(path):
        try:
            mode = os.lstat(path).st_mode
        except FileNotFoundError:
            return
        if stat.S_ISDIR(mode):
            raise _refused(path, "is a folder; name a file in it")
        if stat.S_ISLNK(mode):
            raise _refused(path, "is a link to another file; name that one, or a new one")
        if not stat.S_ISREG(mode):
            raise _refused(path, "is a device or a pipe, not a file; name another")
        # Also where another program keeps it open and lets nobody else write.
        path.open("r+b").close()


def _expect_apart(targets: list[Path], inputs: tuple[Path, ...]) -> None:
    """No file is written twice, and none that is read."""
    read = {mark for path in inputs for mark in _marks(path)}
    seen: set[object] = set()
    for path in targets:
        marks = _marks(path)
        if marks & read:
            raise _refused(path, "is read by this very command; name another file to write")
        if marks & seen:
            raise _refused(path, "would be written twice; name another file")
        seen |= marks


def _marks(path: Path) -> set[object]:
    """By what a file is known, also where capitals or links tell two names of it apart."""
    marks: set[object] = {str(path.resolve()).casefold()}
    with suppress(OSError):
        found = path.stat()
        marks.add((found.st_dev, found.st_ino))
    return marks


def _may_hold_numbers(path: Path) -> bool:
    """Whether a file may be replaced by JSON: it is new, empty, or looks like JSON itself."""
    with unwritable(path):
        try:
            with path.open("rb") as file:
                start = file.read(1000).lstrip()
        except FileNotFoundError:
            return True
        return start[:1] in (b"", b"{", b"[")


def _label_of(path: Path) -> Label | None:
    """The label of a page, or `None` where there is no file."""
    with unwritable(path):
        try:
            with path.open(encoding="utf-8", errors="replace") as file:
                head = file.read(_HEAD_LETTERS)
        except FileNotFoundError:
            return None
    said = {key: html.unescape(value) for key, value in _META.findall(head)}
    title = _TITLE.search(head)
    names = (name for name in said.get("tables", "").split() if _TABLE_NAME.fullmatch(name))
    return Label(said.get("job", ""), html.unescape(title[1]) if title else "", tuple(names))


def _labelled(page: str, owner: str, tables: Iterable[str]) -> str:
    """A page that says in its head whose it is, for the next run."""
    label = f'<meta name="nightledger-job" content="{html.escape(owner)}">\n'
    if names := " ".join(tables):
        label += f'<meta name="nightledger-tables" content="{html.escape(names)}">\n'
    before, anchor, after = page.partition(_ANCHOR)
    assert anchor, "a page without a generator"
    return before + label + anchor + after


def _other_page(path: Path, label: Label) -> OutputError:
    if label.owner:
        what = f"is the report of another job file, {shown(label.title, 80)}"
    else:
        what = "is there already and no report of this job"
    return _refused(path, f"{what}; move it, or name another folder with --out")


def _refused(path: Path, rule: str) -> OutputError:
    return OutputError(Fault(rule, file=printable(str(path))))
