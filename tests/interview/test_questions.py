"""The first talk: few questions, every answer checked as it is given, a job file that loads."""

from __future__ import annotations

import datetime as dt
import tomllib
from collections.abc import Callable
from functools import cache, partial
from pathlib import Path

import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from sim import decide
from sim.interview.aboard import in_order
from sim.interview.draft import Answers, Interview, Refused, Stopped, Which
from sim.interview.job_text import job_text
from sim.interview.questions import questions
from sim.job import shelf
from sim.job.model.appliances import Heater
from sim.job.model.job import Job
from sim.job.reading.load import load_job
from sim.job.rules.remarks import remarks
from sim.units import LITRES_PER_GALLON

TODAY = dt.date(2026, 11, 26)
Said = dict[str, str]
Finish = Callable[..., Interview]
Reach = Callable[..., Interview]
Made = Callable[..., tuple[Job, str]]


MOST_QUESTIONS = 30
# Everything that can add a question: frost, AC loads, propane and the van's own fuel.
HARD = {
    "trip 1 route": "Moab, Utah, 3 nights; Taos, New Mexico, 2 nights; home",
    "trip 2 route": "Bend, Oregon, 3 nights; 41.88, -121.37, 2 nights; home",
    "appliances": "fridge, lights, phones x2, pump, laptops, kettle, stove, hot-water-propane",
}


def asked(interview: Interview) -> str:
    assert interview.question is not None
    return interview.question.key


def begun(today: dt.date = TODAY) -> Interview:
    return Interview(partial(questions, today=today))


def _finish(said: Said | None = None, today: dt.date = TODAY) -> Interview:
    """Every question answered, by its default or as said."""
    interview = begun(today)
    said = dict(said or {})
    while (question := interview.question) is not None:
        interview.reply(said.pop(question.key, ""))
    assert said == {}, "never asked"
    return interview


@cache
def _way(said: tuple[tuple[str, str], ...]) -> dict[str, tuple[Answers, Said]]:
    """Answers and replies so far at each question of a talk, by defaults or as said."""
    interview, found = begun(), {}
    while (question := interview.question) is not None:
        found[question.key] = (dict(interview.answers), dict(interview.replies))
        try:
            interview.reply(dict(said).get(question.key, ""))
        except Refused:  # what only a test of this very question can answer
            break
    return found


def _reach(key: str, said: Said | None = None) -> Interview:
    """Answered by defaults, or as said, until a question is asked."""
    way = _way(tuple((said or {}).items()))
    assert key in way, f"{key} was never asked"
    interview = begun()
    interview.answers, interview.replies = map(dict, way[key])
    assert asked(interview) == key
    return interview


@pytest.fixture
def finish() -> Finish:
    return _finish


@pytest.fixture
def reach() -> Reach:
    return _reach


@pytest.fixture
def made(write_job: Callable[[str], Path]) -> Made:
    """The job of an interview, loaded, and its text."""

    def make(said: Said | None = None, today: dt.date = TODAY) -> tuple[Job, str]:
        text = job_text(_finish(said, today).answers)
        return load_job(write_job(text)), text

    return make


def test_all_defaults_make_a_job(made: Made) -> None:
    job, text = made()
    assert [trip.name for trip in job.trips] == ["January, Moab", "July, Taos"]
    assert job.inverter is None
    assert remarks(job, TODAY) == ()
    # A builder finds a word beside what a newcomer would not know.
    assert text.count("#") > 10


@pytest.mark.parametrize("said", [{}, HARD], ids=["as offered", "all that can be asked"])
def test_a_couple_with_two_trips_is_asked_few_questions(
    finish: Finish, said: dict[str, str]
) -> None:
    interview = finish(said)
    assert interview.answers["people"] == 2
    assert {"trip 2 route", "heater", "on roof", "pets"} <= set(interview.answers)
    assert len(interview.answers) <= MOST_QUESTIONS


def test_answers_arrive_in_the_job(made: Made) -> None:
    job, _ = made(
        {
            "customer": 'Zoë "Z" Ångström',
            "units": "metric",
            "home": "Bergen, Norway",
            "living": "two-remote",
            "people": "3",
            "pets": "stays",
            "trip 1 depart": "2027-03-01",
            "trip 1 route": "60.4, 7.5, 2 nights; Voss, Norway, 1 night; home",
            "trip 1 stop 1 there": "forest, plug at night, water",
            "trip 1 stop 2 there": "skyline 12,5, drain",
            "trip 2 depart": "done",
            "length": "4,2",
            "appliances": "fridge-dc, induction-hob, laptop x2, phones",
            "heater": "petrol",
            "fresh": "100,5",
            "grey": "0",
            "roof": "4,2 x 1,6",
            "on roof": "fan at 1,5, antenna at 3",
            "battery": "lifepo4-200 x2, outside",
            "panels": "rigid-2 x4",
            "dcdc": "0",
            "inlet": "230",
            "inverter": "2000",
            "prices": "yes",
            "price panel": "310,50",
            "price battery": "0",
        }
    )
    assert job.customer == 'Zoë "Z" Ångström'
    assert job.settings.units == "metric"
    assert (job.living.people, job.living.out, job.van.length_m) == (3, (), 4.2)
    assert (job.battery.count, job.van.battery_place, job.van.engine_fuel) == (
        2, "outside", "petrol",
    )  # fmt: skip
    (group,) = job.panels
    assert (group.use, group.count) == ("rigid-220", 4)
    # 4 x 220 W at 13.4 V are 66 A.
    assert group.controller_amps == 70
    assert job.alternator == ()
    assert job.plug is not None
    assert (job.plug.inlet_volts, job.plug.inlet_amps) == (230, 16)
    assert job.inverter is not None
    assert job.inverter.watts == 2000
    assert {item.name: item.count for item in job.appliances}["Laptop"] == 2
    assert job.water is not None
    assert (job.water.fresh_l, job.water.grey) == (100.5, ())
    assert job.water.open_drains == ("kitchen", "basin", "shower")
    assert job.roof is not None
    assert (job.roof.length_m, job.roof.width_m) == (4.2, 1.6)
    assert [(x.name, x.x_m) for x in job.roof.obstacles] == [("Fan", 1.5), ("Antenna", 3.0)]
    assert job.prices is not None
    prices = job.prices
    assert (prices.currency, prices.panel, prices.battery, prices.dcdc) == ("NOK", 310.5, 0, None)
    (trip,) = job.trips
    assert (trip.name, trip.depart) == ("March, 60.4, 7.5", dt.date(2027, 3, 1))
    assert trip.start is not None
    assert trip.start.name == trip.stops[2].place.name == "Bergen"
    assert [(s.nights, s.plug_in, s.surroundings, s.horizon_deg) for s in trip.stops] == [
        (2, "nights", "forest", 15.0),
        (1, "never", "open", 12.5),
        (0, "never", "open", 0.0),
    ]
    assert [s.services for s in trip.stops] == [("water",), ("dump",), ()]


def test_a_metric_customer_stays_in_europe_and_in_the_year_to_come(finish: Finish) -> None:
    answers = finish({"units": "metric", "prices": "yes"}, today=dt.date(2031, 3, 3)).answers
    assert answers["home"].country == "AT"
    assert answers["currency"] == "EUR"
    stops = [answers[f"trip {n} route"][0].place for n in (1, 2)]
    assert {place.country for place in stops} <= {"SI", "FR", "PL", "IT"}
    assert [answers[f"trip {n} depart"].year for n in (1, 2)] == [2032, 2031]


def test_a_southern_winter_is_in_july(finish: Finish) -> None:
    answers = finish({"units": "metric", "home": "Sydney, Australia"}).answers
    assert [answers[f"trip {n} depart"].month for n in (1, 2)] == [7, 1]
    assert answers["trip 1 route"][0].place.country == "AU"


@pytest.mark.parametrize(
    ("today", "first"),
    [
        (dt.date(2026, 12, 20), dt.date(2027, 1, 9)),
        # Too near to be planned: the winter after it.
        (dt.date(2027, 1, 5), dt.date(2028, 1, 8)),
        (dt.date(2028, 2, 29), dt.date(2029, 1, 13)),
    ],
)
def test_dates_lie_ahead(finish: Finish, today: dt.date, first: dt.date) -> None:
    assert finish({"trip 2 depart": "done"}, today=today).answers["trip 1 depart"] == first


def test_a_frosty_trip_asks_for_heat_and_a_warm_one_does_not(finish: Finish) -> None:
    said = {"trip 1 depart": "2027-07-10", "trip 2 depart": "done"}
    assert "heater" not in finish(said).answers
    assert "heater" in finish({"trip 2 depart": "done"}).answers
    heated = {"trip 2 depart": "done", "appliances": "fridge, furnace"}
    assert "heater" not in finish(heated).answers


def test_the_frost_is_that_of_the_place_and_month(reach: Reach) -> None:
    cold = reach("heater", {"units": "metric", "trip 1 route": "Kiruna, Sweden, 2 nights"})
    assert cold.question is not None
    degrees = int(cold.question.reason.split("near ")[1].split(" °C")[0])
    assert degrees < -10
    assert "January, Kiruna" in cold.question.reason


def test_the_frost_is_that_of_the_month_of_arrival(finish: Finish) -> None:
    """It leaves in a warm month, and is at its second stop in a cold one."""
    said = {"trip 1 depart": "2027-09-01", "trip 2 depart": "done"}
    short = said | {"trip 1 route": "Moab, Utah, 9 nights; Taos, New Mexico, 3 nights"}
    assert "heater" not in finish(short).answers
    long = said | {"trip 1 route": "Moab, Utah, 120 nights; Taos, New Mexico, 3 nights"}
    assert "heater" in finish(long).answers


@pytest.mark.parametrize(
    ("reply", "fuel", "profile"),
    [
        ("1", "diesel", "air-heater-fuel"),
        ("petrol", "petrol", "air-heater-fuel"),
        ("prop", "propane", "furnace-propane"),
        ("none", None, None),
    ],
)
def test_the_heater_that_was_asked_for_is_aboard(
    made: Made, reply: str, fuel: str | None, profile: str | None
) -> None:
    job, _ = made({"heater": reply})
    heaters = [item for item in job.appliances if isinstance(item, Heater)]
    assert [(item.use, item.fuel) for item in heaters] == ([(profile, fuel)] if profile else [])
    assert (job.propane is not None) == (fuel == "propane")


@pytest.mark.parametrize(
    "aboard",
    [
        "kettle",
        "kettle, microwave, coffee-maker",
        "induction-hob, kettle, microwave, coffee-maker, fridge",
        "fridge-freezer-ac, television, e-bike-charger x2",
        "induction-hob x2, kettle x2, microwave x2, hot-water-electric",
    ],
)
def test_the_default_inverter_passes_the_wiring_check(made: Made, aboard: str) -> None:
    job, _ = made({"appliances": aboard, "units": "us"})
    if job.inverter is None:
        return
    sheet = decide.wiring(job)
    found = {x.subject: x.status for x in sheet.checks if x.run in ("Inverter", "Battery")}
    assert found["AC at once"] == "pass"
    assert found["bank discharge"] == "pass"


def test_a_small_battery_gets_the_inverter_it_can_feed(reach: Reach) -> None:
    """Loads that never run together by the clock need no inverter for all of them."""
    said = {"appliances": "kettle, coffee-maker, microwave", "battery": "lifepo4-200"}
    both = reach("inverter", said)
    assert both.question is not None
    default = float(both.question.default)
    assert 1200 <= default <= 2150
    weak = reach("inverter", {**said, "battery": "lifepo4-100"})
    assert weak.question is not None
    assert "go back and take more" in weak.question.reason


def test_tanks_and_services_arrive_in_the_job(made: Made, write_job: Callable[[str], Path]) -> None:
    job, text = made(
        {
            "appliances": "water-pump, propane-stove, air-heater-fuel",
            "fresh": "33",
            "grey": "5",
            "propane": "12",
            "engine fuel": "petrol",
            "trip 1 stop 1 there": "water, drain, propane",
        }
    )
    assert job.water is not None
    assert job.propane is not None
    assert job.water.fresh_l == pytest.approx(33 * LITRES_PER_GALLON)
    (grey,) = job.water.grey
    assert grey.capacity_l == pytest.approx(5 * LITRES_PER_GALLON)
    assert job.propane.tank_l == pytest.approx(12 * LITRES_PER_GALLON)
    assert job.van.engine_fuel == "petrol"
    first, second = job.trips[0].stops[0], job.trips[1].stops[0]
    assert first.services == ("water", "dump", "propane")
    assert second.services == ()
    # Where nothing is offered the line waits as a comment, and is in order when it is taken in.
    assert '# services = ["water", "dump", "propane"]  # if' in text
    taken = load_job(write_job(text.replace("# services", "services")))
    assert taken.trips[1].stops[0].services == first.services


def test_what_the_van_has_no_tank_or_inlet_for_stays_out(made: Made) -> None:
    job, text = made(
        {
            "appliances": "fridge",
            "fresh": "0",
            "inlet": "none",
            "trip 1 stop 1 there": "plug at night, water, propane",
        }
    )
    assert (job.water, job.propane, job.shore) == (None, None, ())
    assert "services" not in text
    assert '# plug_in = "nights"  # the van has no inlet' in text


def test_a_pet_keeps_heat_and_fans_on(made: Made) -> None:
    job, text = made({"pets": "2"})
    assert job.living.out == ()
    assert "10:30-16:30" in text
    assert made({"pets": "no"})[0].living.out != ()


def test_who_has_a_pump_has_a_tank(reach: Reach) -> None:
    interview = reach("fresh", {"appliances": "water-pump"})
    with pytest.raises(Refused, match=r"give a number from 0\.3 to 528\.3"):
        interview.reply("0")


def test_a_hob_must_cook_for_all(reach: Reach, write_job: Callable[[str], Path]) -> None:
    """What the refusal asks for is taken, and the file loads."""
    interview = reach("appliances", {"living": "family-of-four", "people": "8"})
    with pytest.raises(Refused, match="induction-hob is too weak to cook for 8") as caught:
        interview.reply("induction-hob")
    wanted = str(caught.value).split("write ")[1].split(", or")[0]
    assert wanted == "induction-hob x2"
    interview.reply(wanted)
    while interview.question is not None:
        interview.reply("")
    load_job(write_job(job_text(interview.answers)))


def test_an_inch_is_not_lost(made: Made) -> None:
    """A length in feet goes into the file in feet and loads as metres."""
    job, text = made({"length": "11.25"})
    assert tomllib.loads(text)["van"]["length_ft"] == 11.25
    assert job.van.length_m == pytest.approx(3.429)


def test_the_wiring_plan_that_waits_in_comments_is_in_order(
    made: Made, write_job: Callable[[str], Path]
) -> None:
    _, text = made()
    head, plan = text.split("write what is planned.\n")
    job = load_job(write_job(head + "\n" + plan.replace("# ", "", 1).replace("\n# ", "\n")))
    assert job.wiring is not None
    assert job.wiring.inverter is not None
    assert job.wiring.inverter.length_m == pytest.approx(0.3048)
    assert job.wiring.main_switch is True


def test_every_appliance_of_the_shelf_has_a_number() -> None:
    assert sorted(in_order()) == list(shelf.names("appliances"))
    interview = begun()
    while asked(interview) != "appliances":
        interview.reply("")
    assert interview.question is not None
    assert sum(count for _, count in interview.question.groups) == len(in_order())
    number = in_order().index("kettle") + 1
    interview.reply(f"chest x2, {number}, LAPTOPS")
    assert interview.answers["appliances"] == {"chest-cooler-dc": 2, "kettle": 1, "laptop": 2}


def test_a_place_is_picked_by_its_number(reach: Reach) -> None:
    interview = reach("home")
    with pytest.raises(Which) as caught:
        interview.reply("Springfield")
    wanted = caught.value.choices.index(next(x for x in caught.value.choices if "Illinois" in x))
    interview.reply(f"{wanted + 1}")
    assert interview.answers["home"].region == "Illinois"


def test_a_misspelt_place_within_a_route_is_picked_too(reach: Reach) -> None:
    interview = reach("trip 1 route")
    with pytest.raises(Which) as caught:
        interview.reply("Mohab, UT, 4 nights; home")
    wanted = caught.value.choices.index("Moab, Utah, US")
    interview.reply(f"{wanted + 1}")
    legs = interview.answers["trip 1 route"]
    assert [(leg.place.name, leg.nights) for leg in legs] == [("Moab", 4), ("Flagstaff", 0)]


@pytest.mark.parametrize(
    ("key", "reply", "rule"),
    [
        ("units", "3", "give a number from 1 to 2"),
        ("units", "furlongs", "give a number from 1 to 2, or a word of the list"),
        ("people", "0", "give a whole number from 1 to 12, without a unit"),
        ("people", "2.5", "give a whole number from 1 to 12, without a unit"),
        ("people", "nan", "give a whole number"),
        ("people", "9" * 5000, "give a whole number"),
        ("length", "11 ft", r"give a number from 5 to 49\.2, without a unit"),
        ("length", "inf", "give a number from 5 to"),
        ("roof", "11", "write length x width"),
        ("roof", "11 x 99", "give a number from"),
        ("on roof", "fan", "say how far from the front"),
        ("on roof", "fan at 11", "fan would reach beyond the roof; it can be at most at 9.1"),
        ("on roof", "chimney at 2", "'chimney' is none of fan"),
        ("on roof", "a at 2", "did you mean one of: air conditioner; antenna"),
        ("battery", "lifepo4-200 x99", "give 1 to 40 of lifepo4-200"),
        ("panels", "-1", "give a number from 1 to 4"),
        ("panels", "rigid", "may be several; did you mean one of: rigid-170"),
        ("dcdc", "0.5", "give 0, or a number from 1 to 500"),
        ("appliances", "1, 99", "'99' is not a number of the list, which has 1 to"),
        ("appliances", "fridge-dc x0", "give 1 to 100 of fridge-dc"),
        ("appliances", "fridge-dc x60, fridge-dc x60", "give 1 to 100 of fridge-dc"),
        ("appliances", "hot", "'hot' may be several things"),
        ("customer", "x" * 151, "at most 150 characters"),
        ("trip 1 depart", "2027-02-30", "must be a date of the calendar"),
        ("trip 1 depart", "done", "must be a date of the calendar"),
        ("home", "Mohab, UT", "did you mean one of: Moab, Utah, US"),
        ("inverter", "x", "from 900 to 20000"),
        ("currency", "doubloons", "at most 8 characters"),
        ("price panel", "-1", "give a number from 0 to 1000000, without a unit"),
        ("price panel", "1,200", r"the comma may be read in two ways; write 1200 or 1\.2"),
        ("trip 1 route", "home", "some nights"),
        ("trip 1 route", " ; ", "at least one stop"),
        ("trip 1 route", "Moab, Utah", "say for how many nights, such as Moab, Utah, 3 nights"),
        ("trip 1 route", "-33.9, 151.2, 2 nights", "too far for one leg; put a stop between"),
        ("trip 1 route", "Moab, Utah, 400 nights", "at most 366 nights"),
        ("trip 1 route", "Moab, UT, 200 nights; home, 200 nights", "a trip lasts at most 366"),
        ("trip 1 stop 1 there", "open, forest", "open and forest exclude each other"),
        ("trip 1 stop 1 there", "plug", "did you mean one of: plug at night; plug all day"),
        ("trip 1 stop 1 there", "skyline 95", "give 0, or a number from 0 to 80"),
        ("trip 1 stop 1 there", "swamp", "give a number from 1 to 9, or a word"),
    ],
)
def test_an_answer_is_checked_as_it_is_given(reach: Reach, key: str, reply: str, rule: str) -> None:
    interview = reach(key, {"appliances": "coffee-maker", "prices": "yes"})
    with pytest.raises(Refused, match=rule):
        interview.reply(reply)
    assert asked(interview) == key


@pytest.mark.parametrize(
    ("reply", "value"), [("11,25", 11.25), ("11.25", 11.25), ("12", 12), ("8,5", 8.5)]
)
def test_a_comma_may_be_a_decimal_point(reach: Reach, reply: str, value: float) -> None:
    interview = reach("length")
    interview.reply(reply)
    assert interview.answers["length"] == value


def test_a_comma_may_part_thousands_where_nothing_else_fits(reach: Reach) -> None:
    interview = reach("inverter", {"appliances": "coffee-maker"})
    interview.reply("2,000")
    assert interview.answers["inverter"] == 2000


def test_what_runs_on_a_plug_alone_needs_one(reach: Reach) -> None:
    interview = reach("inlet", {"appliances": "heater-electric"})
    assert interview.question is not None
    assert "no plug" not in interview.question.choices
    with pytest.raises(Refused, match="Electric heater runs only on a plug"):
        interview.reply("none")


def test_a_ferry_is_left_to_the_builder(made: Made) -> None:
    job, text = made(
        {
            "home": "Bari, Italy",
            "units": "metric",
            "trip 1 route": "Palma, Spain, 2 nights",
            "trip 2 depart": "done",
        }
    )
    assert "drive_hours = 0  # no road is known" in text
    assert job.trips[0].stops[0].drive_hours == 0


# Not shrunk: a failing list of replies reads well enough, and every step back costs.
@settings(max_examples=10, phases=[Phase.generate])
@given(data=st.data())
def test_any_answers_lead_to_a_job_that_loads(
    data: st.DataObject, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """Numbers, words and going back in any order: what is taken makes a job in order."""
    interview = Interview(partial(questions, today=TODAY))
    replies = st.one_of(
        st.just(""),
        st.sampled_from(["1", "2", "3", "0", "4, 7 x2", "12", "19", "back", "no", "none", "done"]),
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
        try:
            interview.reply("")
        except Refused:  # what was said before rules the default out
            interview.back()
    path = tmp_path_factory.mktemp("any") / "job.toml"
    path.write_text(job_text(interview.answers), "utf-8")
    job: Job = load_job(path)
    assert job.trips
