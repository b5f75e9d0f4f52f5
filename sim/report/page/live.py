"""A page as it is shown while its job is watched: the same page, and a script that reloads it.

Only this copy asks for anything, and only of the address it came from. The file that is mailed
has none of it.
"""

from __future__ import annotations

import html
import re
from collections.abc import Sequence

from markupsafe import Markup

from sim.report.charts.palette import FONT
from sim.report.page.client import environment, palettes
from sim.report.page.sealed import POLICY_MARK, sealed, source_hash

# Where the script asks for the number of the newest answer.
STATE = "/state"
# Constant, so that its hash is; what changes is in the element beside it.
_SCRIPT = """
(function () {
  "use strict";
  var note = document.getElementById("watch");
  var seen = note.dataset.seen;
  function ask() {
    fetch("/state", { cache: "no-store" }).then(function (reply) {
      return reply.text();
    }).then(function (newest) {
      if (newest !== seen) { location.reload(); } else { setTimeout(ask, 700); }
    }).catch(function () {
      note.hidden = false;
      note.textContent = "The watch has ended. This page stays as it was.";
    });
  }
  setTimeout(ask, 700);
})();
"""
_NOTE_STYLE = (
    "position:sticky;top:0;z-index:9;margin:0;padding:.6rem 1rem;background:var(--paper);"
    "color:var(--ink);border:3px double;font-family:var(--label);white-space:pre-wrap"
)
_POLICY = re.compile(r'(<meta http-equiv="Content-Security-Policy" content=")([^"]*)(">)')
_BODY = re.compile(r"<body[^>]*>")


def live_copy(page: str, answer: int, faults: Sequence[str] = ()) -> str:
    """The copy of a page that is served while its job is watched.

    Parameters
    ----------
    page : str
        As it is written to its file.
    answer : int
        Its number; when `STATE` has another, the page reloads itself.
    faults : sequence of str
        What is wrong with the job file now; shown above the last good report.
    """
    text = "\n".join(faults)
    shown = f"{text}\nBelow is the last good report." if text else ""
    note = (
        f'<p id="watch" role="alert" data-seen="{answer}" style="{_NOTE_STYLE}"'
        f"{'' if shown else ' hidden'}>{html.escape(shown)}</p>"
    )
    with_note, places = _BODY.subn(lambda body: body[0] + note, page, count=1)
    # The policy is the first thing in the head: no text of a user comes before it.
    loosened, policies = _POLICY.subn(_with_script, with_note, count=1)
    assert (places, policies) == (1, 1), "a page without a body or a policy"
    before, end, after = loosened.rpartition("</body>")
    return f"{before}<script>{_SCRIPT}</script>\n{end}{after}"


def waiting_page(title: str, sentence: str, version: str) -> str:
    """What is shown before there is any report."""
    template = environment().get_template("waiting.html")
    page = template.render(
        title=title, sentence=sentence, palettes=palettes(), font=Markup(FONT), version=version
    )
    assert POLICY_MARK in page
    return sealed(page)


def _with_script(match: re.Match[str]) -> str:
    """A policy that lets the script run too, and ask its own address."""
    rules = []
    for rule in match[2].split("; "):
        name, _, sources = rule.partition(" ")
        if name == "script-src":
            kept = "" if sources == "'none'" else f"{sources} "
            rule = f"{name} {kept}{source_hash(_SCRIPT)}"
        rules.append(rule)
    return match[1] + "; ".join([*rules, "connect-src 'self'"]) + match[3]
