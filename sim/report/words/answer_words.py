"""What a design does on a trip, as counts of simulated trips; never as a share.

The words are the same for a trip's own result and for any design tried on it.
"""

from __future__ import annotations

from collections.abc import Sequence

from sim.ledger.answer import Answer
from sim.ledger.behind import Behind
from sim.ledger.sampling import share_interval
from sim.report.words.numbers import (
    FEWEST_FOR_A_SHARE,
    GAP,
    between,
    called,
    drawn_share,
    either,
    isolated,
    listed,
    percent,
    quoted,
    watt_hours,
)


def all_draws(answer: Answer) -> str:
    """``200 simulated trips``, or ``5 years of the weather file``."""
    if answer.years:
        return f"{answer.draws:,} {'year' if answer.draws == 1 else 'years'} of the weather file"
    return "1 simulated trip" if answer.draws == 1 else f"{answer.draws:,} simulated trips"


def times(count: int, answer: Answer) -> str:
    """``12 of 200 simulated trips``, ``all 200 simulated trips`` or ``the weather computed``."""
    if answer.draws == 1:
        return "the weather computed"
    return f"all {all_draws(answer)}" if count == answer.draws else of_draws(count, answer)


def held_words(answer: Answer) -> str:
    """In how many simulated trips the essentials hold, the comforts, and everything."""
    if answer.draws == 1:
        return _held_once(answer)
    essentials, comforts, everything = _counts(answer)
    if essentials == comforts == everything:
        return f"everything holds in {of_draws(everything, answer)}"
    text = f"the essentials hold in {of_draws(essentials, answer)}, the comforts in {comforts:,}"
    return f"{text}, everything in {everything:,}" if _has_more(answer) else text


def held_briefly(answer: Answer) -> str:
    """The same in half a line of a terminal."""
    if answer.draws == 1:
        return _held_once(answer)
    essentials, comforts, everything = _counts(answer)
    if essentials == comforts == everything:
        return f"everything holds in {of_draws(everything, answer)}"
    text = f"essentials {essentials:,}, comforts {comforts:,}"
    if _has_more(answer):
        text += f", everything {everything:,}"
    return f"{text} of {all_draws(answer)}"


def held_in_few_words(answer: Answer) -> str:
    """The same where a long name leaves little room."""
    essentials, comforts, everything = _counts(answer)
    if essentials == comforts == everything:
        return f"everything {everything:,} of {answer.draws:,}"
    more = f", all {everything:,}" if _has_more(answer) else ""
    return f"essentials {essentials:,}, comforts {comforts:,}{more} of {answer.draws:,} trips"


def of_draws(count: int, answer: Answer) -> str:
    """``200 of 200 simulated trips``."""
    return f"{count:,} of {all_draws(answer)}"


def typical_low(answer: Answer) -> str:
    """The lowest charge of a typical trip: half of the simulated ones fall lower."""
    return percent(answer.lowest_soc.p50)


def bad_low(answer: Answer) -> tuple[str, str]:
    """The lowest charge of the bad case; where a typical trip falls lower, a note on why: the bad
    case is the one by its dark hours, which need not come from an empty battery."""
    shown = percent(answer.bad.lowest_soc)
    higher = round(answer.bad.lowest_soc, 2) > round(answer.lowest_soc.p50, 2)
    return shown, "bad by its dark hours, not by its charge" if higher else ""


def counts_cell(answer: Answer) -> str:
    """Of a table: ``200/179``, and everything as a third number where that holds less often;
    behind a ! in how many a medical device may go without."""
    essentials, comforts, everything = _counts(answer)
    text = f"{essentials}/{comforts}"
    text = f"{text}/{everything}" if _has_more(answer) else text
    return f"{text} !{answer.medical_dark}" if answer.medical_dark else text


def counts_legend(answers: Sequence[Answer]) -> str:
    """What the numbers of `counts_cell` mean."""
    more = "/everything" if any(_has_more(answer) for answer in answers) else ""
    ill = any(answer.medical_dark for answer in answers)
    marked = "; behind !, in how many a medical device may go without" if ill else ""
    return f"Of {all_draws(answers[0])}, in how many hold: essentials/comforts{more}{marked}."


def going_without(names: Sequence[str]) -> str:
    """``Breathing aid goes without``, ``A and B go without``: each once."""
    once = [isolated(name) for name in dict.fromkeys(names)]
    return f"{listed(once)} {'goes' if len(once) == 1 else 'go'} without"


def medical_names(answers: Sequence[Answer]) -> str:
    """The medical devices of some answers, each once."""
    return listed([isolated(x) for x in dict.fromkeys(x for a in answers for x in a.medical)])


def medical_words(cases: Sequence[tuple[str, Sequence[Answer]]]) -> str:
    """Medical devices that may go without, in each of some cases, such as ``With 2 panels``; in
    one sentence each, empty where none ever does."""
    sentences = []
    for case, answers in cases:
        ill = [answer for answer in answers if answer.medical_dark]
        names = medical_names(ill)
        often = listed([f"{times(a.medical_dark, a)} of {quoted(a.trip)}" for a in ill])
        if ill:
            sentences.append(f"{case}, {names} may go without in {often}.")
    return " ".join(sentences)


def _counts(answer: Answer) -> tuple[int, int, int]:
    return answer.essentials_held, answer.comforts_held, answer.all_held


def _has_more(answer: Answer) -> bool:
    essentials, comforts, everything = _counts(answer)
    return everything < min(essentials, comforts)


def _held_once(answer: Answer) -> str:
    if answer.all_held:
        return "everything holds in the one weather computed"
    if answer.essentials_held:
        return "the essentials hold in the one weather computed, not everything does"
    return "the essentials do not hold in the one weather computed"


def electric_words(answer: Answer) -> str:
    """In how many simulated trips nothing lacks electricity."""
    if answer.draws == 1:
        what = "nothing lacks electricity" if answer.held else "electricity runs out"
        return f"{what} in the weather computed"
    return f"nothing lacks electricity in {of_draws(answer.held, answer)}"


def missing_words(answer: Answer) -> str:
    """What is missing, mean of all simulated trips; empty where nothing is."""
    parts = []
    if answer.missing_wh >= 0.5:
        parts.append(f"{watt_hours(answer.missing_wh)} missing")
    if answer.cold_hours >= 0.5:
        parts.append(f"{answer.cold_hours:.0f}{GAP}h cold")
    return ", ".join(parts)


def beside_of_trips(answers: Sequence[Answer]) -> str:
    """What falls behind that neither panels nor battery can mend, a sentence for each trip in
    which anything does."""
    return " ".join(
        f"{called(answer.trip)}: {text}." for answer in answers if (text := _beside(answer))
    )


def _beside(answer: Answer) -> str:
    return listed(
        [
            f"{_what(one)} in {times(one.count, answer)}"
            for one in answer.behind
            if one.kind != "electricity"
        ]
    )


def behind_words(one: Behind, draws: int) -> str:
    """``the cabin stays colder than set in 2 of 24``: one thing that falls behind."""
    return f"{_what(one)} in {one.count:,} of {draws:,}"


def _what(one: Behind) -> str:
    match one.kind:
        case "grey":
            return f"{isolated(one.names[0])} is full"
        case "hot water":
            return "hot water falls short"
        case "warmth":
            return "the cabin stays colder than set"
        case "electricity":
            return f"the {one.group} lack electricity"
        case _:
            return f"{isolated(one.names[0])} runs out"


def of_a_hundred(answer: Answer) -> str:
    """``everything holds in 38 to 44``: of a hundred such trips, as far as the simulated ones
    tell, 95 %; empty where these are too few."""
    if answer.draws < FEWEST_FOR_A_SHARE:
        return ""
    span = share_interval(answer.all_held, answer.draws, years=answer.years)
    return f"everything holds in {between(span).removesuffix(' %')}"


def draws_of_each(answers: Sequence[Answer]) -> str:
    """``200 or 1,000 simulated trips``: of each of some trips."""
    if any(answer.years for answer in answers):
        return either(list(dict.fromkeys(map(all_draws, answers))))
    counts = sorted({answer.draws for answer in answers})
    what = "simulated trip" if counts == [1] else "simulated trips"
    return f"{either([f'{count:,}' for count in counts])} {what}"


def sure_words(answer: Answer) -> str:
    """For experts: the share without a dark hour, and where the true one lies."""
    if answer.draws < FEWEST_FOR_A_SHARE:
        return f"{answer.held:,} of {answer.draws:,}"
    share = drawn_share(answer.ample_share, answer.draws)
    return f"{share} ({between(answer.interval)})"
