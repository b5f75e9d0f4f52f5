"""What a source of energy is called: on its own, in a list, and as the one that brings it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class SourceWords:
    """Words of a kind of source.

    Attributes
    ----------
    head : str
        Heading of a column or name of a line: "Driving".
    flow : str
        In a list of what comes in: "driving 200 W".
    bringer : str
        As the one that brings it: "the sun 900 Wh, driving 300 Wh".
    note : str
        What is counted, for a line of the ledger; may be empty.
    """

    head: str
    flow: str
    bringer: str
    note: str = ""


_KNOWN = {
    "sun": SourceWords("Sun", "sun", "the sun", "taken from the panels"),
    "drive": SourceWords("Driving", "driving", "driving", "from the engine"),
    "shore": SourceWords("Plug", "plug", "the plug", "from campground power"),
}


def source_words(kind: str) -> SourceWords:
    """Words of a kind of source; of one that has none of its own, made from its key."""
    name = kind.replace("_", " ")
    return _KNOWN.get(kind, SourceWords(name.capitalize(), name, f"the {name}"))
