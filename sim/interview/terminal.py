"""The interview in the terminal: one question, its reason, its default, a line to write on."""

from __future__ import annotations

from collections.abc import Iterator

from rich.console import Console
from rich.text import Text

from sim.errors import printable
from sim.interview.draft import BACK, QUIT, Answers, Interview, Question, Refused, Stopped

_OPENING = (
    f"Enter takes what stands in brackets; {BACK} goes to the question before, {QUIT} ends "
    "without a file."
)


def typed() -> Iterator[str]:
    """Lines as they are typed, until the input ends."""
    while True:
        try:
            yield input("> ")
        except (EOFError, RuntimeError, OSError):  # no input any more, or none from the start
            return


def converse(interview: Interview, replies: Iterator[str], console: Console) -> Answers:
    """Ask until all is answered.

    Parameters
    ----------
    interview : Interview
    replies : iterator of str
        Taken one by one, each after its question was printed.
    console : Console

    Raises
    ------
    Stopped
        The builder said quit, or the replies ended.
    """
    console.print(Text(_OPENING))
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
        except Refused as error:
            console.print(Text(printable(f"  {error}.", 500)))
    return interview.answers


def _shown(question: Question) -> Text:
    text = Text("\n")
    text.append(question.text, style="bold")
    text.append(f"  [{question.default}]\n")
    if question.reason:
        text.append(f"{question.reason}\n", style="dim")
    for number, choice in enumerate(question.choices, 1):
        text.append(f"{number:4}  {choice}\n")
    text.rstrip()
    return text
