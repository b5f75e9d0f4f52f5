"""The policy of a page: its own scripts and styles and nothing else, known by their hashes."""

from __future__ import annotations

import base64
import hashlib
import re
import zlib

import pytest

from sim.report.page.sealed import POLICY_MARK, packed_library, sealed


def digest(text: str) -> str:
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"


def policy(page: str) -> dict[str, list[str]]:
    content = re.search(r'content="([^"]*)"', page)
    assert content is not None
    parts = [part.split() for part in content[1].split("; ")]
    return {name: sources for name, *sources in parts}


PAGE = (
    f'<meta content="{POLICY_MARK}"><style>\n.a {{ \n}}</style><style id="x">/* ü */</style>'
    '<script type="application/json" id="data">{}</script><script>\nrun();\n</script>'
)


def test_only_the_pages_own_scripts_and_styles_may_run() -> None:
    found = policy(sealed(PAGE))
    assert found["default-src"] == ["'none'"]
    assert found["script-src"] == [digest("\nrun();\n")]
    assert found["style-src"] == [digest("\n.a { \n}"), digest("/* ü */")]
    assert found["style-src-elem"] == found["style-src"]
    # a policy names no host and opens no scheme
    assert not re.search(r"http|data:|blob:|\*|unsafe-eval", sealed(PAGE).split('"')[1])


def test_the_chart_library_may_run_where_it_is_asked_for() -> None:
    library = zlib.decompress(base64.b64decode(packed_library())).decode("ascii")
    assert policy(sealed(PAGE, may_wake=True))["script-src"][1:] == [digest(library)]
    assert library.startswith("/**\n* plotly.js (basic")
    # its text is hashed as a browser reads it
    assert "\r" not in library


def test_a_page_without_a_script_lets_none_run() -> None:
    assert policy(sealed(f'<meta content="{POLICY_MARK}">'))["script-src"] == ["'none'"]


@pytest.mark.parametrize("text", ["<script>x()</script>", POLICY_MARK])
def test_what_comes_after_the_head_changes_nothing(text: str) -> None:
    escaped = text.replace("<", "&lt;").replace(">", "&gt;")
    before, after = sealed(PAGE), sealed(PAGE + escaped)
    assert policy(before) == policy(after)
    assert after.endswith(escaped)
