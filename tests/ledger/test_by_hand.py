"""Small jobs whose figures can be worked out on paper, from the file to the result."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from sim.job.model.job import Job
from sim.ledger.results import TripResult
from sim.ledger.simulate import simulate

MakeJob = Callable[..., Job]
FEW = "\n[settings]\ndraws = 8\n"
INVERTER = "\n[inverter]\nwatts = 2000\nidle_watts = 15\nefficiency = 0.9\n"


def watts_of(trip: TripResult, name: str) -> float:
    """Mean of what a line wanted. [W]"""
    found = [line for line in trip.loads if line.name == name or line.supply == name]
    return float(sum(x.wanted_wh.mean() for x in found)) / trip.hours_long


def test_a_refrigerator_on_ac_keeps_its_inverter_on(small_job: str, edited: MakeJob) -> None:
    """15 W for 24 hours are 360 Wh a day, besides the losses of what it delivers: at most the
    tenth that its best efficiency leaves, and more than nothing."""
    job = edited(
        small_job, ('use = "fridge-dc"', 'use = "fridge-dc"\nsupply = "ac"'), end=INVERTER + FEW
    )
    assert job.inverter is not None
    assert job.inverter.runs == "when needed"
    trip = simulate(job).trips[0]
    own, box = watts_of(trip, "inverter"), watts_of(trip, job.appliances[0].name)
    assert own > 15.0
    assert own - 15.0 < box / 9.0


@pytest.mark.parametrize(("bank_v", "in_series"), [(25.6, 2), (51.2, 4)])
def test_a_panel_of_19_volts_on_a_bank_of_more(
    small_job: str, edited: MakeJob, bank_v: float, in_series: int
) -> None:
    """A controller that steps down cannot charge 25.6 or 51.2 V from 19 V; two and four such
    panels in series reach 38 and 76 V and charge; one that steps up charges too."""

    def sun_wh_day(panels: str) -> float:
        bank = f'use = "lifepo4-100"\nnominal_v = {bank_v}\ncharging_v = {bank_v * 1.05}'
        job = edited(
            small_job,
            ('use = "rigid-170"\ncount = 2', f'use = "rigid-170"\ncount = 4\nvmp_v = 19\n{panels}'),
            ('use = "lifepo4-100"', bank),
            end=FEW,
        )
        (sun,) = (x for x in simulate(job).trips[0].sources if x.kind == "sun")
        return sun.offered_wh_day

    assert sun_wh_day("") == 0.0
    strung = sun_wh_day(f"series = {in_series}")
    assert strung > 1000.0
    assert sun_wh_day('controller = "boost"') == pytest.approx(strung, rel=0.02)


def test_an_air_conditioner_overnight(small_job: str, edited: MakeJob) -> None:
    """From 22 to 7 only: nothing in any other hour, however hot the cabin is."""
    cooler = """
[[appliances]]
use = "air-conditioner"
runs = "always"
at = ["22:00-07:00"]
"""
    dates = ("2027-05-07", "2027-07-15")
    with_it, without = (
        simulate(edited(small_job, dates, end=text + INVERTER + FEW)).trips[0]
        for text in (cooler, "")
    )
    more = with_it.served_w + with_it.unserved_w.sum(axis=0)
    more = more - without.served_w - without.unserved_w.sum(axis=0)
    hour = with_it.timeline.clock[:, 0] // 60
    is_night = (hour >= 22) | (hour < 7)
    # By day the inverter rests and the cabin, cooled at night, makes the refrigerator work less.
    assert more[~is_night].max() < 1.0
    assert more[is_night].max() > 100.0


def test_what_is_held_to_the_road_waits_for_it(small_job: str, edited: MakeJob) -> None:
    """100 W that run while the van drives: two hours a day, and not a watt-hour besides."""
    heater = '\n[[appliances]]\nname = "Pad"\nkind = "steady"\nwatts = 100\nruns = "driving"\n'
    job = edited(small_job, ("nights = 2", "nights = 2\nlocal_drive_hours = 2"), end=heater + FEW)
    trip = simulate(job).trips[0]
    pad = next(x for x in trip.loads if x.name == "Pad")
    driven = float(trip.timeline.driving.sum())
    assert driven > 2.0
    np.testing.assert_allclose(pad.wanted_wh, 100.0 * driven)


def test_a_kitchen_tank_fills_with_what_is_not_drunk(small_job: str, edited: MakeJob) -> None:
    """A couple that stays aboard, 6 L each at the kitchen tap, 2.5 L of it drunk or cooked away:
    7 L a day, so that 5 gal (18.9 L) are full after 2.7 days, not after 1.6."""
    water = """
[water]
fresh_l = 200
open_drains = ["basin", "shower"]
[[water.grey]]
name = "Kitchen tank"
capacity_gal = 5
takes = ["kitchen"]
"""
    habits = "people = 2\nout = []\nkitchen_l_person_day = 6\ndrunk_l_person_day = 2.5"
    job = edited(
        small_job,
        ('use = "weekend-away"', f'use = "weekend-away"\n{habits}'),
        ("nights = 2", "nights = 4"),
        end=water + FEW,
    )
    trip = simulate(job).trips[0]
    tank = next(x for x in trip.stores if x.kind == "grey")
    assert float(tank.use_per_day.mean()) == pytest.approx(7.0, rel=0.02)
    assert float(np.median(tank.out_at_h)) / 24.0 == pytest.approx(2.7, abs=0.4)
