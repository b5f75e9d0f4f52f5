"""How many panels: by hand, by worksheet, and how sure the choice is."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from math import ceil
from types import SimpleNamespace

import numpy as np
import pytest

import sim
from sim.decide.levers.lever_catalogue import lever_list
from sim.decide.panels import choice
from sim.decide.panels.counts import PanelDecision, counts_to_try
from sim.decide.panels.roof import roof_fit
from sim.errors import JobError
from sim.job.model.changes import with_values
from sim.job.model.job import Job
from sim.ledger.answer import answer_of, worst
from sim.ledger.study import run_designs
from sim.trip.designs import Design
from sim.trip.prepare import prepare_trip

MakeJob = Callable[..., Job]
COULOMBIC, CONTROLLER = 0.9, 0.98
ROOF = "\n[roof]\nlength_m = {}\nwidth_m = 1.7\n{}\n"


def peak_sun_hours(job: Job) -> np.ndarray:
    """Energy of the panel on each full day over its rating. [h], shape (days,)"""
    unit = prepare_trip(job, job.trips[0]).units[0].watts[:, 0]
    days = len(unit) // 24
    return unit[: 24 * days].reshape(days, 24).sum(axis=1) / job.panels[0].watts


@pytest.mark.parametrize(("load_w", "count"), [(50, 2), (80, 3), (110, 4), (140, 5)])
def test_clear_sky_and_a_constant_load_by_hand(
    make_job: MakeJob, balance_job: str, load_w: int, count: int
) -> None:
    """A day's load against a day's sun: 8.5 hours of full sun on 100 W behind a controller of
    98 % bring 833 Wh; 9.3 hours of the load come straight from the sun, 14.7 through a bank
    of 90 %. The loads lie well between two counts."""
    job = make_job(balance_job, ("watts = 40", f"watts = {load_w}"))
    assert peak_sun_hours(job).mean() == pytest.approx(8.51, abs=0.02)
    needed = load_w * (9.3 + 14.7 / COULOMBIC) / (100 * 8.5 * CONTROLLER)
    assert 0.1 < ceil(needed) - needed < 0.9
    assert ceil(needed) == count
    found = sim.decide.panels(job, up_to=7)
    assert found.recommended == count


def test_the_worksheet_where_all_goes_through_the_bank(make_job: MakeJob, balance_job: str) -> None:
    """Load over efficiencies over peak sun hours, as in Stand-alone Photovoltaic Systems: A
    Handbook of Recommended Design Practices, SAND87-7023, worksheets 1 to 5: 0.9 for the
    battery. With panels of 10 W and a load by night alone the count is the worksheet's."""
    load_wh = 8 * 120
    job = make_job(
        balance_job,
        ("watts = 100", "watts = 10"),
        ("count = 3", "count = 1"),
        ('kind = "steady"\nwatts = 40', 'kind = "timed"\nwatts = 120\nat = ["21:00-05:00"]'),
    )
    worksheet = load_wh / COULOMBIC / CONTROLLER / peak_sun_hours(job).mean() / 10.0
    assert worksheet == pytest.approx(12.8, abs=0.1)
    assert sim.decide.panels(job, up_to=20).recommended == ceil(worksheet)


def test_where_the_worksheet_asks_for_too_much(make_job: MakeJob, balance_job: str) -> None:
    """What is used by day goes past the bank: the worksheet charges it with losses it does not
    have and asks for a panel of 10 W too many."""
    job = make_job(
        balance_job,
        ("watts = 100", "watts = 10"),
        ("count = 3", "count = 1"),
        ('kind = "steady"\nwatts = 40', 'kind = "timed"\nwatts = 145\nat = ["10:30-16:30"]'),
    )
    hours = peak_sun_hours(job).mean()
    worksheet = 6 * 145 / COULOMBIC / CONTROLLER / hours / 10.0
    unit = prepare_trip(job, job.trips[0]).units[0].watts[:24, 0] * CONTROLLER
    at = np.array([(minute + 6 * 60) % 1440 for minute in range(0, 1440, 60)])
    load = np.clip(np.minimum(at + 60, 990) - np.maximum(at, 630), 0, 60) / 60.0 * 145.0

    def lasts(count: int) -> bool:
        """A day's gain and loss of the bank, hour by hour."""
        net = count * unit - load
        return np.maximum(net, 0).sum() * COULOMBIC >= np.maximum(-net, 0).sum()

    by_hand = next(count for count in range(60) if lasts(count))
    found = sim.decide.panels(job, up_to=20).recommended
    assert found == by_hand
    assert found < ceil(worksheet)


def test_more_panels_and_more_batteries_never_do_worse(unsure: Job) -> None:
    """Draw by draw: what holds with less holds with more."""
    for trip in unsure.trips:
        prepared = prepare_trip(unsure, trip)
        for vary in (lambda n: Design((n,), 1), lambda n: Design((2,), n + 1)):
            outcome = run_designs(prepared, [vary(n) for n in range(5)])
            share = outcome.passed.mean(axis=1)
            assert share[0] < share[-1]
            for less, more in pairwise(outcome.passed):
                assert not (less & ~more).any()
            for less, more in pairwise(outcome.lowest_soc):
                # At the cut-off of 5 % a bank leaks on, the larger one a little longer; and the
                # colder its cells, the higher the charge at which they give no more.
                assert ((more >= less - 1e-3) | (less < 0.07)).all()


@pytest.fixture(scope="module")
def decided(request: pytest.FixtureRequest) -> PanelDecision:
    unsure = request.getfixturevalue("unsure")
    return sim.decide.panels(unsure, up_to=12, jobs=1)


def test_the_smallest_that_is_ample_everywhere(decided: PanelDecision) -> None:
    """In some draws the propane does not last, which no panel mends: that is left to the
    verdict of the trip, and the panels are chosen by what the battery serves."""
    assert [option.count for option in decided.options] == list(range(13))
    assert {option.verdict for option in decided.options} == {"short"}
    ample = [o.count for o in decided.options if all(t.electric == "ample" for t in o.trips)]
    assert decided.recommended == min(ample) == 11
    ten, eleven = (worst(decided.options[count].trips).ample_share for count in (10, 11))
    assert ten < 0.95 <= eleven
    assert decided.choice.best == 11
    assert decided.choice.runner_up == 10
    for option in decided.options:
        assert option.weight_kg == pytest.approx(11 * option.count)
        assert option.worst == worst(option.trips)
        assert option.fits is None
        assert option.price == (0.0 if option.count == 0 else None)


def test_panels_in_series_come_by_the_string(make_job: MakeJob, unsure_job: str) -> None:
    """Eleven are ample: in strings of three that is twelve."""
    job = make_job(
        unsure_job,
        ("count = 2", "count = 3"),
        ("controller_amps = 30", "controller_amps = 30\nseries = 3"),
    )
    found = sim.decide.panels(job, up_to=12)
    ample = [o.count for o in found.options if all(t.electric == "ample" for t in o.trips)]
    assert min(ample) == 11
    assert found.recommended == 12
    assert found.choice.runner_up == 9
    assert found.choice.step == 3
    assert found.choice.following is None


def test_a_recommendation_inside_the_sampling_error_says_so(decided: PanelDecision) -> None:
    counts = [count for count, _ in decided.choice.unsure]
    assert counts == [11, 10]
    answer = decided.choice.unsure[0][1]
    assert (answer.trip, answer.held, answer.draws) == ("November", 38, 40)
    more = decided.choice.following
    assert more is not None
    assert (more.count, more.fits, more.gain) == (12, None, "unsure")
    assert (more.before, more.after) == (
        decided.options[11].worst, decided.options[12].trips[1],
    )  # fmt: skip


def test_a_clear_case_has_no_doubt(make_job: MakeJob, balance_job: str) -> None:
    job = make_job(balance_job, ("draws = 1", "draws = 100"), ("nights = 24", "nights = 6"))
    found = sim.decide.panels(job, up_to=4)
    assert found.recommended == 1
    assert found.choice.unsure == ()


def test_nothing_is_enough_where_nothing_is_wanted(make_job: MakeJob, balance_job: str) -> None:
    job = make_job(balance_job, ("watts = 40", "watts = 0.1"))
    found = sim.decide.panels(job, up_to=2)
    assert found.recommended == 0
    assert found.helps is None


def test_where_no_count_helps_it_says_what_does(make_job: MakeJob, unsure_job: str) -> None:
    job = make_job(unsure_job, end="\n[prices]\nbattery = 500\n")
    found = sim.decide.panels(job, up_to=4)
    assert found.recommended is None
    assert found.choice.runner_up is None
    assert found.helps is not None
    assert found.helps.count == found.choice.best == 4
    assert found.helps.is_enough
    # What is named does it, whatever the propane lacks.
    (pair,) = found.helps.effects
    assert pair.names
    four = with_values(job.panels[0], {"count": 4, "controller_amps": 60.0})
    changed = with_values(job, {"panels": (four,)})
    # A larger tank is none of the electricity's levers.
    electric = [x.change for x in lever_list(job)[0] if x.name in pair.names]
    assert electric
    for change in electric:
        changed = change(changed)
    answers = [answer_of(trip) for trip in sim.simulate(changed).trips]
    assert {answer.electric for answer in answers} == {"ample"}
    assert answers[0].verdict == "short"


def test_prices_and_the_growing_controller(make_job: MakeJob, unsure_job: str) -> None:
    job = make_job(unsure_job, end='\n[prices]\npanel = 150\ncurrency = "EUR"\n')
    found = sim.decide.panels(job, up_to=4)
    assert found.currency == "EUR"
    assert [option.price for option in found.options] == [0, 150, 300, 450, 600]
    # 30 A as in the job up to its own two panels; at 13.4 V 510 W are 38.1 A and 680 W 50.7 A.
    assert [option.controller_amps for option in found.options] == [30, 30, 30, 40, 60]


def test_a_roof_limits_the_counts(make_job: MakeJob, unsure_job: str) -> None:
    fan = '[[roof.obstacles]]\nname = "Fan"\nx_m = 1\ny_m = 0.65\nlength_m = 0.4\nwidth_m = 0.4'
    job = make_job(unsure_job, end=ROOF.format("2.9", fan))
    fit = roof_fit(job)
    assert fit.most == 3
    assert fit.layout is not None
    assert fit.layout.count == 3
    found = sim.decide.panels(job)
    assert [option.fits for option in found.options] == [True] * 4 + [False]
    assert found.recommended is None
    assert found.choice.following is not None
    assert found.choice.following.fits is False


def test_a_roof_too_small_for_one_panel(make_job: MakeJob, unsure_job: str) -> None:
    job = make_job(unsure_job, ("count = 2", "count = 0"), end=ROOF.format("0.6", ""))
    found = sim.decide.panels(job)
    assert found.fit.most == 0
    assert [option.fits for option in found.options] == [True, False]
    assert found.recommended is None
    assert found.fit.note == "none fits"


def test_what_the_roof_carries_limits_too(make_job: MakeJob, unsure_job: str) -> None:
    job = make_job(unsure_job, end=ROOF.format("4.5", "carries_kg = 25"))
    fit = roof_fit(job)
    assert fit.most == 2
    assert (fit.note, fit.carries_kg) == ("weight", 25.0)


def test_a_roof_without_the_panel_size_is_told(make_job: MakeJob, unsure_job: str) -> None:
    job = make_job(
        unsure_job,
        ('use = "rigid-170"', "watts = 170\ntemp_coeff_pct_c = -0.36"),
        ("length_m = 1.48\nwidth_m = 0.67\n", ""),
        end=ROOF.format("4.5", ""),
    )
    fit = roof_fit(job)
    assert fit.most is None
    assert fit.note == "no size"


def test_other_groups_keep_their_place(make_job: MakeJob, unsure_job: str) -> None:
    second = """
[[panels]]
use = "flexible-110"
count = 2
controller_amps = 20
length_m = 1.05
width_m = 0.54
"""
    alone = roof_fit(make_job(unsure_job, end=ROOF.format("3.4", "walkway_m = 0.15")))
    both = roof_fit(make_job(unsure_job, end=second + ROOF.format("3.4", "walkway_m = 0.15")))
    assert alone.most is not None
    assert both.most is not None
    assert len(both.others) == 2
    assert both.most < alone.most
    assert both.layout is not None
    for panel in both.layout.panels:
        assert not any(panel.overlaps(other) for other in both.others)
        assert both.layout.walkway is not None
        assert not panel.overlaps(both.layout.walkway)


@pytest.mark.parametrize(("side", "rack_y", "walkway_y"), [("left", 0.0, 0.0), ("right", 1.0, 1.3)])
def test_the_walkway_lies_where_nothing_else_could(
    make_job: MakeJob, unsure_job: str, side: str, rack_y: float, walkway_y: float
) -> None:
    """A rack along one side takes the room that the walkway needs: on that side it costs nothing,
    on the other it leaves no panel any."""
    rack = '[[roof.obstacles]]\nname = "Rack"\nx_m = 0\ny_m = {}\nlength_m = 4.5\nwidth_m = 0.7'
    roof = ROOF.format("4.5", "walkway_m = 0.4{}\n" + rack.format(rack_y))
    free = roof_fit(make_job(unsure_job, end=roof.format("")))
    assert free.layout is not None
    assert free.layout.walkway is not None
    assert free.layout.walkway.y_m == pytest.approx(walkway_y)
    assert free.most == 2
    # Where the job says on which side, that holds.
    other = {"left": "right", "right": "left"}[side]
    said = roof_fit(make_job(unsure_job, end=roof.format(f'\nwalkway_side = "{other}"')))
    assert said.most == 0


def test_the_job_needs_panels_and_a_count_in_range(
    make_job: MakeJob, balance_job: str, unsure: Job
) -> None:
    none = with_values(unsure, {"panels": ()})
    with pytest.raises(JobError, match="no panels to count"):
        sim.decide.panels(none)
    with pytest.raises(JobError, match="must be a whole number from 0 to 60"):
        sim.decide.panels(unsure, up_to=61)


def test_same_seed_same_recommendation_with_any_number_of_threads(
    unsure: Job, decided: PanelDecision
) -> None:
    assert sim.decide.panels(unsure, up_to=12, jobs=3) == decided


def test_counts_that_are_tried_where_nothing_limits_them(
    make_job: MakeJob, balance_job: str
) -> None:
    """Up to six, and two beyond the job's own."""
    for own, most in (("count = 1", 6), ("count = 5", 7)):
        job = make_job(balance_job, ("count = 1", own))
        assert counts_to_try(job, roof_fit(job), None) == list(range(most + 1))


@pytest.mark.parametrize(("share", "gain"), [(0.595, "small"), (0.56, "small"), (0.605, "clear")])
def test_a_gain_of_fewer_than_six_points_is_small(share: float, gain: str) -> None:
    """Points of simulated trips: from 540 of 1,000, where none is lost by the change."""
    draws = 1000

    def option(count: int, held: float) -> SimpleNamespace:
        answer = SimpleNamespace(ample_share=held, draws=draws)
        return SimpleNamespace(count=count, fits=True, trips=[answer], worst=answer)

    passed = {
        count: np.arange(draws) < round(held * draws) for count, held in ((1, 0.54), (2, share))
    }
    found = choice._following(option(1, 0.54), option(2, share), [passed])  # type: ignore[arg-type]
    assert found.gain == gain
