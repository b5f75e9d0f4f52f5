"""How many panels, in sentences."""

from __future__ import annotations

from sim.decide.panels.counts import Help, PanelDecision
from sim.decide.panels.roof import RoofFit, RoofNote
from sim.ledger.answer import Answer, worst
from sim.report.words.answer_words import (
    all_draws,
    beside_of_trips,
    electric_words,
    held_briefly,
    medical_words,
    sure_words,
)
from sim.report.words.numbers import changes, drawn_share, percent, quoted

_ROOF_NOTES: dict[RoofNote, str] = {
    "portable": "portable panels need no roof",
    "no roof": "the job does not say how large the roof is: add [roof]",
    "no size": "the size of the panels is not known: add length_m and width_m to [[panels]]",
    "others": "the panels of the other groups alone do not fit on the roof",
    "none fits": "not even one panel fits between the clearances and what is on the roof",
    "weight": "the roof carries {carries_kg:g} kg",
}


def panel_sentences(found: PanelDecision) -> tuple[str, ...]:
    """Why this number, what no panel mends, what one more would buy, and what helps else."""
    texts = (reason(found), beside(found), next_panel(found), helps(found.helps))
    return tuple(text for text in texts if text)


def medical(found: PanelDecision) -> str:
    """Medical devices that may go without, with the panels of the job, where so many were looked
    at, and with those chosen."""
    tried = {option.count: option.trips for option in found.options}
    counts = dict.fromkeys((found.job_count, found.choice.best))
    return medical_words([(f"With {panels(n)}", tried[n]) for n in counts if n in tried])


def roof_note(fit: RoofFit) -> str:
    """Why it is not known how many panels fit, or what limits them; may be empty."""
    return "" if fit.note is None else _ROOF_NOTES[fit.note].format(carries_kg=fit.carries_kg)


def panels(count: int) -> str:
    """``no panels``, ``1 panel``, ``3 panels``."""
    return {0: "no panels", 1: "1 panel"}.get(count, f"{count} panels")


def reason(found: PanelDecision) -> str:
    """Why this count: ample as a whole, or for electricity alone."""
    choice = found.choice
    chosen = found.option(choice.best)
    what = "ample on every trip" if chosen.verdict == "ample" else "ample for the electricity"
    if choice.recommended is None:
        most = found.fit.most
        all_tried = most is not None and found.options[-1].count >= most
        where = "that fits " if all_tried else "looked at "
        text = f"No number of panels {where}is ample on every trip"
        text = f"{text}: with {panels(chosen.count)}, {_held(chosen.worst)}"
        return f"{text}; {roof_note(found.fit)}." if found.fit.most == 0 else f"{text}."
    if choice.recommended == 0:
        return f"No panel is needed: without any, every trip is {_every(what)}: " + (
            f"{_electric(chosen.worst)}."
        )
    fewer = found.option(choice.recommended - choice.step)
    before = fewer.worst
    now = next(answer for answer in chosen.trips if answer.trip == before.trip)
    strings = "" if choice.step == 1 else f", in strings of {choice.step},"
    are = "is" if choice.recommended == 1 else "are"
    return (
        f"{panels(choice.recommended).capitalize()}{strings} {are} the smallest number that is "
        f"{what}: {_electric(now)}, with {panels(fewer.count)} in {before.held}."
    )


def _every(what: str) -> str:
    return what.replace(" on every trip", "")


def _held(answer: Answer) -> str:
    return f"{quoted(answer.trip)} is {answer.verdict}, {held_briefly(answer)}"


def _electric(answer: Answer) -> str:
    return f"on {quoted(answer.trip)} {electric_words(answer)}"


def beside(found: PanelDecision) -> str:
    """What falls behind with any number of panels; empty where nothing does too often."""
    chosen = found.option(found.choice.best)
    text = beside_of_trips([x for x in chosen.trips if x.verdict != x.electric])
    return f"What no panel mends. {text}" if text else ""


def next_panel(found: PanelDecision) -> str:
    """What one panel more than recommended, or than the best, buys; empty where that is nothing."""
    more = found.choice.following
    if more is None:
        return ""
    before, after = more.before, more.after
    size = {
        "unsure": ", too little to tell from chance",
        "small": ", which is little; see the levers",
        "clear": "",
    }[more.gain]
    takes = "takes" if more.fits is not False else "does not fit as the roof is; it would take"
    added = "One panel" if found.choice.step == 1 else f"A string of {found.choice.step}"
    text = f"{added} more, {more.count} in all, {takes} {quoted(before.trip)}"
    low, high = (percent(answer.bad.lowest_soc) for answer in (before, after))
    if before.held == after.held:
        if low == high:
            return ""
        return f"{text} from a lowest charge in the bad case of {low} to {high}."
    return (
        f"{text} from {before.held} to {after.held} of {all_draws(after)} in which nothing lacks "
        f"electricity{size}."
    )


def helps(found: Help | None) -> str:
    """What carries every trip where no number of panels does; empty where one does."""
    if found is None:
        return ""
    start = f"With {panels(found.count)}"
    if not found.effects:
        return (
            f"{start}, none of the levers helps enough, nor do the best two together: this trip "
            "asks too much of this build."
        )
    then = []
    for effect in found.effects:
        weakest = worst([trip.answer for trip in effect.trips])
        names = changes(effect.names)
        then.append((effect, names, _held(weakest)))
    if found.is_enough:
        effect, names, held = then[0]
        count = "one change is" if len(effect.names) == 1 else "two changes together are"
        enough = "enough" if found.is_whole else "enough for the electricity"
        return f"{start}, {count} {enough}: {names}; {held}."
    most = "; ".join(f"{names}: {held}" for _, names, held in then)
    return f"{start}, no change tried is enough; what helps most: {most}."


def doubt(found: PanelDecision) -> str:
    """For experts: what the draws cannot tell apart; empty when all is clear."""
    unsure = [
        f"with {panels(count)}, {quoted(answer.trip)} {sure_words(answer)}"
        for count, answer in found.choice.unsure
    ]
    if not unsure:
        return ""
    first = found.options[0].trips[0]
    more = "More of them (draws, in the job file's [settings])"
    if first.years:
        more = "A weather file of more years"
    return (
        f"{all_draws(first).capitalize()} are too few to be sure on which side of "
        f"{drawn_share(found.bound)} a share lies: {'; '.join(unsure)}. {more} would show it."
    )


def sure_sentences(found: PanelDecision) -> tuple[str, ...]:
    """For experts: how sure the counts are."""
    return tuple(text for text in (doubt(found),) if text)
