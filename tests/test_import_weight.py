"""What is quick stays quick: the heavy libraries are imported only where a trip is computed."""

from __future__ import annotations

import subprocess
import sys

import pytest

from sim.resources import profiles_dir

HEAVY = ("pvlib", "pandas", "plotly", "scipy", "h5py")
DEMO = profiles_dir() / "jobs" / "demo.toml"
CASES = {
    "import sim": "import sim",
    "the whole room of jobs": "import sim.job.reading.load, sim.trip.timeline",
    "what begin and sketch ask": "import sim.interview.questions, sim.interview.sketch",
    "help": "from sim.cli import app; app(['--help'], standalone_mode=False)",
    "version": "from sim.cli import app; app(['--version'], standalone_mode=False)",
    "load_job of the demo": f"import sim; sim.load_job({str(DEMO)!r})",
    "check of the demo": f"from sim.cli import app; app(['check', {str(DEMO)!r}], "
    "standalone_mode=False)",
    "timelines of the demo": "import sim\nfrom sim.trip.timeline import build_timeline\n"
    f"job = sim.load_job({str(DEMO)!r})\nfor trip in job.trips: build_timeline(job, trip)",
}


def heavy_after(code: str) -> list[str]:
    """Heavy libraries that are loaded once a program has run."""
    report = f"import sys\nprint('HEAVY', *[x for x in {HEAVY!r} if x in sys.modules])"
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", f"{code}\n{report}"],
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=120,
        check=True,
    )
    return done.stdout.splitlines()[-1].split()[1:]


@pytest.mark.parametrize("name", CASES)
def test_no_heavy_import(name: str) -> None:
    assert heavy_after(CASES[name]) == []


def test_a_heavy_import_would_be_seen() -> None:
    assert heavy_after("import pandas") == ["pandas"]
