"""Levers: each changes what it says, effects are measured on the same draws, ranks hold."""

from __future__ import annotations

from collections.abc import Callable
from itertools import combinations, pairwise
from pathlib import Path

import pytest

import sim
from sim.decide.levers import build_levers, effects
from sim.decide.levers.effect import LeverDecision, LeverEffect, TripEffect
from sim.decide.levers.effects import best_pair
from sim.decide.levers.lever import NotApplicable, with_appliances
from sim.decide.levers.lever_catalogue import Lever, lever_list
from sim.job.model.appliances import ColdBox
from sim.job.model.changes import with_values
from sim.job.model.job import Job, Prices
from sim.job.model.power import Alternator
from sim.ledger.answer import Answer, BadCase, DarkHours
from sim.ledger.behind import Behind
from sim.ledger.verdict import Spread, Verdict
from sim.report.words.lever_words import why_not
from sim.trip.timeline import build_timeline

JOBS = Path(__file__).parents[1] / "data" / "jobs"
MakeJob = Callable[..., Job]
OWN = """
[prices]
panel = 150
battery = 400
dcdc = 250
plug_night = 40
insulation = 600

[[levers]]
name = "Two batteries"
price = 700
weight_kg = 12
set = { battery.count = 2 }

[[levers]]
name = "The same again"
set = { battery.count = 1 }

[[levers]]
name = "A shore charger that nobody plugs in"
set = { "shore.charger_amps" = 40 }
"""


def by_start(job: Job, start: str) -> Lever:
    (found,) = [lever for lever in lever_list(job)[0] if lever.name.startswith(start)]
    return found


def test_the_stated_list(unsure: Job) -> None:
    levers, not_tried = lever_list(unsure)
    assert [lever.name for lever in levers] == [
        "One more panel (3 of 170 W)",
        "One more battery (2 of 100 Ah)",
        "A larger DC-DC charger (40 A)",
        "Half an hour more driving a day",
        "One night in five on a plug",
        "Propane instead of electricity: Coffee maker",
        "A 12 V refrigerator instead of AC",
        "Coffee maker only above 50 % charge",
        "Coffee maker half as long",
        "Insulation: a third less heat lost",
        "A white roof",
        "Panels kept clean",
        "Snow swept off the panels each morning",
        "Panels tilted 45° towards the noon sun when parked",
        "Left at home: Coffee maker",
    ]
    assert dict(not_tried) == {
        "Inverter on only when needed": "needed on",
        "Inverter off at night": "needed at night",
        "A battery that takes the cold": "warm battery",
    }
    words = why_not("needed on")
    assert words == "something that starts by itself, such as a refrigerator, needs it on"


def test_each_lever_changes_what_it_says(unsure: Job) -> None:
    changed = {lever.name: lever.change(unsure) for lever in lever_list(unsure)[0]}
    panel = changed["One more panel (3 of 170 W)"].panels[0]
    assert (panel.count, panel.controller_amps) == (3, 40.0)
    assert changed["One more battery (2 of 100 Ah)"].battery.count == 2
    dcdc = changed["A larger DC-DC charger (40 A)"].alternator[0]
    assert dcdc.dcdc_amps == 40.0
    driving = changed["Half an hour more driving a day"]
    assert [s.local_drive_hours for s in driving.trips[0].stops] == [0.5, 1.0]
    fridge = changed["A 12 V refrigerator instead of AC"].appliances[0]
    assert isinstance(fridge, ColdBox)
    assert (fridge.supply, fridge.name) == ("dc", "Household refrigerator-freezer")
    # Without the AC refrigerator people can switch the inverter off.
    inverter = by_start(changed["A 12 V refrigerator instead of AC"], "Inverter on only")
    switched = inverter.change(unsure).inverter
    assert switched is not None
    assert switched.runs == "when needed"
    for name, job in changed.items():
        assert job != unsure, name


def test_another_refrigerator_keeps_its_place_in_the_household(unsure: Job) -> None:
    update = {"priority": "extra", "runs": "driving", "count": 2, "at": ((600, 900),)}

    def spare(item: object) -> object:
        return item.model_copy(update=update) if isinstance(item, ColdBox) else item

    job = with_values(unsure, {"appliances": tuple(map(spare, unsure.appliances))})
    swapped = by_start(job, "A 12 V refrigerator").change(job).appliances[0]
    assert (swapped.supply, swapped.priority) == ("dc", "extra")
    assert (swapped.runs, swapped.count, swapped.at) == ("driving", 2, ((600, 900),))


def test_a_plug_night_in_five(unsure: Job) -> None:
    """Six nights: the third is on the plug; the trip keeps its hours and places."""
    changed = by_start(unsure, "One night in five").change(unsure)
    before, after = (build_timeline(job, job.trips[0]) for job in (unsure, changed))
    assert (before.start_utc == after.start_utc).all()
    assert (before.driving == after.driving).all()
    assert (before.latitude == after.latitude).all()
    assert not before.plugged.any()
    assert after.plugged.sum() == pytest.approx(14.0)  # one night, 18:00 to 08:00
    assert [stop.plug_in for stop in changed.trips[0].stops] == ["never", "nights", "never"]
    assert [stop.nights for stop in changed.trips[0].stops] == [2, 1, 3]


def test_levers_without_a_place_say_why(make_job: MakeJob, balance_job: str) -> None:
    levers, not_tried = lever_list(make_job(balance_job))
    assert dict(not_tried) == {
        "Half an hour more driving a day": "no alternator",
        "One night in five on a plug": "no plug",
        "Propane instead of electricity": "no electric heat",
        "A 12 V refrigerator instead of AC": "no AC refrigerator",
        "Inverter on only when needed": "no inverter",
        "Inverter off at night": "no inverter",
        "Strong loads held to plug, road, sun or charge": "nothing strong",
        "Strong loads for less time or of less power": "nothing strong",
        "A battery that takes the cold": "takes the cold",
        "Insulation": "no warmth",
        "Panels kept clean": "clean",
        "An extra left at home": "no extras",
    }
    assert [lever.name for lever in levers][:3] == [
        "One more panel (2 of 100 W)",
        "One more battery (4 of 100 Ah)",
        "A DC-DC charger (30 A)",
    ]


@pytest.mark.parametrize(
    ("count", "most_v", "offered"),
    [(4, "", True), (3, "", False), (4, "controller_max_v = 40", False)],
)
def test_a_string_below_the_banks_voltage_is_made_longer(
    make_job: MakeJob, balance_job: str, count: int, most_v: str, offered: bool
) -> None:
    """Panels of 19 V beside 24 V give nothing one by one; three of them make no pairs, and a
    pair passes what a controller of 40 V takes."""
    job = make_job(
        balance_job,
        ("count = 3\n", "count = 3\nnominal_v = 25.6\n"),
        ("charging_v = 12.8", "charging_v = 27.2"),
        ("count = 1\n", f"count = {count}\nvmp_v = 19\nvoc_v = 23\n{most_v}\n"),
    )
    found = [x for x in lever_list(job)[0] if x.name == "Panels wired 2 in series"]
    assert bool(found) == offered
    if found:
        assert found[0].change(job).panels[0].series == 2
        assert found[0].price == 0.0
        # Beside other levers: what they changed stays, and panels come by the string.
        tilted = found[0].change(by_start(job, "Panels tilted").change(job)).panels[0]
        assert (tilted.series, tilted.mount) == (2, "tilted")
        more = by_start(job, "One more panel").change
        assert more(found[0].change(job)).panels[0].count == 6
        assert found[0].change(more(job)).panels[0].series == 1


def test_no_panel_more_than_the_roof_holds(make_job: MakeJob, unsure_job: str) -> None:
    roof = "\n[roof]\nlength_m = 1.6\nwidth_m = 1.6\n"
    _, not_tried = lever_list(make_job(unsure_job, end=roof))
    assert ("One more panel", "no room") in not_tried


@pytest.fixture(scope="module")
def with_own(tmp_path_factory: pytest.TempPathFactory, request: pytest.FixtureRequest) -> Job:
    """The job that may go either way, with prices and levers of its own."""
    from sim.job.model.job import Settings
    from sim.job.reading.load import load_job

    unsure: Job = request.getfixturevalue("unsure")
    path = tmp_path_factory.mktemp("levers") / "job.toml"
    text = (
        'title = "T"\n[van]\nuse = "small-van"\n[living]\npeople = 1\n[battery]\n'
        'use = "lifepo4-100"\n[[trips]]\nname = "T"\ndepart = 2027-01-01\n[[trips.stops]]\n'
        'place = "38, -109"\nnights = 1\n[shore]\ncharger_amps = 20\ninlet_volts = 120\n'
        "inlet_amps = 15\n"
    )
    path.write_text(text + OWN, "utf-8")
    own = load_job(path)
    settings = with_values(unsure.settings, {"draws": 30})
    assert isinstance(settings, Settings)
    changes = {"levers": own.levers, "prices": own.prices, "settings": settings}
    return with_values(unsure, changes)


@pytest.fixture(scope="module")
def tried(with_own: Job) -> LeverDecision:
    return sim.decide.levers(with_own, jobs=1)


def named(tried: LeverDecision, start: str) -> LeverEffect:
    (found,) = [effect for effect in tried.effects if effect.name.startswith(start)]
    return found


def test_effects_are_against_the_same_draws(tried: LeverDecision) -> None:
    battery = named(tried, "One more battery")
    for trip, before in zip(battery.trips, tried.base, strict=True):
        now = trip.answer
        assert now.trip == before.trip
        assert trip.share_gain == pytest.approx(now.ample_share - before.ample_share)
        assert trip.lowest_gain == pytest.approx(now.lowest_soc.p10 - before.lowest_soc.p10)
        assert trip.dark_gain == pytest.approx(before.dark_hours.mean - now.dark_hours.mean)
        assert trip.share_gain >= 0.0
    assert named(tried, "Two batteries").trips == battery.trips


def test_ranked_by_effect_and_by_effect_per_money(tried: LeverDecision) -> None:
    orders = [effect.order for effect in tried.effects if not effect.changes_nothing]
    assert orders == sorted(orders, reverse=True)
    per_price = [effect.gain_per_price for effect in tried.by_price]
    assert per_price == sorted(per_price, key=lambda value: value or 0.0, reverse=True)
    assert {effect.name for effect in tried.by_price} >= {
        "One more battery (2 of 100 Ah)",
        "Two batteries",
    }
    assert named(tried, "Half an hour").gain_per_price is None
    battery = named(tried, "Two batteries")
    assert battery.gain_per_price == pytest.approx(100.0 * battery.gain / 700.0)


def an_answer(verdict: Verdict, held: int, dark: float, lowest: float) -> Answer:
    """Of 100 draws, those that do not hold each missing as much, so that in the mean an hour in
    the dark is a watt-hour missing."""
    spread = Spread(lowest, lowest, lowest)
    missed = 100 - held
    behind = Behind("essentials", "electricity", (), True, missed, 100 * dark / max(missed, 1))
    return Answer(
        behind=(behind,) if missed else (),
        trip="Winter",
        verdict=verdict,
        electric=verdict,
        held=held,
        draws=100,
        essentials_held=held,
        all_held=held,
        stores_held=100,
        dark_hours=DarkHours(dark, dark, dark),
        lowest_soc=spread,
        bad=BadCase(lowest, dark),
        unharvested_wh_per_day=0.0,
    )


def test_where_no_weather_holds_dark_hours_rank_by_money() -> None:
    """The lowest charge is at the cut-off whatever is done: what is left of it is noise."""

    def effect(name: str, price: float, dark: float, lowest_gain: float) -> LeverEffect:
        now = an_answer("short", 0, dark, 0.05 + lowest_gain)
        before = an_answer("short", 0, 100.0, 0.05)
        trip = TripEffect(now, 0.0, 0.02, lowest_gain, 100.0 - dark, before)
        return LeverEffect((name,), price, None, False, (trip,), False, lowest_gain=lowest_gain)

    panel = effect("panel", 200.0, 80.0, -1e-7)
    film = effect("film", 200.0, 99.0, 1e-6)
    left = effect("left at home", 0.0, 98.0, -1e-6)
    assert panel.gain == pytest.approx(0.01 * 0.2)
    assert panel.gain_per_price == pytest.approx(0.5 * panel.gain)
    assert (panel.gain_per_price or 0.0) > (film.gain_per_price or 0.0) > 0.0
    assert left.gain_per_price == float("inf")
    # Without a dark hour before and after, the lowest charge tells.
    now = an_answer("ample", 100, 0.0, 0.5)
    trip = TripEffect(now, 0.0, 0.0, 0.2, 0.0, an_answer("ample", 100, 0.0, 0.3))
    calm = LeverEffect(("calm",), 10.0, None, False, (trip,), False, lowest_gain=0.2)
    assert calm.gain == pytest.approx(0.002)
    # What is free is worth any money where it does something, and none where it does not.
    still = TripEffect(trip.answer, 0.0, 0.0, 0.0, 0.0, trip.answer)
    idle = LeverEffect(("idle",), 0.0, None, False, (still,), False)
    assert (idle.gain, idle.gain_per_price) == (0.0, None)


def test_levers_that_change_nothing_say_so_and_stand_last(tried: LeverDecision) -> None:
    nothing = {effect.name for effect in tried.effects if effect.changes_nothing}
    assert nothing >= {"The same again", "A shore charger that nobody plugs in"}
    flags = [effect.changes_nothing for effect in tried.effects]
    assert all(not first or second for first, second in pairwise(flags))


def test_the_best_pair_is_no_worse_than_its_parts(tried: LeverDecision) -> None:
    pair = tried.best_pair
    assert pair is not None
    best = tried.effects[0]
    assert pair.order >= best.order
    assert ", and " in pair.name
    assert not pair.changes_nothing


def test_any_number_of_threads(with_own: Job, tried: LeverDecision) -> None:
    assert sim.decide.levers(with_own, jobs=3) == tried


def test_driving_more_stays_within_what_a_stop_may_hold(unsure: Job) -> None:
    trip = unsure.trips[0]
    stops = tuple(with_values(stop, {"local_drive_hours": 15.8}) for stop in trip.stops)
    job = with_values(unsure, {"trips": (with_values(trip, {"stops": stops}),)})
    longer = by_start(job, "Half an hour").change(job)
    assert {stop.local_drive_hours for stop in longer.trips[0].stops if stop.nights} == {16.0}


def test_portable_panels_stay_as_they_are_when_the_flat_ones_are_tilted(unsure: Job) -> None:
    flat = with_values(unsure.panels[0], {"mount": "flat", "tilt_deg": None})
    portable = with_values(flat, {"mount": "portable", "tilt_deg": 30.0})
    job = with_values(unsure, {"panels": (flat, portable)})
    tilted = by_start(job, "Panels tilted").change(job).panels
    assert (tilted[0].mount, tilted[1]) == ("tilted", portable)


def test_a_plug_night_costs_each_time(unsure: Job) -> None:
    """As many nights as the longest trip spends on the plug, each at its price."""
    trip = unsure.trips[0]
    stops = (with_values(trip.stops[0], {"nights": 10}),)
    prices = Prices(plug_night=40.0)
    trips = (with_values(trip, {"stops": stops}),)
    job = with_values(unsure, {"trips": trips, "prices": prices})
    assert by_start(job, "One night in five").price == 80.0


def test_panels_in_series_come_by_the_string(make_job: MakeJob, unsure_job: str) -> None:
    job = make_job(
        unsure_job,
        ("controller_amps = 30", "controller_amps = 30\nseries = 2"),
        end="\n[prices]\npanel = 150\n",
    )
    lever = by_start(job, "One more string of 2 panels (4 of 170 W)")
    assert lever.change(job).panels[0].count == 4
    assert lever.price == 300.0
    assert lever.weight_kg == 22.0


def test_what_holds_on_the_worst_trip_ranks_first_then_what_is_missing_then_charge() -> None:
    def effect(*trips: tuple[int, float, float]) -> LeverEffect:
        """A lever with which so many of 100 draws hold, over trips with these dark hours and
        lowest charges."""
        each = tuple(
            TripEffect(an_answer("tight", held, dark, lowest), 0.0, 0.0, 0.0, 0.0)
            for held, dark, lowest in trips
        )
        return LeverEffect(("a lever",), None, None, False, each, False)

    best_first = [
        effect((90, 9.0, 0.1)),
        # The trip that holds least is the one that counts, wherever it is.
        effect((99, 0.0, 0.9), (80, 2.0, 0.3)),
        effect((80, 2.0, 0.2), (99, 0.0, 0.9)),
        effect((80, 3.0, 0.5)),
        effect((80, 2.0, 0.4), (99, 1.5, 0.9)),
        effect((70, 0.0, 0.9)),
        # One that cannot be pulled comes last.
        effect(),
    ]
    orders = [each.order for each in best_first]
    assert all(one > other for one, other in pairwise(orders))


def made(*names: str, held: int, dark: float, price: float | None = 10.0) -> LeverEffect:
    verdict: Verdict = "ample" if held >= 95 else "tight"
    trip = TripEffect(an_answer(verdict, held, dark, 0.2), 0.0, 0.0, 0.0, 0.0)
    return LeverEffect(names, price, None, False, (trip,), False)


def test_a_pair_must_do_more_than_its_better_half_alone() -> None:
    """By more than chance in what holds, or clearly in what is missing."""
    single = made("A", held=60, dark=40.0)
    assert best_pair([made("A", "B", held=62, dark=39.0)], single) is None
    better = made("A", "B", held=75, dark=30.0)
    assert best_pair([better], single) is better
    # Nothing holds either way, but half of what was missing is there.
    none, half = made("A", held=0, dark=40.0), made("A", "B", held=0, dark=20.0)
    assert best_pair([half], none) is half
    assert best_pair([made("A", "B", held=0, dark=39.0)], none) is None
    assert best_pair([], none) is None


def test_pairs_of_the_three_best_and_the_two_cheapest_of_the_next_seven(
    make_job: MakeJob, balance_job: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Twelve changes, each of which saves a little less than the one before. The last two are
    cheap too, but not among the next seven."""

    def saving(rank: int) -> Lever:
        def change(job: Job) -> Job:
            share = 0.80 + rank / 100.0
            return with_appliances(job, lambda x: with_values(x, {"watts": x.watts * share}))

        return Lever(f"Number {rank}", change, price=1.0 if rank in (6, 8, 10, 11) else 50.0)

    shuffled = [saving(5 * place % 12) for place in range(12)]
    rivals: list[LeverEffect] = []
    monkeypatch.setattr(effects, "lever_list", lambda job: (shuffled, []))
    monkeypatch.setattr(effects, "best_pair", lambda both, single: rivals.append(single))
    found = sim.decide.levers(make_job(balance_job, ("watts = 40", "watts = 120")))
    ranked = [f"Number {rank}" for rank in range(12)]
    assert [effect.name for effect in found.effects] == ranked
    kept = [ranked[rank] for rank in (0, 1, 2, 6, 8)]
    assert {frozenset(pair.names) for pair in found.pairs} == set(
        map(frozenset, combinations(kept, 2))
    )
    # They must do more than the best of all changes alone.
    assert [single.name for single in rivals] == ["Number 0"]


def test_of_pairs_that_are_enough_or_alike_the_cheapest() -> None:
    single = made("A", held=60, dark=40.0)
    cheap = made("A", "B", held=96, dark=1.0, price=20.0)
    dear = made("A", "C", held=100, dark=0.0, price=900.0)
    unknown = made("A", "D", held=100, dark=0.0, price=None)
    assert best_pair([dear, unknown, cheap], single) is cheap
    near, alike = (
        made("A", "B", held=80, dark=20.0, price=500.0),
        made("A", "C", held=79, dark=20.0, price=0.0),
    )
    far = made("A", "D", held=66, dark=20.0, price=0.0)
    assert best_pair([near, alike, far], single) is alike
    # Where none holds either way, the cheapest is one that does more than a change alone too.
    none = made("A", held=0, dark=40.0)
    large = made("A", "B", held=0, dark=10.0, price=500.0)
    idle = made("A", "C", held=0, dark=39.5, price=0.0)
    assert best_pair([idle, large], none) is large


def test_a_larger_charger_there_is_until_the_largest(job: Job) -> None:
    assert build_levers.DCDC_SIZES_A[-2:] == (160, 200)
    for amps, names in ((160.0, ["A larger DC-DC charger (200 A)"]), (200.0, [])):
        given = with_values(job, {"alternator": (Alternator(dcdc_amps=amps),)})
        try:
            found = [lever.name for lever in build_levers.dcdc(given)]
        except NotApplicable:
            found = []
        assert found == names


def test_a_tank_that_falls_behind_when_another_is_filled_is_mended_with_it(
    edited: Callable[..., Job],
) -> None:
    """Four people run out of water before the grey tank is full; with water enough it is."""
    text = (JOBS / "parked-in-january.toml").read_text("utf-8")
    water = """
[[appliances]]
use = "water-pump"
[water]
fresh_l = 60
[[water.grey]]
name = "Grey"
capacity_l = 60
takes = ["kitchen", "basin", "shower"]
"""
    job = edited(
        text,
        ("2027-01-09", "2027-07-09"),
        ('use = "weekend-away"', 'use = "family-of-four"'),
        end=water,
    )
    found = sim.decide.levers(job)
    assert "grey" not in {one.kind for one in found.base[0].behind}
    assert found.enough == ()
    assert found.best_pair is not None
    assert found.best_pair.is_enough
    assert found.best_pair.names == (
        "Fresh water filled at 36.91, -111.45",
        "Grey tanks emptied at 36.91, -111.45",
    )
