"""The designs of a job in the terminal."""

from __future__ import annotations

from collections.abc import Callable

from rich.console import Console

from sim.decide.designs import DesignDecision, DesignOption
from sim.report.terminal.answer import print_alarm
from sim.report.terminal.grid import Looks, print_table
from sim.report.terminal.lines import print_prose
from sim.report.words.answer_words import counts_legend
from sim.report.words.by_locale import Writing
from sim.report.words.design_words import (
    WEIGHT_NOTE,
    design_name,
    medical,
    payload_cell,
    price_cell,
    trip_cell,
    unknown_sentences,
    weight_cell,
)
from sim.report.words.numbers import shortened


def print_designs(found: DesignDecision, console: Console) -> None:
    """A column for each design: its trips, price, weight and payload left."""
    writing = Writing.of(found.job)
    heads = ("Designs", *(shortened(design_name(option)) for option in found.options))
    rows: list[tuple[str, Callable[[DesignOption], str]]] = [
        ("Worst trip", lambda x: x.verdict.upper()),
        *(
            (shortened(trip.name, 60), lambda x, number=number: trip_cell(x.trips[number]))
            for number, trip in enumerate(found.job.trips)
        ),
        ("Price", lambda x: price_cell(x.cost, writing)),
        ("Weight, tanks full", lambda x: weight_cell(x.load, writing)),
    ]
    if found.job.van.payload_kg is not None:
        rows.append(("Payload left", lambda x: payload_cell(x.load, writing)))
    cells = [(label, *map(cell, found.options)) for label, cell in rows]
    console.print()
    print_alarm([medical(found)], console)
    print_table(heads, cells, console, Looks(label_width=24))
    legend = counts_legend([x for option in found.options for x in option.trips])
    print_prose((legend, WEIGHT_NOTE, *unknown_sentences(found, prices=True)), console)
