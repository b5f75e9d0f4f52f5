"""What goes in and out as text: whatever the terminal speaks, nothing stops at a letter.

Files are always UTF-8. A terminal in another encoding, such as the plain ASCII of a bare locale,
gets the nearest letters it has.
"""

from __future__ import annotations

import codecs
import sys
import unicodedata

from sim.errors import as_typed

_HANDLER = "nightledger.nearest"
# Signs that no letter is near to.
_SIGNS = {
    "\N{EN DASH}": "-", "\N{EM DASH}": "-", "\N{MINUS SIGN}": "-", "\N{MULTIPLICATION SIGN}": "x",
    "\N{LEFT DOUBLE QUOTATION MARK}": '"', "\N{RIGHT DOUBLE QUOTATION MARK}": '"',
    "\N{LEFT SINGLE QUOTATION MARK}": "'", "\N{RIGHT SINGLE QUOTATION MARK}": "'",
    "\N{BALLOT BOX}": "[ ]", "\N{DEGREE SIGN}": "deg", "\N{EURO SIGN}": "EUR",
    "\N{POUND SIGN}": "GBP", "\N{BULLET}": "*", "\N{MIDDLE DOT}": ".",
}  # fmt: skip


def speak() -> None:
    """Let the standard streams of this process neither stop nor garble."""
    codecs.register_error(_HANDLER, _nearest)
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors=_HANDLER)
    # ASCII is what Python takes where the locale says nothing: what is typed there is UTF-8.
    if hasattr(sys.stdin, "reconfigure") and _is_ascii(getattr(sys.stdin, "encoding", None)):
        sys.stdin.reconfigure(encoding="utf-8", errors="replace")


def nearest(text: str) -> str:
    """Text in ASCII: letters without their accents, signs as they are typed, a question mark
    where nothing is near."""
    return "".join(char if char.isascii() else _near(char) for char in text)


def _near(char: str) -> str:
    if char in _SIGNS:
        return _SIGNS[char]
    from sim.places.gazetteer import PLAIN_LETTERS

    plain = unicodedata.normalize("NFKD", char.lower().translate(PLAIN_LETTERS))
    kept = "".join(x for x in plain if x.isascii())
    return (kept.title() if char.isupper() else kept) or "?"


def _nearest(error: UnicodeError) -> tuple[str, int]:
    if not isinstance(error, UnicodeEncodeError):
        raise error
    text = nearest(as_typed(error.object[error.start : error.end]))
    # Of an angle or of warmth: 38.57 deg N, 68 degF.
    before = error.object[error.start - 1 : error.start]
    return (f" {text}" if text.startswith("deg") and before.isalnum() else text), error.end


def _is_ascii(encoding: str | None) -> bool:
    try:
        return encoding is not None and codecs.lookup(encoding).name == "ascii"
    except LookupError:
        return False
