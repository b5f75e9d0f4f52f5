"""What is said of a weather file's own days beside what is drawn around them."""

from __future__ import annotations

from sim.report.charts.chart_data import ChargePoints, first_low
from sim.report.words.numbers import Manner, percent


def file_days_words(points: ChargePoints, manner: Manner) -> tuple[str, ...]:
    """How low the charge falls on the file's own days; nothing where there is no such line."""
    if points.file_days is None:
        return ()
    lowest = first_low(points.file_days)
    when = manner.day(points.times[lowest].date())
    return (
        "On the weather file's own days, the dash-dotted line, it falls to "
        f"{percent(points.file_days[lowest])} on {when}.",
    )
