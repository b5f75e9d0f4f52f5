"""The first talk with a customer as questions and answers, from a terminal or from a file.

The questions are data (`interview_questions`); this engine knows which comes next, takes a reply,
goes back and stops. It reads and prints nothing itself.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from sim.errors import Fault, JobError

Answers = dict[str, Any]
BACK, QUIT = "back", "quit"


class Refused(Exception):
    """An answer that cannot be taken; its text says what would be right."""


class Stopped(Exception):
    """The builder ended the interview."""


@dataclass(frozen=True)
class Question:
    """One question.

    Attributes
    ----------
    key : str
        Under which the answer is kept.
    text : str
        What is asked.
    reason : str
        Why it is asked, or what a good answer looks like.
    default : str
        Taken for an empty reply.
    read : callable
        From the reply to its value; raises `Refused`.
    choices : tuple of str
        Shown with numbers from 1.
    """

    key: str
    text: str
    reason: str
    default: str
    read: Callable[[str], Any]
    choices: tuple[str, ...] = ()


class Interview:
    """An interview on its way.

    Parameters
    ----------
    questions : callable
        From the answers so far to the questions in their order; it is asked for no question
        beyond the first that has no answer, so that later ones may depend on earlier answers.
    """

    def __init__(self, questions: Callable[[Answers], Iterator[Question]]) -> None:
        self._questions = questions
        self.answers: Answers = {}

    @property
    def question(self) -> Question | None:
        """The question that waits for a reply, or None when all is said."""
        for question in self._questions(self.answers):
            if question.key not in self.answers:
                return question
        return None

    def reply(self, text: str) -> None:
        """Take a reply to the present question; an empty one takes the default.

        Raises
        ------
        Refused
            The answer cannot be taken; the question waits on.
        Stopped
            The reply was to quit.
        """
        question = self.question
        if question is None:
            raise Refused("all questions are answered")
        text = text.strip()
        if text.lower() == QUIT:
            raise Stopped
        if text.lower() == BACK:
            if not self.answers:
                raise Refused("this is the first question")
            self.answers.popitem()
            return
        if not text.isprintable():
            raise Refused("the answer holds characters that cannot be printed; type it again")
        self.answers[question.key] = question.read(text or question.default)


def answered(interview: Interview, lines: Iterable[str], file: str) -> Answers:
    """Answers from a file: one a line, in the order of the questions.

    Parameters
    ----------
    interview : Interview
        At its beginning.
    lines : iterable of str
        An empty line takes the default; what follows a ``#`` at the start of a line or after a
        space is a comment, and a line of comment alone is no answer. When the lines end, the
        rest takes its defaults.
    file : str
        For the error.

    Raises
    ------
    JobError
        The first answer that cannot be taken, with its line and question.
    Stopped
        A line says to quit.
    """
    replies = _numbered(lines)
    while (question := interview.question) is not None:
        number, text = next(replies, (None, ""))
        try:
            interview.reply(text)
        except Refused as error:
            said = f"{error} ({question.text})"
            raise JobError(Fault(said, file, number, question.key, text)) from None
    for number, text in replies:
        if text:
            rule = "all questions are answered before this line; take it out"
            raise JobError(Fault(rule, file, number))
    return interview.answers


def _numbered(lines: Iterable[str]) -> Iterator[tuple[int | None, str]]:
    for number, line in enumerate(lines, 1):
        text = f" {line.rstrip()}".partition(" #")[0].strip()
        if text or not line.strip():
            yield number, text
