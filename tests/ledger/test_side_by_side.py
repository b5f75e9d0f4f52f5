"""Designs side by side are each what a job of its own, simulated alone, is: every figure of their
answers, on a van with tanks, hot water, a controller that clips and a battery that runs out."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import fields
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pytest

from sim.job.model.changes import with_values
from sim.job.model.job import Job
from sim.ledger.answer import Answer, answer_of, answers_of
from sim.ledger.behind import Behind
from sim.ledger.results import TripResult
from sim.ledger.simulate import simulate_trip, tried_on
from sim.ledger.study import Outcomes, run_designs
from sim.ledger.tried import TriedTrip
from sim.trip.designs import Design
from sim.trip.lines import OWN_DRAW
from sim.trip.prepare import PreparedTrip, prepare_trip

Edited = Callable[..., Job]
# Six panels behind two controllers too small for them.
CHANGES = (
    ("controller_amps = 8\ncount = 1", "controller_amps = 8\ncount = 3"),
    (
        'count = 1\nmount = "tilted"\ntilt_deg = 30\ncontroller_amps = 20',
        'count = 3\nmount = "tilted"\ntilt_deg = 30\ncontroller_amps = 20',
    ),
    ('name = "Lamps"', 'name = "Lamps"\nmedical = true'),
    ("people = 2", "people = 2\nshowers_person_week = 7"),
    # Too little heat for the coldest nights.
    ("heat_watts = 3000", "heat_watts = 420"),
    ("draws = 6", "draws = 24"),
)
# A boiler of a few litres, for showers that take more, and a small grey tank.
WATER = """
[water]
fresh_l = 400

[[water.grey]]
name = "Grey"
capacity_l = 45
takes = ["kitchen", "basin", "shower"]

[[appliances]]
name = "Boiler"
kind = "hot water"
source = "electricity"
tank_l = 5
heat_watts = 150
priority = "comfort"
"""
# From too little to more than enough; the controllers clip with all but the second and the third.
DESIGNS = (
    Design((3, 0), 1),
    Design((0, 0), 1),
    Design((0, 1), 2),
    Design((1, 1), 3),
    Design((1, 1), 4),
    Design((2, 1), 4),
    Design((2, 1), 5),
    Design((3, 3), 12),
)
FULL_JOB = (Path(__file__).parents[1] / "data" / "jobs" / "full.toml").read_text("utf-8")
# Adding up in another order changes no more than this.
EXACT: dict[str, Any] = {"rel": 1e-9, "abs": 1e-9}


class Way(NamedTuple):
    """A trip with all designs: beside each other, only summed up, and each alone."""

    prepared: PreparedTrip
    tried: tuple[TriedTrip, ...]
    summed: Outcomes
    alone: tuple[TripResult, ...]


def with_design(job: Job, design: Design) -> Job:
    """The job with another number of panels and batteries written into it."""
    groups = zip(job.panels, design.panels, strict=True)
    panels = tuple(with_values(group, {"count": count}) for group, count in groups)
    battery = with_values(job.battery, {"count": design.batteries})
    return with_values(job, {"panels": panels, "battery": battery})


@pytest.fixture(scope="module")
def job(edited: Edited) -> Job:
    return edited(FULL_JOB, *CHANGES, end=WATER)


@pytest.fixture(scope="module")
def spring(job: Job) -> Way:
    trip = job.trips[0]
    prepared = prepare_trip(job, trip)
    ((*tried,),) = tried_on([prepared], DESIGNS)
    alone = tuple(simulate_trip(with_design(job, design), trip) for design in DESIGNS)
    return Way(prepared, tuple(tried), run_designs(prepared, DESIGNS), alone)


def assert_same_behind(one: Sequence[Behind], other: Sequence[Behind]) -> None:
    for mine, theirs in zip(one, other, strict=True):
        for field in fields(Behind):
            if field.name != "missing":
                assert getattr(mine, field.name) == getattr(theirs, field.name)
        assert mine.missing == pytest.approx(theirs.missing, **EXACT)


def assert_same(one: Answer, other: Answer, *, but: Sequence[str] = ()) -> None:
    """Every field; sums may be added up in another order."""
    for name in (field.name for field in fields(Answer) if field.name not in but):
        mine, theirs = getattr(one, name), getattr(other, name)
        if name == "behind":
            assert_same_behind(mine, theirs)
        elif name in ("dark_hours", "lowest_soc", "bad"):
            assert vars(mine) == pytest.approx(vars(theirs), **EXACT), name
        elif isinstance(mine, float):
            assert mine == pytest.approx(theirs, **EXACT), name
        else:
            assert mine == theirs, name


def test_the_designs_come_to_different_ends(spring: Way) -> None:
    """Without which the tests below would hold little."""
    answers = [answer_of(result) for result in spring.alone]
    assert {answer.electric for answer in answers} == {"short", "tight", "ample"}
    assert {answer.held for answer in answers} > {0, 23, 24}
    assert {answer.essentials_held for answer in answers} > {0, 24}
    assert {0, 24} < {answer.medical_dark for answer in answers}
    for group in ("essentials", "comforts"):
        behind = [x for answer in answers for x in answer.behind if x.kind == "electricity"]
        assert len({x.missing for x in behind if x.group == group}) >= 4
    # Of what goes dark first each says something else; one has no dark hour in its bad case.
    firsts = [answer.first_dark for answer in answers if answer.first_dark is not None]
    assert len({(x.draw, x.step) for x in firsts}) >= 4
    assert {x.priority for x in firsts} == {"comfort", "extra"}
    assert {x.is_bad_case for x in firsts} == {True, False}
    # Controllers clip with some, and a tank, showers and the cabin fall behind with all.
    lost = [result.unharvested_by_cause_w[-1].sum() for result in spring.alone]
    assert min(lost) == 0.0
    assert len(set(lost)) >= 4
    for answer in answers:
        stores = {x.kind for x in answer.behind if x.group == "stores"}
        assert stores == {"grey", "hot water", "warmth"}


def test_answers_of_designs_tried_side_by_side(spring: Way) -> None:
    for found, result in zip(answers_of(spring.tried), spring.alone, strict=True):
        assert_same(found, answer_of(result))


def test_answers_of_designs_that_are_only_summed_up(job: Job, spring: Way) -> None:
    """They do not say what goes dark first, and of medical devices that they may go without."""
    answers = spring.summed.answers("Spring", job.settings.bounds)
    for found, result in zip(answers, spring.alone, strict=True):
        own = answer_of(result)
        assert_same(found, own, but=("first_dark", "medical", "medical_dark"))
        assert found.first_dark is None
        assert found.medical_dark >= own.medical_dark
        assert set(found.medical) >= set(own.medical)
        # What the lamps are among is missed in so many draws.
        missed_wh = result.unserved_w[0].sum(axis=0) * result.timeline.step_hours
        assert found.medical_dark == int((missed_wh > 1e-3).sum())


def test_no_design_knows_of_the_first(job: Job, spring: Way) -> None:
    """In the other order, with one first that has no dark hour, each is what it was."""
    bounds, back = job.settings.bounds, DESIGNS[::-1]
    ((*tried,),) = tried_on([spring.prepared], back)
    assert answers_of(tried)[::-1] == answers_of(spring.tried)
    summed = run_designs(spring.prepared, back).answers("Spring", bounds)
    assert summed[::-1] == spring.summed.answers("Spring", bounds)


def test_tanks_and_hot_water_keep_answers_from_all(job: Job, spring: Way) -> None:
    """With bank and sun for everything the trip is not ample: the showers are cold, the grey tank
    is full."""
    summed = spring.summed.answers("Spring", job.settings.bounds)
    for found in (answers_of(spring.tried)[-1], summed[-1], answer_of(spring.alone[-1])):
        assert (found.held, found.electric) == (24, "ample")
        assert (found.all_held, found.stores_held) == (0, 0)
        assert found.verdict != "ample"
        assert {x.group for x in found.behind} == {"stores"}


def test_what_a_limit_loses_goes_unharvested(spring: Way) -> None:
    """Sun that nothing took is all that the panels could have given less what was taken, with what
    the controllers' limit lost."""
    for k, (tried, result) in enumerate(zip(spring.tried, spring.alone, strict=True)):
        unharvested_w = tried.unharvested_w()
        np.testing.assert_allclose(unharvested_w, result.unharvested_w, atol=1e-6)
        sun_w = unharvested_w + tried.taken_w()["sun"]
        units = zip(spring.prepared.units, DESIGNS[k].panels, strict=True)
        could_w = sum(n * x.watts * x.group.controller_efficiency for x, n in units)
        np.testing.assert_allclose(sun_w, could_w, atol=1e-6)
        assert tried.unharvested_wh_day == pytest.approx(24.0 * unharvested_w.mean())
    lost_w = spring.alone[0].unharvested_by_cause_w[-1]
    assert spring.tried[0].unharvested_wh_day > 24.0 * lost_w.mean() > 100.0


def test_hot_water_that_is_short_is_behind_in_all_draws(spring: Way) -> None:
    short_w = spring.prepared.wants.hot.short_w
    for one in (*spring.tried, *spring.alone):
        (hot,) = [x for x in one.promise.lacks if x.kind == "hot water"]
        assert (hot.count, hot.missing) == (24, pytest.approx(short_w.sum()))
        assert hot.missing > 100.0
        assert hot.first_h[0] == np.flatnonzero(short_w)[0]


def test_without_a_heater_nobody_expects_hot_water(edited: Edited) -> None:
    job = edited(FULL_JOB, *CHANGES, end=WATER[: WATER.index("[[appliances]]")])
    prepared = prepare_trip(job, job.trips[0])
    assert prepared.wants.hot.short_w.any()
    ((tried,),) = tried_on([prepared], DESIGNS[-1:])
    result = simulate_trip(with_design(job, DESIGNS[-1]), job.trips[0])
    (summed,) = run_designs(prepared, DESIGNS[-1:]).answers("Spring", job.settings.bounds)
    for answer in (answer_of(tried), answer_of(result), summed):
        assert "hot water" not in {x.kind for x in answer.behind}
        assert "grey" in {x.kind for x in answer.behind}


def test_what_each_load_missed_is_what_the_bank_refused(spring: Way) -> None:
    """Line by line as alone, and in sum what was not served: nothing with two of the designs,
    before and after which others miss much."""
    for tried, result in zip(spring.tried, spring.alone, strict=True):
        lines = tried.lines()
        for one, own, wants in zip(lines, result.lines(), tried.lines_wanted(), strict=True):
            assert one.name == own.name == wants.name
            np.testing.assert_allclose(one.served_wh, own.served_wh, rtol=1e-9, atol=1e-9)
            np.testing.assert_allclose(one.served_wh + one.missed_wh, wants.wanted_wh, atol=1e-6)
        missed_wh = np.sum([line.missed_wh for line in lines], axis=0)
        refused_wh = tried.unserved_w.sum(axis=(0, 1)) * tried.timeline.step_hours
        np.testing.assert_allclose(missed_wh, refused_wh, rtol=1e-6, atol=1e-6)
    assert [bool(tried.unserved_w.any()) for tried in spring.tried[-2:]] == [False, False]
    assert spring.tried[1].unserved_w.sum() > 1000.0


def test_what_designs_share_that_miss_nothing_is_added_up_once(spring: Way) -> None:
    """Nothing of a group being missed, each of its lines is the very same with every design."""
    one, other = (tried.lines() for tried in spring.tried[-2:])
    alike = [mine is theirs for mine, theirs in zip(one, other, strict=True)]
    # The inverter's are put together from its parts.
    assert alike == [line.supply not in OWN_DRAW for line in one]
    assert sum(alike) >= 7
    dark = spring.tried[1].lines()
    assert not any(mine is theirs for mine, theirs in zip(one, dark, strict=True))
