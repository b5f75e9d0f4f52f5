"""A stopped interview in a file, to go on from."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from pathlib import Path

from rich.console import Console

from sim.errors import Fault, JobError, printable
from sim.interview.draft import Answers, Interview, Question
from sim.interview.replies import choice
from sim.interview.terminal import converse
from sim.job.reading.toml_errors import read_text

# How the file is laid out.
_MARK, _LAYOUT = "nightledger_draft", 1
_MOST_BYTES = 1_000_000
_GO_ON = (("yes", "yes"), ("no", "no, begin anew"))


def draft_file(job_file: Path) -> Path:
    """Where the draft of a job file lies: beside it, under its name."""
    return job_file.with_name(f"{job_file.stem}.draft.json")


def draft_text(replies: Mapping[str, str]) -> str:
    """Replies as the text of a draft."""
    return json.dumps({_MARK: _LAYOUT, "replies": dict(replies)}, ensure_ascii=False, indent=1)


def read_draft(path: Path) -> dict[str, str]:
    """The replies of a draft; none where there is no file, or one of another layout.

    Raises
    ------
    JobError
        A file of this name that is no draft.
    """
    if not path.exists():
        return {}
    try:
        data = json.loads(read_text(path, _MOST_BYTES))
    except (ValueError, RecursionError):
        data = None
    if not isinstance(data, dict) or not isinstance(data.get(_MARK), int):
        rule = "is not the draft of a job; move it out of the way"
        raise JobError(Fault(rule, file=printable(str(path))))
    replies = data.get("replies")
    if data[_MARK] != _LAYOUT or not isinstance(replies, dict):
        return {}
    return {key: text for key, text in replies.items() if isinstance(text, str)}


def go_on(answers: int, lines: Iterator[str], console: Console) -> bool:
    """Ask whether to go on from a draft of so many answers.

    Raises
    ------
    Stopped
        As `converse` does.
    """

    def asks(_: Answers) -> Iterator[Question]:
        have = "1 answer" if answers == 1 else f"{answers} answers"
        yield choice("go on", f"A draft with {have} is here. Go on with it?", "", _GO_ON, "yes")

    return bool(converse(Interview(asks), lines, console, "")["go on"] == "yes")
