"""Text in the lines of a terminal: how wide these are, and how text is broken into them."""

from __future__ import annotations

import os
import sys
import textwrap
from collections.abc import Iterable

from rich.console import Console
from rich.text import Text

from sim.errors import printable
from sim.report.words.numbers import GAP, unbroken

# No prose is wider, whatever the terminal; what has no width, a pipe or a file, is so wide.
WIDTH = 80
# A list in the text takes fewer columns than this of a narrow terminal, if need be.
_NARROWEST = 20
# Unbroken blanks; the narrow one is between thousands, as some locales have it.
_GAPS = (GAP, "\N{NARROW NO-BREAK SPACE}")


def screen() -> Console:
    """The terminal that a command answers on; for a pipe as wide as `WIDTH`, or as COLUMNS says."""
    piped = sys.stdout is None or not sys.stdout.isatty()
    return Console(highlight=False, width=WIDTH if piped and "COLUMNS" not in os.environ else None)


def columns(console: Console) -> int:
    """How wide a line of prose may be."""
    return max(min(console.width, WIDTH), _NARROWEST)


def plain(text: str, limit: int = 200) -> Text:
    """User text for the terminal: no markup, no control characters, not endless."""
    return Text(printable(text, limit))


def bare(text: str) -> str:
    """Text without what is for the page alone: unbroken spaces and marks of direction."""
    blanks = (" " if char in _GAPS else char for char in text)
    return "".join(char for char in blanks if char.isprintable())


def wrapped(text: str, width: int = WIDTH, *, whole: bool = False) -> list[str]:
    """Text in lines of a terminal, `bare`; with `whole` no word is broken, however long, such as
    the name of a file."""
    # Unbroken blanks are none to the wrapping, so that a number keeps its unit on the line.
    kept = unbroken("".join(char for char in text if char in _GAPS or char.isprintable()))
    lines = textwrap.wrap(kept, width, break_on_hyphens=False, break_long_words=not whole)
    return [bare(line) for line in lines]


def print_prose(
    texts: Iterable[str],
    console: Console,
    *,
    first: str = "",
    later: str = "",
    style: str = "",
    whole: bool = False,
) -> None:
    """Sentences, each from a line of its own: `first` before it, `later` before its other lines."""
    for text in texts:
        for number, line in enumerate(wrapped(text, columns(console) - len(later), whole=whole)):
            shown = plain(f"{later if number else first}{line}", 1000)
            console.print(shown, style=style, soft_wrap=True)


def print_list(lines: Iterable[str], console: Console) -> None:
    """Lines that may begin with blanks; what does not fit goes on below, two columns further in."""
    for line in lines:
        text = line.lstrip(" ")
        before = " " * (len(line) - len(text))
        print_prose([text], console, first=before, later=f"{before}  ", whole=True)
