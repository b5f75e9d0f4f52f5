"""The interview: a prefix of answers at any time, every answer checked, a file that loads."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from sim.errors import JobError
from sim.interview.draft import Answers, Interview, Question, Refused, Stopped, answered
from sim.interview.job_text import job_text
from sim.interview.questions import questions
from sim.job.model.job import Job
from sim.job.reading.load import load_job


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


def finished(lines: list[str]) -> Answers:
    return answered(Interview(questions), lines, "answers.txt")


def reach(interview: Interview, key: str, said: dict[str, str] | None = None) -> None:
    """Answer with defaults, or as said, until a question is asked."""
    for _ in range(200):
        if asked(interview) == key:
            return
        interview.reply((said or {}).get(asked(interview), ""))
    raise AssertionError(f"{key} was never asked")


def test_an_empty_reply_takes_the_default() -> None:
    interview = Interview(small)
    interview.reply("")
    interview.reply("  2 ")
    assert interview.answers == {"name": "nobody", "count": 2}
    assert asked(interview) == "item 0"


def test_back_forgets_the_last_answer() -> None:
    interview = Interview(small)
    interview.reply("Ada")
    interview.reply("1")
    interview.reply("Back")
    assert asked(interview) == "count"
    interview.reply("0")
    assert interview.question is None
    assert interview.answers == {"name": "Ada", "count": 0}


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
    found = answered(Interview(small), lines, "a.txt")
    assert found == {"name": "Ada", "count": 1, "item 0": "c"}


def test_an_answers_file_that_is_wrong_says_where() -> None:
    with pytest.raises(JobError) as caught:
        answered(Interview(small), ["Ada", "# next", "many"], "a.txt")
    assert str(caught.value) == 'a.txt, line 3: count = "many": give a number (How many?)'


def test_an_answers_file_that_is_too_long() -> None:
    with pytest.raises(JobError, match=r"a\.txt, line 4: all questions are answered"):
        answered(Interview(small), ["Ada", "1", "x", "one too many"], "a.txt")


def test_all_defaults_make_a_job(write_job: Callable[[str], Path]) -> None:
    text = job_text(finished([]))
    job = load_job(write_job(text))
    assert [trip.name for trip in job.trips] == ["Winter", "Summer"]
    assert job.inverter is None
    # A builder finds a word beside what a newcomer would not know.
    assert text.count("#") > 10


def test_answers_arrive_in_the_job(write_job: Callable[[str], Path]) -> None:
    said = {
        "customer": 'Zoë "Z" Ångström',
        "units": "metric",
        "living": "two-remote-workers",
        "people": "3",
        "length": "4.2",
        "colour": "3",
        "batteries": "2",
        "battery_place": "outside",
        "panels": "4",
        "controller": "50",
        "dcdc": "0",
        "inlet": "4",
        "charger": "25",
        "appliances": "fridge-dc, induction-hob, laptop x2, phones",
        "inverter": "2000",
        "prices": "yes",
        "price panel": "310.50",
        "price battery": "0",
        "trip 1 name": "Fjords",
        "trip 1 depart": "2027-06-01",
        "trip 1 start": "Bergen, Norway",
        "trip 1 stop 1 place": "60.4, 7.5",
        "trip 1 stop 1 nights": "2",
        "trip 1 stop 1 drive": "4.5",
        "trip 1 stop 1 plug": "nights",
        "trip 1 stop 1 shade": "25",
        "trip 1 stop 2 place": "Bergen, Norway",
        "trip 1 stop 2 nights": "0",
        "trip 1 stop 2 drive": "4",
        "trip 1 more": "no",
    }
    interview = Interview(questions)
    while interview.question is not None:
        interview.reply(said.get(asked(interview), ""))
    job = load_job(write_job(job_text(interview.answers)))
    assert job.customer == 'Zoë "Z" Ångström'
    assert job.settings.units == "metric"
    assert (job.living.people, job.van.length_m, job.van.skin_absorptance) == (3, 4.2, 0.9)
    assert (job.battery.count, job.van.battery_place) == (2, "outside")
    assert (job.panels[0].count, job.panels[0].controller_amps) == (4, 50)
    assert job.alternator == ()
    assert job.plug is not None
    assert (job.plug.inlet_volts, job.plug.inlet_amps, job.plug.charger_amps) == (230, 16, 25)
    assert job.inverter is not None
    assert job.inverter.watts == 2000
    assert {item.name: item.count for item in job.appliances}["Laptop"] == 2
    assert job.prices is not None
    prices = job.prices
    assert (prices.currency, prices.panel, prices.battery, prices.dcdc) == ("EUR", 310.5, 0, None)
    (trip,) = job.trips
    assert [(s.nights, s.drive_hours, s.plug_in, s.shade_pct) for s in trip.stops] == [
        (2, 4.5, "nights", 25),
        (0, 4, "never", 0),
    ]


TANKS = {
    "units": "us",
    "appliances": "water-pump, propane-stove, air-heater-fuel",
    "fresh": "33",
    "grey kitchen": "5",
    "grey shower": "0",
    "propane": "12",
    "engine fuel": "petrol",
    "trip 1 stop 1 services": "all",
    "trip 1 stop 2 place": "Moab, Utah",
    "trip 1 stop 2 nights": "2",
}


def job_of(write_job: Callable[[str], Path], said: dict[str, str]) -> tuple[Job, str]:
    interview = Interview(questions)
    while interview.question is not None:
        interview.reply(said.get(asked(interview), ""))
    text = job_text(interview.answers)
    return load_job(write_job(text)), text


def test_tanks_and_services_arrive_in_the_job(write_job: Callable[[str], Path]) -> None:
    job, text = job_of(write_job, TANKS)
    assert job.water is not None
    assert job.propane is not None
    assert job.water.fresh_l == pytest.approx(33 * 3.785411784)
    (kitchen,) = job.water.grey
    assert kitchen.capacity_l == pytest.approx(5 * 3.785411784)
    assert kitchen.takes == ("kitchen", "basin")
    assert job.water.open_drains == ("shower",)
    assert job.propane.tank_l == pytest.approx(12 * 3.785411784)
    assert job.van.engine_fuel == "petrol"
    first, second = job.trips[0].stops[:2]
    assert first.services == ("water", "dump", "propane")
    assert second.services == ()
    # Where nothing is offered the line waits as a comment, and is in order when it is taken in.
    assert '# services = ["water", "dump", "propane"]  # if' in text
    taken = load_job(write_job(text.replace("# services", "services")))
    assert taken.trips[0].stops[1].services == first.services


def test_who_has_no_tanks_is_asked_for_no_services(write_job: Callable[[str], Path]) -> None:
    job, text = job_of(write_job, {"appliances": "fridge-dc", "fresh": "0"})
    assert job.water is None
    assert job.propane is None
    assert "services" not in text


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ({"appliances": "fridge-dc"}, ["neither", "water, and a drain to empty the tanks"]),
        ({"appliances": "propane-stove", "fresh": "0"}, ["neither", "propane alone"]),
    ],
)
def test_only_services_for_what_is_aboard_are_offered(
    said: dict[str, str], told: list[str]
) -> None:
    interview = Interview(questions)
    reach(interview, "trip 1 stop 1 services", said)
    assert interview.question is not None
    assert list(interview.question.choices) == told


def test_who_has_a_pump_has_a_tank() -> None:
    interview = Interview(questions)
    reach(interview, "fresh", {"appliances": "water-pump"})
    with pytest.raises(Refused, match=r"give a number from 0\.3 to 528\.3"):
        interview.reply("0")


def test_a_hob_must_cook_for_all(write_job: Callable[[str], Path]) -> None:
    """What the refusal asks for is taken, and the file loads."""
    interview = Interview(questions)
    reach(interview, "appliances", {"living": "family-of-four", "people": "8"})
    with pytest.raises(Refused, match="induction-hob is too weak to cook for 8") as caught:
        interview.reply("induction-hob")
    wanted = str(caught.value).split("write ")[1].split(", or")[0]
    assert wanted == "induction-hob x2"
    interview.reply(wanted)
    while interview.question is not None:
        interview.reply("")
    load_job(write_job(job_text(interview.answers)))


def test_an_inch_is_not_lost(write_job: Callable[[str], Path]) -> None:
    """A length in feet goes into the file in feet and loads as metres."""
    interview = Interview(questions)
    while interview.question is not None:
        interview.reply("11.25" if asked(interview) == "length" else "")
    text = job_text(interview.answers)
    assert tomllib.loads(text)["van"]["length_ft"] == 11.25
    assert load_job(write_job(text)).van.length_m == pytest.approx(3.429)


def test_the_wiring_plan_that_waits_in_comments_is_in_order(
    write_job: Callable[[str], Path],
) -> None:
    text = job_text(finished([]))
    head, plan = text.split("write what is planned.\n")
    job = load_job(write_job(head + "\n" + plan.replace("# ", "", 1).replace("\n# ", "\n")))
    assert job.wiring is not None
    assert job.wiring.inverter is not None
    assert job.wiring.inverter.length_m == pytest.approx(0.3048)
    assert job.wiring.main_switch is True


@pytest.mark.parametrize(
    ("key", "reply", "rule"),
    [
        ("units", "3", "give a number from 1 to 2"),
        ("units", "furlongs", "give a number from 1 to 2"),
        ("people", "0", "give a whole number from 1 to 12, without a unit"),
        ("people", "2.5", "give a whole number from 1 to 12, without a unit"),
        ("people", "nan", "give a whole number"),
        ("people", "9" * 5000, "give a whole number"),
        ("length", "11 ft", r"give a number from 5 to 49\.2, without a unit"),
        ("length", "inf", "give a number from 5 to"),
        ("panels", "-1", "give a whole number from 0 to 60"),
        ("dcdc", "0.5", "give 0, or a number from 1 to 500"),
        ("appliances", "1, 99", "'99' is no number of the list; write numbers from 1 to"),
        ("appliances", "fridge-dc x0", "give 1 to 100 of fridge-dc"),
        ("appliances", "fridge-dc x60, fridge-dc x60", "give 1 to 100 of fridge-dc"),
        ("customer", "x" * 151, "at most 150 characters"),
        ("trip 1 depart", "2027-02-30", "must be a date of the calendar"),
        ("trip 1 start", "Mohab, UT", "did you mean"),
        ("inverter", "x", "from 900 to 20000"),
        ("currency", "doubloons", "at most 8 characters"),
        ("price panel", "-1", "give a number from 0 to 1000000, without a unit"),
        ("trip 1 stop 1 place", "done", "no place called"),
        ("trip 1 stop 1 place", "-33.9, 151.2", "too far for one leg; put a stop between"),
        ("trip 1 stop 1 nights", "0", "give a whole number from 1 to"),
        ("trip 1 stop 1 drive", "0.1", r"give a number from 3\.\d to 48"),
        ("trip 2 name", "Winter", "another trip has this name"),
    ],
)
def test_an_answer_is_checked_as_it_is_given(key: str, reply: str, rule: str) -> None:
    interview = Interview(questions)
    reach(interview, key, {"appliances": "coffee-maker", "prices": "yes"})
    with pytest.raises(Refused, match=rule):
        interview.reply(reply)
    assert asked(interview) == key


def test_what_the_refusal_allows_is_allowed() -> None:
    """The least hours of driving that are named are themselves taken, and then the file loads."""
    interview = Interview(questions)
    reach(interview, "trip 1 stop 1 drive")
    with pytest.raises(Refused) as caught:
        interview.reply("0.1")
    least = str(caught.value).split("from ")[1].split(" to")[0]
    interview.reply(least)
    assert interview.answers["trip 1 stop 1 drive"] == float(least)


def test_an_inverter_is_asked_for_when_something_needs_it() -> None:
    interview = Interview(questions)
    reach(interview, "inverter", {"appliances": "coffee-maker, television"})
    assert interview.question is not None
    assert interview.question.default == "1000"
    with pytest.raises(Refused, match="from 900 to"):
        interview.reply("600")


def test_a_year_of_nights_is_the_most(write_job: Callable[[str], Path]) -> None:
    """However many stops, the nights stay below what a trip may last."""
    interview = Interview(questions)
    said = {"trip 1 stop 1 nights": "300", "trip 1 stop 2 place": "Moab, Utah"}
    reach(interview, "trip 1 stop 2 nights", said)
    # 365 days less 300 nights, 7.5 hours of driving there and 48 hours for the next leg.
    with pytest.raises(Refused, match="from 0 to 62"):
        interview.reply("63")


# Not shrunk: a failing list of replies reads well enough, and every step back costs.
@settings(max_examples=10, phases=[Phase.generate])
@given(data=st.data())
def test_any_answers_lead_to_a_job_that_loads(
    data: st.DataObject, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """Numbers, words and going back in any order: what is taken makes a job in order."""
    interview = Interview(questions)
    replies = st.one_of(
        st.just(""),
        st.sampled_from(["1", "2", "3", "0", "4, 7 x2", "12", "19", "back", "no", "Moab, Utah"]),
        st.text(max_size=12),
    )
    for _ in range(60):
        if interview.question is None:
            break
        try:
            interview.reply(data.draw(replies))
        except Refused:
            continue
        except Stopped:
            break
    while interview.question is not None:
        interview.reply("")
    path = tmp_path_factory.mktemp("any") / "job.toml"
    path.write_text(job_text(interview.answers), "utf-8")
    load_job(path)
