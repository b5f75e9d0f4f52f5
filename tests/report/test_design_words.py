"""Designs on page, screen and in JSON: prices only where asked for, nothing unknown as nothing."""

from __future__ import annotations

import json
from io import StringIO
from typing import Any

import pytest
from rich.console import Console

import sim
from sim.decide.designs import DesignDecision
from sim.job.model.changes import with_values
from sim.job.model.designs import DesignEntry
from sim.job.model.job import Job, Prices
from sim.ledger.results import Result
from sim.report.data.design_json import designs_json
from sim.report.data.export import json_text
from sim.report.page.client import render_page
from sim.report.page.design_section import designs_section
from sim.report.terminal.design_table import print_designs

HOSTILE = "<script>x</script> [bold]"


def with_designs(job: Job, **changes: Any) -> Job:
    entries = (
        DesignEntry(name=HOSTILE),
        DesignEntry(name="Winter pack", set={"battery.count": 3}, price=4000.0),
    )
    van = with_values(job.van, {"payload_kg": 30.0})
    return with_values(
        job,
        {"designs": entries, "van": van, "prices": Prices(panel=190.0, battery=850.0), **changes},
    )


@pytest.fixture(scope="module")
def found(small_result: Result) -> DesignDecision:
    return sim.decide.designs(with_designs(small_result.job))


def said(found: DesignDecision) -> str:
    out = StringIO()
    print_designs(found, Console(file=out, width=80, highlight=False))
    return out.getvalue()


def test_the_section_keeps_prices_to_itself_unless_asked(found: DesignDecision) -> None:
    shown = {prices: designs_section(found, prices=prices) for prices in (False, True)}
    (ledger,) = shown[True].ledgers
    assert ledger.head[-3:] == ("Price", "Weight", "Payload left")
    assert ledger.rows[1][-3] == "$4,000.00"
    # two prices of five parts are known
    assert ledger.rows[0][-3] == "from $1,040.00"
    assert "without a price" in " ".join(shown[True].sentences)
    (ledger,) = shown[False].ledgers
    assert "Price" not in ledger.head
    text = " ".join([*shown[False].sentences, *(str(row) for row in ledger.rows)])
    assert "$" not in text
    assert "price" not in text


def test_weight_and_payload_by_hand(found: DesignDecision) -> None:
    (ledger,) = designs_section(found, prices=False).ledgers
    # a panel of 12 kg, batteries of 12 kg each, in whole pounds as the quote lists them
    assert [row[-2] for row in ledger.rows] == ["52\xa0lb", "105\xa0lb"]
    assert [row[-1] for row in ledger.rows] == ["13\xa0lb", "40\xa0lb too much"]


def test_a_weight_nobody_knows_is_named(small_result: Result) -> None:
    job = small_result.job
    panels = (with_values(job.panels[0], {"weight_kg": None}),)
    found = sim.decide.designs(with_designs(job, panels=panels, trips=job.trips[1:]))
    section = designs_section(found, prices=False)
    assert section.ledgers[0].rows[0][-2] == "over 26\xa0lb"
    assert section.ledgers[0].rows[0][-1] == "under 40\xa0lb"
    told = [text for text in section.sentences if "1 panel of 170 W is not known" in text]
    assert len(told) == 2
    assert "1 panel of 170 W is not known" in " ".join(said(found).split())


def test_a_bar_counts_the_trips_in_which_everything_holds(found: DesignDecision) -> None:
    (ledger,) = designs_section(found, prices=False).ledgers
    for option, row in zip(found.options, ledger.rows, strict=True):
        for answer, cell in zip(option.trips, row[2:], strict=False):
            assert not isinstance(cell, str)
            assert getattr(cell, "text", "") == f"{answer.all_held} of {answer.draws}"


def test_names_are_escaped_on_the_page_and_plain_in_the_terminal(
    found: DesignDecision, small_result: Result
) -> None:
    import datetime as dt

    section = designs_section(found, prices=True)
    page = render_page(small_result, written=dt.date(2027, 3, 1), version="1", sections=(section,))
    assert "<script>x" not in page
    assert "&lt;script&gt;x" in page
    text = said(found)
    assert "[bold]" in text
    assert max(map(len, text.splitlines())) <= 80
    assert "from $1,040" in text.replace("\n", " ")


def test_json(found: DesignDecision) -> None:
    first, second = json.loads(json_text({"designs": designs_json(found)}))["designs"]
    assert {"name", "verdict", "trips", "price", "weight", "lowest_soc_p10"} <= set(first)
    assert first["price"]["complete"] is False
    assert second["price"] | {"parts": []} == {
        "currency": "USD", "parts": [], "whole": 4000.0, "subtotal": 4000.0, "tax_pct": None,
        "tax": None, "total": 4000.0, "complete": True,
    }  # fmt: skip
    assert first["weight"]["payload_left_kg"] == pytest.approx(6.0)
    assert [trip["name"] for trip in first["trips"]] == [x.name for x in found.job.trips]
