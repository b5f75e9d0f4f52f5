"""The converter: losses by hand, its idle draw, what it cannot carry."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from sim.job.model.job import Job
from sim.job.model.power import Converter
from sim.ledger.results import Result
from sim.ledger.simulate import simulate
from sim.trip.converter import CONVERTER_NAME, carried, converter_lines
from sim.trip.lines import Line

Edited = Callable[..., Job]
ON_24_V = (
    'use = "lifepo4-100"',
    'use = "lifepo4-100"\ncount = 4\nnominal_v = 25.6\ncharging_v = 27.0\n[converter]\namps = 30',
)
HOUSE = [
    Line("Pump", "extra", "dc", np.array([[0.0], [60.0]])),
    Line("Box", "essential", "dc", np.array([[45.0], [45.0]])),
    Line("Lamp", "comfort", "dc", np.array([[30.0], [30.0]])),
    Line("Oven", "essential", "ac", np.array([[900.0], [900.0]])),
]


def test_losses_by_hand() -> None:
    """90 % out: 45 W take 5 W more, beside 3 W day and night on the essential ones."""
    converter = Converter(amps=30, efficiency=0.9, idle_watts=3.0)
    lines = converter_lines(converter, carried(converter, HOUSE))
    assert [(x.name, x.priority, x.supply) for x in lines] == [
        (CONVERTER_NAME, name, "converter") for name in ("essential", "comfort", "extra")
    ]
    watts = [line.watts[:, 0].tolist() for line in lines]
    assert watts[0] == pytest.approx([8.0, 8.0])
    assert watts[1] == pytest.approx([30.0 / 9.0] * 2)
    assert watts[2] == pytest.approx([0.0, 60.0 / 9.0])


def test_what_it_cannot_carry_is_dark_the_extras_first() -> None:
    """100 W carry 45 W and 30 W, and 25 W of a pump's 60 W; 60 W carry half of the lamp."""
    live = {x.name: x.live for x in carried(Converter(watts=100), HOUSE)}
    assert live["Pump"][:, 0].tolist() == pytest.approx([1.0, 25.0 / 60.0])
    assert (live["Box"] == 1.0).all()
    assert (live["Lamp"] == 1.0).all()
    assert (live["Oven"] == 1.0).all()
    live = {x.name: x.live for x in carried(Converter(watts=60), HOUSE)}
    assert live["Lamp"][:, 0].tolist() == pytest.approx([0.5, 0.5])
    assert live["Pump"][1, 0] == 0.0


def run(small_job: str, edited: Edited, more: str) -> Result:
    change = (ON_24_V[0], ON_24_V[1] + more)
    return simulate(
        edited(
            small_job,
            change,
            ('use = "rigid-170"', 'use = "rigid-170"\nseries = 2'),
            end='\n[settings]\nweather = "clear"\n',
        )
    )


def test_a_trip_with_a_converter(small_job: str, edited: Edited) -> None:
    """Its line takes a ninth of what the refrigerator takes, and 72 Wh a day."""
    (trip,) = run(small_job, edited, "").trips
    fridge, own = trip.loads
    assert own.name == CONVERTER_NAME
    wanted = fridge.wanted_wh / 9.0 + 72.0 * trip.days_long
    np.testing.assert_allclose(own.wanted_wh, wanted, rtol=1e-9)
    assert not trip.dark.any()


def test_a_converter_far_too_small_leaves_loads_dark(small_job: str, edited: Edited) -> None:
    (trip,) = run(small_job, edited, "\nvolts = 12").trips
    assert not trip.dark.any()
    change = (ON_24_V[0], ON_24_V[1].replace("amps = 30", "watts = 10"))
    small = simulate(edited(small_job, change, end='\n[settings]\nweather = "clear"\n'))
    assert small.trips[0].dark.any()


def test_a_bank_of_12_v_needs_none(faults_of: Callable[[str], list[str]], small_job: str) -> None:
    (fault,) = faults_of(
        small_job.replace("[[appliances]]", "[converter]\namps = 30\n\n[[appliances]]", 1)
    )
    assert "steps the bank down to 12.5 V, and the bank has 12.8 V; leave the section out" in fault


@pytest.mark.parametrize("rating", ["", "amps = 30\nwatts = 400"])
def test_one_rating(rating: str, faults_of: Callable[[str], list[str]], small_job: str) -> None:
    text = small_job.replace(ON_24_V[0], ON_24_V[1].replace("amps = 30", rating))
    (fault,) = faults_of(text)
    assert "say what it gives continuously: amps or watts, one of them" in fault
