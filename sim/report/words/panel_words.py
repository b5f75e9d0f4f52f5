"""How many panels, in sentences."""

from __future__ import annotations

from sim.decide.panels.counts import Help, PanelDecision
from sim.decide.panels.roof import RoofFit, RoofNote
from sim.ledger.answer import worst
from sim.report.words.numbers import drawn_share, held_share, held_told, sure_share

_ROOF_NOTES: dict[RoofNote, str] = {
    "portable": "portable panels need no roof",
    "no roof": "the job does not say how large the roof is: add [roof]",
    "no size": "the size of the panels is not known: add length_m and width_m to [[panels]]",
    "others": "the panels of the other groups alone do not fit on the roof",
    "none fits": "not even one panel fits between the clearances and what stands on the roof",
    "weight": "the roof carries {carries_kg:g} kg",
}


def panel_sentences(found: PanelDecision) -> tuple[str, ...]:
    """Why this number, what one more would buy, what helps else, and how sure that is."""
    texts = (reason(found), next_panel(found), helps(found.helps), doubt(found))
    return tuple(text for text in texts if text)


def roof_note(fit: RoofFit) -> str:
    """Why it is not known how many panels fit, or what limits them; may be empty."""
    return "" if fit.note is None else _ROOF_NOTES[fit.note].format(carries_kg=fit.carries_kg)


def panels(count: int) -> str:
    """``no panels``, ``1 panel``, ``3 panels``."""
    return {0: "no panels", 1: "1 panel"}.get(count, f"{count} panels")


def reason(found: PanelDecision) -> str:
    """Why this count."""
    choice = found.choice
    chosen = found.option(choice.best)
    if choice.recommended is None:
        where = "that fits " if found.fit.most is not None else "looked at "
        text = f"No number of panels {where}is ample on every trip: with {panels(chosen.count)}"
        text = f"{text} {chosen.worst.trip} holds in {held_told(chosen.worst)}"
        return f"{text}; {roof_note(found.fit)}." if found.fit.most == 0 else f"{text}."
    if choice.recommended == 0:
        return (
            "Every trip is ample without any panel: "
            f"{chosen.worst.trip} holds in {held_told(chosen.worst)}."
        )
    fewer = found.option(choice.recommended - choice.step)
    before = fewer.worst
    now = next(answer for answer in chosen.trips if answer.trip == before.trip)
    strings = "" if choice.step == 1 else f", in strings of {choice.step},"
    are = "is" if choice.recommended == 1 else "are"
    return (
        f"{panels(choice.recommended).capitalize()}{strings} {are} the smallest number "
        f"that is ample on every trip: {now.trip} holds in {held_told(now)}, "
        f"with {panels(fewer.count)} in {held_share(before)}."
    )


def next_panel(found: PanelDecision) -> str:
    """What one panel more than recommended, or than the best, buys; empty where that is nothing."""
    more = found.choice.following
    if more is None:
        return ""
    before, after = more.before, more.after
    size = {
        "unsure": f" (less than {before.draws} draws can tell apart)",
        "small": " (small; see the levers)",
        "clear": "",
    }[more.gain]
    takes = "takes" if more.fits is not False else "does not fit as the roof is; it would take"
    low, high = (drawn_share(answer.lowest_soc.p10, 1) for answer in (before, after))
    added = "One panel" if found.choice.step == 1 else f"A string of {found.choice.step}"
    return (
        f"{added} more, {more.count} in all, {takes} {before.trip} from {held_share(before)} to "
        f"{held_told(after)}{size}, and its lowest charge in the bad case from "
        f"{low} to {high}."
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
        then.append((effect, f"{weakest.trip} then holds in {held_share(weakest)}"))
    if found.is_enough:
        effect, held = then[0]
        changes = "one change makes" if len(effect.names) == 1 else "two changes make"
        return f"{start}, {changes} every trip ample: {effect.name}; {held}."
    most = "; ".join(f"with {effect.name} {held}" for effect, held in then)
    return f"{start}, no change makes every trip ample; what helps most: {most}."


def doubt(found: PanelDecision) -> str:
    """What the draws cannot tell apart; empty when all is clear."""
    unsure = [
        f"with {panels(count)} {answer.trip} holds in {sure_share(answer)}"
        for count, answer in found.choice.unsure
    ]
    if not unsure:
        return ""
    first = found.options[0].trips[0]
    word, more = "weathers", "More of them (draws, in the job file's [settings])"
    if first.years:
        word, more = "years", "A weather file of more years"
    return (
        f"{first.draws} {word} are too few to be sure of the bound of {drawn_share(found.bound)}: "
        f"{'; '.join(unsure)}. {more} would tell."
    )
