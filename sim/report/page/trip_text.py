"""What the page says about each trip, its tables and its ledgers, as plain text."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import timedelta

from markupsafe import Markup

from sim.job.model.job import Trip as PlannedTrip
from sim.job.model.living import PRIORITIES
from sim.ledger.answer import Answer
from sim.ledger.lines import EnergyPerDay, LoadLine
from sim.ledger.outcome import TripOutcome
from sim.ledger.results import TripResult
from sim.report.charts.chart_data import Period, local_clock
from sim.report.charts.nights import Night
from sim.report.words import numbers as said
from sim.report.words import sentences
from sim.report.words.answer_words import bad_low, typical_low
from sim.report.words.chart_words import bad_name
from sim.report.words.numbers import Manner, percent, whole
from sim.report.words.sources import source_words

# From so many trips on, tables have a row for each trip, not a column.
MANY_TRIPS = 3
# So many columns with words among them are too wide for a phone.
_MANY_COLUMNS = 5
# A figure begins so, or is so short; with its unit and range it has so many letters at most.
_FIGURE, _BRIEF, _LONGEST_FIGURE = "0123456789+-\N{MINUS SIGN}", 14, 24
FED = {"dc": "DC", "ac": "AC", "converter": "", "inverter": ""}


@dataclass(frozen=True)
class Table:
    """A table of the page: head, and rows whose first cell is their head.

    Attributes
    ----------
    caption : str
    head : tuple of str
    rows : tuple of tuples of str
    is_mixed : bool
        Whether each row holds something else, so that no column adds up: all begins at the left.
    """

    caption: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    is_mixed: bool = False

    @property
    def words(self) -> tuple[bool, ...]:
        """For each column whether it begins at the left, as words do; figures end at the right."""
        columns = list(zip(*self.rows, strict=True)) or [()] * len(self.head)
        return tuple(self.is_mixed or _holds_words(column) for column in columns)

    @property
    def stacks(self) -> bool:
        """Whether its rows come apart on a phone, each cell below the other with its heading: of
        many columns with words among them too little would be seen at a time."""
        return len(self.head) >= _MANY_COLUMNS and any(self.words[1:])

    @property
    def looks(self) -> tuple[str, ...]:
        """For each column how it looks: empty for figures, else words, and brief ones apart, which
        need no room to be broken in."""
        columns = list(zip(*self.rows, strict=True)) or [()] * len(self.head)
        brief = [max(map(len, column), default=0) < _BRIEF for column in columns]
        return tuple(
            ("words brief" if short and not self.is_mixed else "words") if word else ""
            for word, short in zip(self.words, brief, strict=True)
        )


def _holds_words(cells: Sequence[str]) -> bool:
    """Whether a column holds sentences, or nothing that looks like a figure."""
    figures = [any(c.isdigit() for c in x) and (x[0] in _FIGURE or len(x) < _BRIEF) for x in cells]
    return max(map(len, cells), default=0) > _LONGEST_FIGURE or not any(figures)


def turned(table: Table) -> Table:
    """The same table with its columns as rows."""
    head = (table.head[0], *(row[0] for row in table.rows))
    rows = zip(table.head[1:], *(row[1:] for row in table.rows), strict=True)
    return Table(table.caption, head, tuple(rows))


@dataclass(frozen=True)
class TripPart:
    """Everything the page says about one trip.

    Attributes
    ----------
    key : str
        Number of the trip, and its chart's in the page's data.
    alarm : str
        On medical devices; may be empty.
    because : str
        Why the verdict is what it is, in a sentence.
    remedy : str or None
        What would help, with its price, in a line.
    curve, drawing : Markup
        The charge as a small curve; the whole chart.
    frame : str
        Margins and height of the drawing, as variables of its style.
    titles : tuple of (title, marks, share of the drawing's height below it)
        Of the tracks of the chart.
    stops : tuple of (place, when, nights)
        Each night a drawing, the point of the chart that it opens, and words.
    has_band : bool
        Whether there is a bad case.
    is_long : bool
        Whether there are so many nights that they stand under the chart.
    night_marks : tuple of str
        Kinds of mark that the nights have.
    sketch : Markup or None
        Of the route, where there is one.
    caption, brought : str
        What the chart says, and what an average day brings and takes.
    tables : tuple of Table
        The numbers behind the chart.
    """

    key: str
    name: str
    when: str
    verdict: str
    alarm: str
    because: str
    remedy: str | None
    curve: Markup
    drawing: Markup
    frame: str
    titles: tuple[tuple[str, tuple[str, ...], float], ...]
    stops: tuple[tuple[str, str, tuple[tuple[Markup, int, str], ...]], ...]
    has_band: bool
    is_long: bool
    night_marks: tuple[str, ...]
    sketch: Markup | None
    caption: str
    brought: str
    tables: tuple[Table, ...]


@dataclass(frozen=True)
class LedgerRow:
    """A line of a ledger: name, what it is, and for each trip a text and a bar of 0 to 1."""

    name: str
    note: str
    cells: tuple[tuple[str, float], ...]


def when(trip: TripResult, manner: Manner) -> str:
    """First and last day of a trip, and its nights."""
    clock = local_clock(trip)
    # A trip that ends at midnight does not reach into the day that begins then.
    first, last = clock[0].date(), max(clock[-1] - timedelta(minutes=1), clock[0]).date()
    if first == last:
        return manner.dated(first)
    nights = (last - first).days
    begins = manner.day(first) if first.year == last.year else manner.dated(first)
    return f"{begins} to {manner.dated(last)}, {said.counted(nights, 'night')}"


def facts(
    answer: Answer, trip: TripOutcome, places: Sequence[str], manner: Manner
) -> tuple[tuple[str, str, str], ...]:
    """The few numbers that answer: name, value, and what it means.

    Parameters
    ----------
    answer : Answer
        Of the same outcome.
    trip : TripOutcome
    places : sequence of str
        A name for each stop.
    manner : Manner
    """
    dark = answer.dark_hours
    first = ("First dark hour", *sentences.first_dark(answer, trip, places, manner))
    if answer.draws == 1:
        return (
            ("Lowest charge", typical_low(answer), ""),
            ("Dark hours", said.hours(dark.mean), ""),
            first,
        )
    bad = bad_name(trip)
    return (
        ("Lowest charge, typical trip", typical_low(answer), ""),
        (f"Lowest charge, {bad}", *bad_low(answer)),
        ("Dark hours, on average", said.hours(dark.mean), ""),
        (f"Dark hours, {bad}", said.hours(answer.bad.dark_hours), ""),
        (
            f"{'Years' if answer.years else 'Simulated trips'} without a dark hour",
            sentences.held_of(answer),
            "",
        ),
        first,
    )


def numbers(names: Sequence[str], each: Sequence[Sequence[tuple[str, str, str]]]) -> Table:
    """The facts of all trips as one table; trips are rows where they are many."""
    rows = tuple(
        (fact[0][0], *(f"{value} {note}".rstrip() for _, value, note in fact))
        for fact in zip(*each, strict=True)
    )
    table = Table("Of all simulated trips", ("Number", *names), rows, is_mixed=True)
    return turned(table) if len(names) >= MANY_TRIPS else table


def stops(planned: PlannedTrip, trip: TripResult, manner: Manner) -> tuple[tuple[str, str], ...]:
    """Place and local dates of each stop."""
    from zoneinfo import ZoneInfo

    found = []
    for stop, stay in zip(planned.stops, trip.timeline.stays, strict=True):
        zone = ZoneInfo(stay.zone)
        begin, end = stay.arrives.astimezone(zone), stay.leaves.astimezone(zone)
        text = manner.day(begin.date())
        if begin.date() != end.date():
            text = f"{text} to {manner.day(end.date())}"
        if stop.plug_in != "never":
            text += ", plugged in" + (" at night" if stop.plug_in == "nights" else "")
        found.append((stop.place.name, text))
    return tuple(found)


def night_words(night: Night, draws: int, manner: Manner) -> str:
    """What a square of the strip of nights means."""
    case = "" if draws == 1 else " in the bad case"
    text = f"Night of {manner.day(night.evening)}: {percent(night.soc)} at dawn{case}"
    text += "; something off" if night.is_off else ""
    text += "; plugged in" if night.is_plugged else ""
    return text + ("; tanks filled or emptied" if night.is_served else "")


def charge_table(periods: Sequence[Period], draws: int, manner: Manner) -> Table:
    """The lowest charge of each day or week."""
    columns: tuple[tuple[str, Callable[[Period], float]], ...] = (
        ("Middle weather", lambda p: p.low_p50),
        ("One in ten falls to", lambda p: p.low_p10),
        ("One in ten stays above", lambda p: p.low_p90),
    )
    if draws == 1:
        columns = (("Lowest charge", columns[0][1]),)
    head = (_first_head(periods), *(name for name, _ in columns))
    rows = tuple((_span(p, manner), *(percent(value(p)) for _, value in columns)) for p in periods)
    return Table(f"Lowest charge of each {_length(periods)}", head, rows)


def sources_table(periods: Sequence[Period], manner: Manner) -> Table:
    """Energy of each day, or of an average day of each week. [Wh]"""
    columns: tuple[tuple[str, Callable[[Period], float]], ...] = (
        ("Used", lambda p: p.served),
        ("Not given", lambda p: p.unserved),
        ("Sun left over", lambda p: p.unharvested),
    )
    kinds = list(periods[0].taken)
    rows = tuple(
        (
            _span(p, manner),
            *(whole(p.taken[kind]) for kind in kinds),
            *(whole(value(p)) for _, value in columns),
        )
        for p in periods
    )
    mean = "" if _length(periods) == "day" else ", on an average day of the week"
    heads = [source_words(kind).head for kind in kinds] + [name for name, _ in columns]
    return Table(f"Wh in and out{mean}", (_first_head(periods), *heads), rows)


def _length(periods: Sequence[Period]) -> str:
    return "day" if all(p.first == p.last for p in periods) else "week"


def _first_head(periods: Sequence[Period]) -> str:
    return _length(periods).capitalize()


def _span(period: Period, manner: Manner) -> str:
    if period.first == period.last:
        return manner.day(period.first)
    return f"{manner.day(period.first)} to {manner.day(period.last)}"


def account(trips: Sequence[TripResult]) -> tuple[tuple[str, LedgerRow], ...]:
    """The ledger of an average day, which closes: kind of line (in, out, sum, aside) and line."""
    change = [trip.course.gained * trip.capacity_wh / trip.days_long for trip in trips]
    energies = [trip.energy for trip in trips]
    given = [e.served + e.losses + kept for e, kept in zip(energies, change, strict=True)]

    def row(name: str, note: str, value: Callable[[EnergyPerDay], float]) -> LedgerRow:
        return _row(name, note, [value(energy) for energy in energies])

    # The sources of all trips are the job's.
    taken = [
        (source_words(kind), [energy.taken[kind] for energy in energies])
        for kind in energies[0].taken
    ]
    return (
        *(("in", _row(words.head, words.note, values)) for words, values in taken),
        ("sum", row("In", "", lambda e: sum(e.taken.values()))),
        ("out", row("Appliances", "given", lambda e: e.served)),
        ("out", row("Battery losses", "warmth", lambda e: e.losses)),
        ("out", _row("Into the battery", "more or less than at the start", change)),
        ("sum", _row("Out", "", given)),
        ("aside", row("Wanted and not given", "dark hours", lambda e: e.unserved)),
        ("aside", row("Sun left over", "found no room", lambda e: e.unharvested)),
    )


def _row(name: str, note: str, values: Sequence[float]) -> LedgerRow:
    return LedgerRow(name, note, tuple((whole(value), 0.0) for value in values))


def loads(
    trips: Sequence[TripResult], most_wh_day: float
) -> tuple[tuple[str, tuple[LedgerRow, ...]], ...]:
    """The appliances by group, hungriest first: wanted a day in each trip, and the total.

    Parameters
    ----------
    trips : sequence of TripResult
    most_wh_day : float
        What a full bar means, from `most_wanted`. [Wh/day]
    """
    # The lines of all trips are the job's, in its order.
    per_trip = [_wanted(trip) for trip in trips]
    lines = list(zip(trips[0].loads, zip(*per_trip, strict=True), strict=True))
    groups = []
    for priority in PRIORITIES:
        chosen = [(load, values) for load, values in lines if load.priority == priority]
        chosen.sort(key=lambda line: -max(line[1]))
        if chosen:
            groups.append((priority, tuple(_load_row(*line, most_wh_day) for line in chosen)))
    total = LedgerRow("All together", "", tuple((whole(sum(x)), 0.0) for x in per_trip))
    return (*groups, ("total", (total,)))


def most_wanted(trips: Sequence[TripResult]) -> float:
    """What the hungriest appliance wants on an average day of any trip. [Wh/day]"""
    return max((wanted for trip in trips for wanted in _wanted(trip)), default=0.0)


def _wanted(trip: TripResult) -> list[float]:
    return [float(load.wanted_wh.mean()) / trip.days_long for load in trip.loads]


def _load_row(load: LoadLine, values: Sequence[float], most: float) -> LedgerRow:
    cells = tuple((whole(value), value / most if most > 0 else 0.0) for value in values)
    return LedgerRow(load.name, FED[load.supply], cells)
