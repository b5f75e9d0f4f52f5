"""The first talk with a customer as questions and answers, from a terminal or from a file.

The questions are data; this engine knows which comes next, takes a reply, goes back and stops.
It reads and prints nothing itself.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

from sim.errors import Fault, JobError

Answers = dict[str, Any]
BACK, QUIT = "back", "quit"


class Refused(Exception):
    """An answer that cannot be taken; its text says what would be right."""


class Which(Refused):
    """An answer that may mean several things, of which one can be picked by its number.

    Parameters
    ----------
    says : str
        What is unclear.
    choices : tuple of str
        What may be meant.
    replies : tuple of str
        For each choice the whole reply that means it.
    """

    def __init__(self, says: str, choices: tuple[str, ...], replies: tuple[str, ...]) -> None:
        super().__init__(f"{says}; did you mean one of: {'; '.join(choices)}")
        self.says, self.choices, self.replies = says, choices, replies


class Stopped(Exception):
    """The interview ended early.

    Attributes
    ----------
    by_word : bool
        The builder said quit; else the input ended.
    """

    def __init__(self, by_word: bool = False) -> None:
        super().__init__()
        self.by_word = by_word


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
    groups : tuple of (str, int)
        Headings for `choices`, and how many of them each has; empty for a plain list.
    """

    key: str
    text: str
    reason: str
    default: str
    read: Callable[[str], Any]
    choices: tuple[str, ...] = ()
    groups: tuple[tuple[str, int], ...] = ()


class Interview:
    """An interview on its way.

    Parameters
    ----------
    questions : callable
        From the answers so far to the questions in their order; it is asked for no question
        beyond the first that has no answer, so that later ones may depend on earlier answers.

    Attributes
    ----------
    answers : dict
        Values by question key.
    replies : dict
        What was typed for each question, by its key. Going back keeps it: a reply is offered
        again when its question returns.
    """

    def __init__(self, questions: Callable[[Answers], Iterator[Question]]) -> None:
        self._questions = questions
        self._which: Which | None = None
        self.answers: Answers = {}
        self.replies: dict[str, str] = {}

    @property
    def question(self) -> Question | None:
        """The question that waits for a reply, or None when all are answered."""
        for question in self._questions(self.answers):
            if question.key not in self.answers:
                return self._with_earlier_reply(question)
        return None

    def reply(self, text: str) -> None:
        """Take a reply to the present question; an empty one takes the default.

        Raises
        ------
        Refused
            The answer cannot be taken; the question waits on. After `Which`, a number picks one
            of its choices.
        Stopped
            The reply was to quit.
        """
        question = self.question
        if question is None:
            raise Refused("all questions are answered")
        text = self._picked(text.strip())
        if text.lower() == QUIT:
            raise Stopped(by_word=True)
        if text.lower() == BACK:
            self.back()
            return
        if not text.isprintable():
            raise Refused("the answer holds characters that cannot be printed; type it again")
        text = text or question.default
        try:
            self.answers[question.key] = question.read(text)
        except Which as which:
            self._which = which
            raise
        self.replies[question.key] = text

    def back(self) -> None:
        """Go to the question before the present one.

        Raises
        ------
        Refused
            There is none.
        """
        if not self.answers:
            raise Refused("this is the first question")
        self.answers.popitem()

    def resume(self, replies: Mapping[str, str]) -> None:
        """Answer from a draft, up to the first question that it does not answer.

        Parameters
        ----------
        replies : mapping
            `replies` of an interview that was stopped. Those that are not reached, or no longer
            fit, are offered as defaults when their question comes.
        """
        # A draft that was changed by hand must not lead back and forth.
        known = {key: text for key, text in replies.items() if not _is_command(text)}
        self.replies.update(known)
        while (question := self.question) is not None and question.key in known:
            try:
                self.reply(known[question.key])
            except (Refused, Stopped):
                return

    def _with_earlier_reply(self, question: Question) -> Question:
        """The question with what was once replied to it as its default, if that can be taken."""
        earlier = self.replies.get(question.key)
        if earlier is None or earlier == question.default:
            return question
        try:
            question.read(earlier)
        except Refused:
            return question
        return replace(question, default=earlier)

    def _picked(self, text: str) -> str:
        """The reply that a number picks, after a reply that may mean several things."""
        which, self._which = self._which, None
        if which is not None and text.isascii() and text.isdigit():
            number = int(text[:6])
            if 1 <= number <= len(which.replies):
                return which.replies[number - 1]
        return text


def _is_command(text: str) -> bool:
    """Whether a reply is no answer but moves through the questions."""
    return text.strip().lower() in (BACK, QUIT)


def answered(interview: Interview, lines: Iterable[str], file: str) -> tuple[Answers, int]:
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

    Returns
    -------
    Answers
    int
        Questions that came after the last line.

    Raises
    ------
    JobError
        The first answer that cannot be taken, with its line and question.
    Stopped
        A line says to quit.
    """
    replies, left = _numbered(lines), 0
    while (question := interview.question) is not None:
        number, text = next(replies, (None, ""))
        left += number is None
        try:
            interview.reply(text)
        except Refused as error:
            said = f"{error} ({question.text})"
            raise JobError(Fault(said, file, number, question.key, text)) from None
    for number, text in replies:
        if text:
            rule = "all questions are answered before this line; take it out"
            raise JobError(Fault(rule, file, number))
    return interview.answers, left


def _numbered(lines: Iterable[str]) -> Iterator[tuple[int | None, str]]:
    for number, line in enumerate(lines, 1):
        text = f" {line.rstrip()}".partition(" #")[0].strip()
        if text or not line.strip():
            yield number, text
