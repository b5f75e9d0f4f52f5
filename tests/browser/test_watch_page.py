"""The page of a watch in a real browser: it reloads itself, and says when the watch is over."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import pytest

from sim.cli.serving import Served, serving
from sim.report.page.live import live_copy, waiting_page

Opened = Callable[[str], tuple[Any, list[str]]]


@pytest.fixture
def opened(browser: Any) -> Iterator[Opened]:
    """Opens an address, and notes what the browser complains of."""
    context = browser.new_context(viewport={"width": 390, "height": 800})

    def open_page(address: str) -> tuple[Any, list[str]]:
        page, troubles = context.new_page(), []
        page.on("console", lambda x: troubles.append(x.text) if x.type == "error" else None)
        page.on("pageerror", lambda error: troubles.append(str(error)))
        page.goto(address)
        return page, troubles

    yield open_page
    context.close()


def show(served: Served, sentence: str, answer: int, *faults: str) -> None:
    served.show(live_copy(waiting_page("smith.toml", sentence, "1.0"), answer, faults), answer)


def test_the_page_reloads_when_there_is_a_new_answer(opened: Opened) -> None:
    served = Served()
    show(served, "first", 1)
    with serving(served, 0) as address:
        page, troubles = opened(address)
        assert page.locator("#waiting").inner_text() == "first"
        assert page.locator("#watch").is_hidden()
        show(served, "second", 2, "line 4: count takes a whole number")
        page.locator("#waiting", has_text="second").wait_for()
        assert page.locator("#watch").is_visible()
        assert "line 4: count takes a whole number" in page.locator("#watch").inner_text()
        show(served, "third", 3)
        page.locator("#waiting", has_text="third").wait_for()
        assert page.locator("#watch").is_hidden()
        page.evaluate("window.stayed = true")
        page.wait_for_timeout(1600)
        # Without a new answer it does not reload.
        assert page.evaluate("window.stayed") is True
        assert troubles == [x for x in troubles if "favicon" in x]
    page.locator("#watch", has_text="The watch has ended").wait_for()


def test_no_other_page_can_show_or_read_it(opened: Opened) -> None:
    served, other = Served(), Served()
    show(served, "secret", 1)
    with serving(served, 0) as address, serving(other, 0) as elsewhere:
        other.show(f"<!doctype html><iframe src='{address}'></iframe>", 1)
        page, _ = opened(elsewhere)
        reads = f"fetch('{address}state').then(() => 'read', () => 'refused')"
        assert page.evaluate(reads) == "refused"
        assert "secret" not in "".join(frame.content() for frame in page.frames)
