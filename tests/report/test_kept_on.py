"""A breathing aid on an ample trip: what keeps it on in every simulated trip."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

import sim
from sim.decide import remedy
from sim.decide.needs import Need
from sim.decide.remedy import Remedy, remedies
from sim.job.model.job import Job
from sim.report.data.export import trip_json
from sim.report.terminal.answer import answer_lines
from sim.report.words.numbers import Manner
from sim.report.words.promise_words import because, remedy_words

Edited = Callable[..., Job]
JOBS = Path(__file__).parents[1] / "data" / "jobs"
AID = '\n[[appliances]]\nuse = "medical-night-device"\n'
BASE = (JOBS / "parked-in-january.toml").read_text("utf-8") + AID
FEW = ("nights = 8", "nights = 5"), ("draws = 24", "draws = 100")


def said(job: Job) -> tuple[str, dict[str, Any]]:
    """The first lines in one, and the trip in JSON."""
    result = sim.simulate(job)
    mends = remedies(job, result)
    lines = answer_lines(result.trips[0], mends[0], Manner("us"))
    (trip,) = trip_json(result, mends)["trips"]
    assert len(lines) <= 6
    assert max(map(len, lines)) <= 80
    return " ".join(line.strip() for line in lines), trip


def test_the_cheapest_change_keeps_it_on_in_all(edited: Edited) -> None:
    text, trip = said(edited(BASE, *FEW))
    assert text.startswith("AMPLE  Trip: ")
    assert 0 < trip["medical"][0]["count"] <= 5
    assert trip["remedy"]["is_for_medical"]
    assert trip["remedy"]["verdict"] == "ample"
    assert trip["remedy"]["medical"] == {"names": [], "share": 0.0}
    change = trip["remedy"]["change"]
    assert text.endswith(f"To keep Breathing aid on in all 100: {change[0].lower()}{change[1:]}.")
    # With that change it is on in all of them, in a run of its own.
    assert change == "One more battery (2 of 200 Ah)"
    bigger = edited(BASE, *FEW, ('use = "lifepo4-200"', 'use = "lifepo4-200"\ncount = 2'))
    assert sim.simulate(bigger).trips[0].promise.medical == ()


def test_an_ample_trip_without_such_a_device_needs_nothing(edited: Edited) -> None:
    job = edited(BASE, *FEW)
    plain = job.model_copy(
        update={
            "appliances": tuple(x.model_copy(update={"medical": False}) for x in job.appliances)
        }
    )
    result = sim.simulate(plain)
    assert result.trips[0].verdict == "ample"
    assert result.trips[0].promise.lacks[0].count > 0
    assert remedies(plain, result) == (None,)


def test_where_no_change_is_enough_it_says_what_would_be(
    edited: Edited, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(remedy, "lever_list", lambda job: ([], []))
    text, trip = said(edited(BASE, *FEW))
    assert trip["verdict"] == "ample"
    need = trip["remedy"]["need"]
    assert need["kind"] == "driving"
    hours = round(need["amount"])
    assert text.endswith(
        f"It takes {hours} hours of driving a day to keep Breathing aid on in all 100."
    )
    driven = edited(BASE, FEW[1], ("nights = 8", f"nights = 5\nlocal_drive_hours = {hours}"))
    assert sim.simulate(driven).trips[0].promise.medical == ()


def plain(mend: Remedy) -> str:
    return remedy_words(mend).translate(dict.fromkeys((0x2068, 0x2069)))


REMEDY = Remedy("Trip", (), None, "", "ample", 200, 200, ill=("Breathing aid",))


def test_each_outcome_has_its_words() -> None:
    ample = replace(REMEDY, is_for_medical=True)
    assert plain(replace(ample, need=Need("driving", 2.0))) == (
        "No one or two changes are enough. It takes 2 hours of driving a day to keep Breathing "
        "aid on in all 200."
    )
    near = replace(ample, changes=("A third panel",), price=300.0, currency="USD")
    left = replace(near, medical=("Breathing aid",), medical_dark=2)
    assert plain(left).endswith("USD 300. Breathing aid may still go without in 2.")
    assert plain(near) == "To keep Breathing aid on in all 200: a third panel, USD 300."
    both = replace(near, ill=("Breathing aid, bed", "Oxygen"), worse=("July",))
    assert plain(both) == (
        "To keep Breathing aid and Oxygen on in all 200: a third panel, USD 300. "
        "It makes July worse."
    )
    none = replace(left, changes=(), price=None)
    assert plain(none).startswith("No change that was tried helps")


def test_cold_is_named_where_it_locks_the_charge(edited: Edited) -> None:
    """The battery lies outside in January: it keeps 15 % and more, and has no more to give."""
    result = sim.simulate(edited(BASE, *FEW))
    (trip,) = result.trips
    text = because(trip, Manner("us"))
    assert trip.least_usable.min() < 0.9
    assert float(trip.lowest.min()) > trip.floors[0] + 0.02
    assert "In the cold the battery gives nothing below" in text
    assert "at once" not in text
    warm = replace(trip, least_usable=trip.least_usable * 0.0 + 1.0)
    assert "The battery keeps" in because(warm, Manner("us"))


def test_the_aid_is_not_said_twice(edited: Edited) -> None:
    """Of what goes without, the device named before all else is not named again."""
    (trip,) = sim.simulate(edited(BASE, *FEW)).trips
    text = because(trip, Manner("us"))
    assert text.count("Breathing aid") == 1
    assert "simulated trips. With it Propane and CO alarms" in text
