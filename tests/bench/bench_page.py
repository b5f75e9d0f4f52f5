"""How soon a phone shows the demo's page: `python tests/bench/bench_page.py`.

A real browser, its processor slowed down fourfold: from navigation to the first painted curve, the
longest task before anyone touches the page, and what it takes to wake the chart library. Best and
middle of several runs, for other work on the machine.
"""

from __future__ import annotations

import argparse
import datetime as dt
import shutil
import tempfile
from pathlib import Path
from statistics import median
from typing import Any

SLOWDOWN = 4
NAMES = ("chromium", "chromium-browser", "google-chrome")
FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--no-first-run"]
# Notes when the first curve has been painted, and every task of more than 50 ms.
WATCH = """
window.tasks = [];
new PerformanceObserver((list) => {
  for (const task of list.getEntries()) window.tasks.push(task.duration);
}).observe({ type: 'longtask', buffered: true });
new MutationObserver((_, watch) => {
  if (!document.querySelector('svg.curve path')) return;
  watch.disconnect();
  requestAnimationFrame(() => requestAnimationFrame(() => { window.curve = performance.now(); }));
}).observe(document, { subtree: true, childList: true });
"""


def write_demo(folder: Path) -> Path:
    """The demo's page, with all that `nightledger demo` puts into it."""
    import sim
    from sim.report.page.client import render_page
    from sim.report.page.try_it import says
    from sim.report.words.numbers import Manner
    from sim.resources import profiles_dir

    job = sim.load_job(profiles_dir() / "jobs" / "demo.toml")
    page = render_page(
        sim.simulate(job),
        written=dt.date(2027, 3, 1),
        version="1",
        grid=sim.decide.grid(job, says(Manner(job.settings.units))),
    )
    path = folder / "demo.html"
    path.write_text(page, "utf-8")
    return path


def visit(browser: Any, path: Path) -> dict[str, float]:
    """One visit on a phone's screen. [ms]"""
    context = browser.new_context(viewport={"width": 390, "height": 844}, offline=True)
    page = context.new_page()
    session = context.new_cdp_session(page)
    session.send("Emulation.setCPUThrottlingRate", {"rate": SLOWDOWN})
    page.add_init_script(WATCH)
    page.goto(path.as_uri())
    page.wait_for_timeout(1500)
    curve, longest = page.evaluate("[window.curve, Math.max(0, ...window.tasks)]")
    page.evaluate("window.touched = performance.now()")
    page.locator("figure .plot").first.click(position={"x": 150, "y": 100})
    page.locator(".live .main-svg").first.wait_for(state="attached")
    woken = page.evaluate("performance.now() - window.touched")
    context.close()
    return {"first curve": curve, "longest task before a touch": longest, "library woken": woken}


def work(browser: Any, path: Path) -> dict[str, float]:
    """What the page asks of its thread before a touch, at full speed. [ms of its own time]"""
    context = browser.new_context(viewport={"width": 390, "height": 844}, offline=True)
    page = context.new_page()
    session = context.new_cdp_session(page)
    session.send("Performance.enable", {"timeDomain": "threadTicks"})
    page.goto(path.as_uri())
    page.wait_for_timeout(1500)
    found = {x["name"]: x["value"] for x in session.send("Performance.getMetrics")["metrics"]}
    context.close()
    names = {"all tasks": "TaskDuration", "layout": "LayoutDuration", "script": "ScriptDuration"}
    return {name: 1000.0 * found[key] for name, key in names.items()}


def measure(runs: int) -> tuple[int, list[dict[str, float]], dict[str, float]]:
    """Bytes of the demo's page, what each visit took, and the work of one."""
    from playwright.sync_api import sync_playwright

    path = next(filter(None, map(shutil.which, NAMES)))
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as play:
        demo = write_demo(Path(folder))
        browser = play.chromium.launch(executable_path=path, args=FLAGS)
        found = [visit(browser, demo) for _ in range(runs)]
        asked = work(browser, demo)
        browser.close()
        return demo.stat().st_size, found, asked


def main() -> None:
    """Print what was measured."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=5)
    size, visits, asked = measure(parser.parse_args().runs)
    print(f"the demo's page: {size / 1e6:.2f} MB; at {SLOWDOWN}-fold slowdown of the processor:")
    for name in visits[0]:
        times = [visit[name] for visit in visits]
        print(f"{name}: {min(times):.0f} ms at best, {median(times):.0f} ms as a rule")
    told = ", ".join(f"{name} {ms:.0f} ms" for name, ms in asked.items())
    print(f"work of the page's thread before a touch, at full speed: {told}")


if __name__ == "__main__":
    main()
