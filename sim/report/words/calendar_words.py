"""When in the year a trip goes well, in sentences."""

from __future__ import annotations

from collections.abc import Sequence

from sim.decide.calendar import Calendar, MonthVerdict
from sim.report.words.answer_words import all_draws, medical_names, sure_words, times
from sim.report.words.numbers import called, counted, listed, month_name

_TOO_LITTLE = {
    "fresh": "fresh water",
    "grey": "grey room",
    "propane": "propane",
    "fuel": "fuel",
    "hot water": "hot water",
    "warmth": "warmth",
}


def calendar_sentences(found: Calendar) -> tuple[str, ...]:
    """In which months the trip is ample, tight and short with the build as it is, and what falls
    behind beside electricity."""
    return (_answer(found), *_beside(found))


def _answer(found: Calendar) -> str:
    parts = []
    build = f"With {panels_aboard(found)}"
    for verdict in ("ample", "tight", "short"):
        months = [x for x in found.months if x.verdict == verdict]
        if len(months) == len(found.months):
            return f"{build} the trip is {verdict} all year."
        if months:
            parts.append(f"{verdict} in {_months(months)}")
    return f"{build} the trip is {'; '.join(parts)}."


def panels_aboard(found: Calendar) -> str:
    """``3 panels``, or ``no panels`` of a job that names none."""
    return counted(found.job_count, "panel") if found.panel else "no panels"


def medical(found: Calendar) -> str:
    """Medical devices that may go without at any start, and when."""
    column = found.counts.index(found.job_count)
    ill = [
        (depart.month, row[column])
        for depart, row in zip(found.departs, found.answers, strict=True)
        if row[column].medical_dark
    ]
    if not ill:
        return ""
    names = medical_names([answer for _, answer in ill])
    _, worst = max(ill, key=lambda start: start[1].medical_dark)
    when = _spans(sorted({month for month, _ in ill}))
    return (
        f"{names} may go without when the trip starts in {when}: at the worst start in "
        f"{times(worst.medical_dark, worst)}."
    )


def _months(months: Sequence[MonthVerdict]) -> str:
    """Months that follow one another as a span: ``March to May and July``."""
    return _spans([month.month for month in months])


def _spans(numbers: Sequence[int]) -> str:
    spans: list[list[int]] = []
    for number in numbers:
        if spans and spans[-1][-1] == number - 1:
            spans[-1].append(number)
        else:
            spans.append([number])
    # December goes on in January.
    if len(spans) > 1 and spans[0][0] == 1 and spans[-1][-1] == 12:
        spans[0] = spans.pop() + spans[0]
    return listed([_span(span) for span in spans])


def _span(span: Sequence[int]) -> str:
    first, last = month_name(span[0]), month_name(span[-1])
    if len(span) == 1:
        return first
    return f"{first} {'and' if len(span) == 2 else 'to'} {last}"


def _lacking(found: Calendar) -> dict[str, list[MonthVerdict]]:
    """What falls behind too often beside electricity, each with its months."""
    lacking: dict[str, list[MonthVerdict]] = {}
    for month in found.months:
        allowed = (1.0 - found.bounds[0]) * month.worst.draws
        for one in month.worst.behind:
            if one.kind != "electricity" and one.count > allowed:
                lacking.setdefault(one.kind, []).append(month)
    return lacking


def _beside(found: Calendar) -> list[str]:
    parts = []
    for kind, months in _lacking(found).items():
        when = "all year" if len(months) == len(found.months) else f"in {_months(months)}"
        parts.append(f"{_TOO_LITTLE[kind]} {when}")
    return [f"What no panel mends is too little {listed(parts)}."] if parts else []


def panels_needed(month: MonthVerdict, found: Calendar) -> str:
    """Panels for the electricity of a month, or that it takes more."""
    if not found.panel:
        return "0" if month.panels == 0 else "not tried"
    if month.panels is None:
        return f"over {found.counts[-1]}"
    return str(month.panels)


def calendar_legend(found: Calendar) -> str:
    """What the columns of the months mean."""
    return (
        f"The worst start of each month, of {all_draws(found.months[0].worst)}: in how many the "
        "essentials, the comforts and everything hold; panels for the electricity."
    )


def sure_sentences(found: Calendar) -> tuple[str, ...]:
    """For experts: how sure the worst start of each month is."""
    each = [f"{month_name(x.month)} {sure_words(x.worst)}" for x in found.months]
    return (
        f"{called(found.trip)}, without a dark hour at the worst start of each month: "
        f"{listed(each)}.",
    )
