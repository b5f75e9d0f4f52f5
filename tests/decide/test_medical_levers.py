"""Levers for a medical device that goes without on a trip that is ample."""

from __future__ import annotations

from collections.abc import Callable

import pytest

import sim
from sim.decide.levers import effects
from sim.decide.levers.lever import Lever, with_appliances
from sim.job.model.appliances import Appliance
from sim.job.model.changes import with_values
from sim.job.model.job import Job
from sim.report.words.lever_words import lever_sentences

AID = """
[[appliances]]
name = "Aid"
kind = "timed"
watts = 47
at = ["21:00-07:00"]
priority = "essential"
medical = true
"""


def aid_at(name: str, share: float, price: float) -> Lever:
    """The device with this share of its watts."""

    def change(job: Job) -> Job:
        def less(item: Appliance) -> Appliance:
            mine = item.name == "Aid"
            return with_values(item, {"watts": item.watts * share}) if mine else item

        return with_appliances(job, less)

    return Lever(name, change, price=price)


@pytest.fixture
def aided(edited: Callable[..., Job], small_job: str) -> Job:
    """Two nights in January, ample; in 3 of 60 draws the device goes without for a while."""
    return edited(small_job, ("2027-05-07", "2027-01-07"), end=f"{AID}\n[settings]\ndraws = 60\n")


def test_two_changes_for_a_medical_device_of_a_trip_that_is_ample(
    aided: Job, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Either of two keeps it on more often, and both in all draws; what is cheaper does not."""
    changes = [aid_at("A", 0.97, 10.0), aid_at("B", 0.97, 10.0), aid_at("C", 0.999, 0.0)]
    monkeypatch.setattr(effects, "lever_list", lambda job: (changes, []))
    found = sim.decide.levers(aided)
    (base,) = found.base
    assert (base.verdict, base.medical) == ("ample", ("Aid",))
    assert all(effect.medical_dark for effect in found.effects)
    assert found.enough == ()
    assert {(pair.names, bool(pair.medical_dark)) for pair in found.pairs} == {
        (("A", "B"), False), (("A", "C"), True), (("B", "C"), True)
    }  # fmt: skip
    assert found.best_pair is not None
    assert found.best_pair.names == ("A", "B")
    (said,) = lever_sentences(found)
    assert said.startswith(
        "Every trip is ample as it is. No one change keeps Aid on in all simulated trips; two "
        "together do: A and B"
    )
    # In a run of its own it is on in all of them.
    both = changes[1].change(changes[0].change(aided))
    assert sim.simulate(both).trips[0].promise.medical == ()


def test_no_pairs_where_one_change_keeps_a_medical_device_on(
    aided: Job, monkeypatch: pytest.MonkeyPatch
) -> None:
    changes = [aid_at("A", 0.97, 10.0), aid_at("B", 0.97, 10.0), aid_at("Half", 0.5, 10.0)]
    monkeypatch.setattr(effects, "lever_list", lambda job: (changes, []))
    found = sim.decide.levers(aided)
    assert found.base[0].medical_dark
    assert [effect.name for effect in found.enough] == ["Half"]
    assert (found.pairs, found.best_pair) == ((), None)


def test_no_pairs_for_an_ample_trip_without_a_medical_device(
    aided: Job, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Though each of the changes does harm, and none is enough."""
    changes = [aid_at("A", 1.5, 10.0), aid_at("B", 1.6, 10.0)]
    monkeypatch.setattr(effects, "lever_list", lambda job: (changes, []))
    plain = with_appliances(aided, lambda item: with_values(item, {"medical": False}))
    found = sim.decide.levers(plain)
    assert found.base[0].held < found.base[0].draws
    assert not any(effect.is_enough for effect in found.effects)
    assert (found.is_ample, found.pairs, found.best_pair) == (True, (), None)


def test_of_a_trip_that_is_not_ample_the_verdict_comes_first(
    aided: Job, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What makes it ample is enough, though the device goes without in some draws still."""
    changes = [aid_at("A", 0.95, 10.0), aid_at("B", 0.99, 10.0)]
    monkeypatch.setattr(effects, "lever_list", lambda job: (changes, []))
    found = sim.decide.levers(aid_at("Larger", 49.0 / 47.0, 0.0).change(aided))
    assert found.base[0].verdict != "ample"
    (enough,) = found.enough
    assert enough.name == "A"
    assert enough.medical_dark
    assert found.pairs == ()
