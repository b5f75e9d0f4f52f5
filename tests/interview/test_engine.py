"""The engine of the interview: answers in order, going back, drafts, answers from a file."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from sim.errors import JobError
from sim.interview.draft import Answers, Interview, Question, Refused, Stopped, Which, answered
from sim.interview.kept import draft_file, draft_text, read_draft


def small(answers: Answers) -> Iterator[Question]:
    """Two questions, and a third that depends on the second."""
    yield Question("name", "Name?", "", "nobody", str)
    yield Question("count", "How many?", "", "1", number)
    for index in range(answers["count"]):
        yield Question(f"item {index}", "Which?", "", "x", str)


def number(text: str) -> int:
    try:
        return int(text)
    except ValueError:
        raise Refused("give a number") from None


def asked(interview: Interview) -> str:
    assert interview.question is not None
    return interview.question.key


def test_an_empty_reply_takes_the_default() -> None:
    interview = Interview(small)
    interview.reply("")
    interview.reply("  2 ")
    assert interview.answers == {"name": "nobody", "count": 2}
    assert asked(interview) == "item 0"


def test_going_back_keeps_what_was_said() -> None:
    interview = Interview(small)
    for reply in ("Ada", "2", "one", "two"):
        interview.reply(reply)
    assert interview.question is None
    for _ in range(4):
        interview.back()
    assert asked(interview) == "name"
    # Every earlier answer is the default of its question, so Enter takes it.
    for default in ("Ada", "2", "one", "two"):
        assert interview.question is not None
        assert interview.question.default == default
        interview.reply("")
    assert interview.answers == {"name": "Ada", "count": 2, "item 0": "one", "item 1": "two"}


def test_an_earlier_answer_that_no_longer_fits_is_not_offered() -> None:
    def questions(answers: Answers) -> Iterator[Question]:
        yield Question("most", "Most?", "", "9", number)

        def read(text: str) -> int:
            if number(text) > answers["most"]:
                raise Refused("too many")
            return number(text)

        yield Question("count", "How many?", "", "1", read)
        yield Question("end", "End?", "", "-", str)

    interview = Interview(questions)
    interview.reply("9")
    interview.reply("7")
    interview.reply("back")
    interview.reply("back")
    interview.reply("5")
    assert interview.question is not None
    assert (interview.question.key, interview.question.default) == ("count", "1")


def test_a_number_picks_one_of_several_meanings() -> None:
    def questions(answers: Answers) -> Iterator[Question]:
        def read(text: str) -> str:
            if text == "spring":
                raise Which("two towns", ("Spring A", "Spring B"), ("spring a", "spring b"))
            return text

        yield Question("place", "Where?", "", "home", read)

    interview = Interview(questions)
    with pytest.raises(Which, match="did you mean one of: Spring A; Spring B"):
        interview.reply("spring")
    interview.reply("2")
    assert interview.answers == {"place": "spring b"}
    interview.back()
    # Once something else was said, a number is a reply again.
    with pytest.raises(Which):
        interview.reply("spring")
    interview.reply("hill")
    interview.back()
    interview.reply("2")
    assert interview.answers == {"place": "2"}


def test_a_draft_is_gone_on_from(tmp_path: Path) -> None:
    interview = Interview(small)
    for reply in ("Ada Ångström", "3", "one"):
        interview.reply(reply)
    path = draft_file(tmp_path / "ada.toml")
    assert path == tmp_path / "ada.draft.json"
    path.write_text(draft_text(interview.replies), "utf-8")
    again = Interview(small)
    again.resume(read_draft(path))
    assert again.answers == interview.answers
    assert asked(again) == "item 1"


def test_a_draft_goes_as_far_as_its_answers_still_fit() -> None:
    again = Interview(small)
    again.resume({"name": "Ada", "count": "many", "item 0": "one"})
    assert again.answers == {"name": "Ada"}
    again.reply("1")
    assert again.question is not None
    assert again.question.default == "one"


@pytest.mark.parametrize("word", ["back", " Back ", "quit"])
def test_a_draft_that_was_changed_by_hand_moves_nothing(word: str) -> None:
    again = Interview(small)
    again.resume({"name": "Ada", "count": word})
    assert again.answers == {"name": "Ada"}
    assert again.replies == {"name": "Ada"}


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ('{"nightledger_draft": 1, "replies": {"a": "1", "b": 2}}', {"a": "1"}),
        ('{"nightledger_draft": 2, "replies": {"a": "1"}}', {}),
        ('{"nightledger_draft": 1, "replies": 7}', {}),
    ],
)
def test_what_a_draft_may_hold(tmp_path: Path, text: str, found: dict[str, str]) -> None:
    path = tmp_path / "x.draft.json"
    path.write_text(text, "utf-8")
    assert read_draft(path) == found


@pytest.mark.parametrize("text", ["", "{", "[]", "{}", '{"nightledger_draft": "1"}'])
def test_what_is_no_draft(tmp_path: Path, text: str) -> None:
    path = tmp_path / "x.draft.json"
    path.write_text(text, "utf-8")
    with pytest.raises(JobError, match="is not the draft of a job"):
        read_draft(path)
    assert read_draft(tmp_path / "none.json") == {}


def test_back_at_the_first_question() -> None:
    with pytest.raises(Refused, match="first question"):
        Interview(small).reply("back")


def test_quit() -> None:
    with pytest.raises(Stopped):
        Interview(small).reply("QUIT")


def test_a_refused_answer_waits() -> None:
    interview = Interview(small)
    interview.reply("Ada")
    with pytest.raises(Refused, match="give a number"):
        interview.reply("many")
    assert asked(interview) == "count"


def test_control_characters_are_refused() -> None:
    with pytest.raises(Refused, match="cannot be printed"):
        Interview(small).reply("A\x1b[2Jda")


def test_an_answers_file_has_comments_and_defaults() -> None:
    lines = ["# the customer", "Ada # their name", "", "c # x", "#", "# end"]
    found, left = answered(Interview(small), lines, "a.txt")
    assert found == {"name": "Ada", "count": 1, "item 0": "c"}
    assert left == 0


@pytest.mark.parametrize(("lines", "left"), [([], 3), (["Ada"], 2), (["", "1", "x"], 0)])
def test_questions_after_the_last_answer_are_counted(lines: list[str], left: int) -> None:
    assert answered(Interview(small), lines, "a.txt")[1] == left


def test_an_answers_file_that_is_wrong_says_where() -> None:
    with pytest.raises(JobError) as caught:
        answered(Interview(small), ["Ada", "# next", "many"], "a.txt")
    assert str(caught.value) == 'a.txt, line 3: count = "many": give a number (How many?)'


def test_an_answers_file_that_is_too_long() -> None:
    with pytest.raises(JobError, match=r"a\.txt, line 4: all questions are answered"):
        answered(Interview(small), ["Ada", "1", "x", "one too many"], "a.txt")
