"""A part of a page: sentences, charts with their captions, tables behind them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from markupsafe import Markup

from sim.report.charts.svg import drawn, frame_style
from sim.report.page.ledgers import Ledger
from sim.report.page.trip_text import Table
from sim.report.words.numbers import unbroken

if TYPE_CHECKING:
    import plotly.graph_objects as go


@dataclass(frozen=True)
class Figure:
    """A chart of a section.

    Attributes
    ----------
    key : str
    heading : str
        May be empty.
    caption : str
        What it says in a sentence.
    drawing : plotly.graph_objects.Figure
    table : Table
        The numbers behind it.
    """

    key: str
    heading: str
    caption: str
    drawing: go.Figure
    table: Table

    @property
    def said(self) -> str:
        """The caption for the page."""
        return unbroken(self.caption)

    @property
    def svg(self) -> Markup:
        """The chart as a drawing."""
        return drawn(self.drawing.to_plotly_json())

    @property
    def frame(self) -> str:
        """Margins and height of the drawing."""
        return frame_style(self.drawing.to_plotly_json())


@dataclass(frozen=True)
class Section:
    """A part of the page.

    Attributes
    ----------
    key, heading : str
    sentences : tuple of str
    figures : tuple of Figure
    tables : tuple of Table
        Shown open, below the sentences.
    ledgers : tuple of Ledger
        With drawings in them, below the tables.
    notes : tuple of str
        For experts: folded away as "How we know".
    alarm : str
        On medical devices, before all else; may be empty.
    """

    key: str
    heading: str
    sentences: tuple[str, ...]
    figures: tuple[Figure, ...] = ()
    tables: tuple[Table, ...] = ()
    ledgers: tuple[Ledger, ...] = ()
    notes: tuple[str, ...] = ()
    alarm: str = ""

    @property
    def said(self) -> tuple[str, ...]:
        """The sentences for the page."""
        return tuple(unbroken(text) for text in self.sentences)

    @property
    def folded(self) -> tuple[str, ...]:
        """The notes for the page."""
        return tuple(unbroken(text) for text in self.notes)
