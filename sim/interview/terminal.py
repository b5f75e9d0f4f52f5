"""The interview in the terminal: one question, its reason, its default, a line to write on."""

from __future__ import annotations

import sys
import textwrap
from collections.abc import Iterator

from rich.console import Console
from rich.text import Text

from sim.errors import printable
from sim.interview.draft import BACK, QUIT, Answers, Interview, Question, Refused, Stopped, Which

OPENING = (
    f"Enter takes what is in brackets; {BACK} goes to the question before and keeps the answers; "
    f"{QUIT} ends without a file."
)
KEEPS = "Ctrl-C stops too, but keeps the answers for the next time."
_MOST_LETTERS = 500
_LONGEST_LINE = 100_000
_WIDTH = 79
_INDENT = "                  "


def typed() -> Iterator[str]:
    """Lines as they are typed, until the input ends."""
    while True:
        try:
            yield input("> ") if sys.stdin is None or sys.stdin.isatty() else _piped()
        except (EOFError, RuntimeError, OSError):  # no input any more, or none from the start
            return


def _piped() -> str:
    """A line of a file or a pipe, which may hold one that never ends."""
    print("> ", end="", flush=True)
    line = sys.stdin.readline(_LONGEST_LINE)
    if not line or len(line) == _LONGEST_LINE:
        raise EOFError
    return line.removesuffix("\n")


def converse(
    interview: Interview, replies: Iterator[str], console: Console, opening: str = OPENING
) -> Answers:
    """Ask until all is answered.

    Parameters
    ----------
    interview : Interview
    replies : iterator of str
        Taken one by one, each after its question was printed.
    console : Console
    opening : str
        Printed first; may be empty.

    Raises
    ------
    Stopped
        The builder said quit, or the replies ended.
    """
    if opening:
        console.print(Text(opening))
    asked = None
    while (question := interview.question) is not None:
        if question.key != asked:
            console.print(_shown(question))
        asked = question.key
        reply = next(replies, None)
        if reply is None:
            raise Stopped
        try:
            interview.reply(reply)
        except Which as which:
            console.print(_choices_of(which))
        except Refused as error:
            console.print(Text(printable(f"  {error}.", _MOST_LETTERS)))
    return interview.answers


def _shown(question: Question) -> Text:
    text = Text("\n")
    text.append(question.text, style="bold")
    text.append(f"  [{question.default}]\n")
    if question.reason:
        text.append(f"{question.reason}\n", style="dim")
    if question.groups:
        for line in _grouped(question):
            text.append(f"{line}\n")
    else:
        for number, choice in enumerate(question.choices, 1):
            for line in textwrap.wrap(f"{number:4}  {choice}", _WIDTH, subsequent_indent=" " * 6):
                text.append(f"{line}\n")
    text.rstrip()
    return text


def _grouped(question: Question) -> Iterator[str]:
    """Choices under their headings, several on a line, so that all are seen at once."""
    first = 0
    for heading, count in question.groups:
        items = [
            # A gap that no line breaks at, so that a number keeps its name.
            f"{first + n} {name}".replace(" ", "\0")
            for n, name in enumerate(question.choices[first : first + count], 1)
        ]
        first += count
        label = f"  {heading}:".ljust(len(_INDENT))
        for line in textwrap.wrap(
            "   ".join(items), _WIDTH, initial_indent=label, subsequent_indent=_INDENT,
            drop_whitespace=True, break_on_hyphens=False,
        ):  # fmt: skip
            yield line.replace("\0", " ")


def _choices_of(which: Which) -> Text:
    """What a reply may mean, to be picked by its number."""
    text = Text(printable(f"  {which.says}. Write its number, or another reply:", _MOST_LETTERS))
    for number, choice in enumerate(which.choices, 1):
        text.append(f"\n{number:4}  {printable(choice, 70)}")
    return text
