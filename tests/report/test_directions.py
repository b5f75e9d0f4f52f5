"""Names in scripts that run from right to left, in sentences that run from left to right."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import replace

from sim.ledger.results import Result
from sim.report.page.client import render_page

NAME = "عطلة الصيف"


def test_a_sentence_that_begins_with_a_name_runs_as_its_words_do(small_result: Result) -> None:
    """The sentences are English, wherever a name stands in them; a name alone runs its own way."""
    first, *rest = small_result.trips
    result = replace(small_result, trips=(replace(first, name=NAME), *rest))
    page = render_page(result, written=dt.date(2027, 3, 1), version="1")
    sentences = re.findall(r"<(?:p|figcaption)\b[^>]*>[^<]+", page)
    assert any(re.match(rf"<p[^>]*>[\u2068\s]*{NAME}", text) for text in sentences)
    assert not any('dir="auto"' in text for text in sentences)
    assert re.search(rf'<h3 dir="auto"><a [^>]*>{NAME}</a></h3>', page)
