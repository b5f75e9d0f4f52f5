"""What makes a page safe to mail: its policy, and the chart library it carries asleep.

A browser that keeps the policy runs the page's own scripts and styles, known by their hashes, and
asks nothing of any network, whatever a text in the page may look like.
"""

from __future__ import annotations

import base64
import hashlib
import re
import zlib
from functools import cache
from pathlib import Path

_LIBRARY = Path(__file__).parent / "library" / "plotly-basic.min.js.zlib"
# Marks in the template where the policy goes; nothing a user writes comes before it.
POLICY_MARK = "nightledger-policy"
_STYLE = re.compile(r"<style[^>]*>(.*?)</style>", re.DOTALL)
_SCRIPT = re.compile(r"<script>(.*?)</script>", re.DOTALL)


@cache
def packed_library() -> str:
    """The chart library, compressed and as text."""
    return base64.b64encode(_LIBRARY.read_bytes()).decode("ascii")


@cache
def _library_hash() -> str:
    return source_hash(zlib.decompress(_LIBRARY.read_bytes()).decode("ascii"))


def sealed(html: str, *, may_wake: bool = False) -> str:
    """A page with its content security policy.

    Parameters
    ----------
    html : str
        With `POLICY_MARK` in its head.
    may_wake : bool
        Whether the chart library may run.
    """
    scripts = [source_hash(text) for text in _SCRIPT.findall(html)]
    scripts += [_library_hash()] if may_wake else []
    styles = " ".join(source_hash(text) for text in _STYLE.findall(html))
    policy = [
        "default-src 'none'",
        f"script-src {' '.join(scripts)}" if scripts else "script-src 'none'",
        # An attribute can size a bar; it can fetch nothing, since no source is allowed.
        f"style-src {styles}",
        f"style-src-elem {styles}",
        "style-src-attr 'unsafe-inline'",
        "base-uri 'none'",
        "form-action 'none'",
    ]
    return html.replace(POLICY_MARK, "; ".join(policy), 1)


def source_hash(text: str) -> str:
    """A script or style as a policy names it: by its SHA-256."""
    digest = hashlib.sha256(text.encode("utf-8")).digest()
    return f"'sha256-{base64.b64encode(digest).decode('ascii')}'"
