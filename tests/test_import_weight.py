"""What is quick stays quick: the heavy libraries are imported only where a trip is computed."""

from __future__ import annotations

import json
import subprocess
import sys

import pytest

from sim.resources import profiles_dir

HEAVY = ("pvlib", "pandas", "plotly", "scipy", "h5py", "numpy.ma")
DEMO = profiles_dir() / "jobs" / "demo.toml"
CASES = {
    "import sim": "import sim",
    "version": "from sim.cli import app; app(['--version'], standalone_mode=False)",
    "help": "from sim.cli import app; app(['--help'], standalone_mode=False)",
    "finding a place": "from sim.places.lookup import find_place; find_place('Moab, UT'); "
    "find_place('38.57, -109.55')",
    "the whole room of jobs": "import sim.job.reading.load, sim.trip.timeline",
    "load_job of the demo": f"import sim; sim.load_job({str(DEMO)!r})",
    "check of the demo": f"from sim.cli import app; app(['check', {str(DEMO)!r}], "
    "standalone_mode=False)",
    "timelines of the demo": "import sim\nfrom sim.trip.timeline import build_timeline\n"
    f"job = sim.load_job({str(DEMO)!r})\nfor trip in job.trips: build_timeline(job, trip)",
    "what begin and sketch ask": "import sim.interview.questions, sim.interview.sketch",
    "a heavy library": "import pandas",
}
# One fresh process for all: what one case does not import, the next one would.
# Some numpys bring all of their own parts at once.
PROGRAM = """
import json, sys, numpy
cases, heavy = json.loads(sys.argv[1])
found = {}
for name, code in cases.items():
    before = set(sys.modules)
    exec(code, {})
    found[name] = [x for x in heavy if x in sys.modules and x not in before]
print(json.dumps(found))
"""


@pytest.fixture(scope="module")
def brought() -> dict[str, list[str]]:
    """The heavy libraries that each case was the first to import."""
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", PROGRAM, json.dumps([CASES, HEAVY])],
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=120,
        check=True,
    )
    return dict(json.loads(done.stdout.splitlines()[-1]))


@pytest.mark.parametrize("name", [name for name in CASES if name != "a heavy library"])
def test_no_heavy_import(brought: dict[str, list[str]], name: str) -> None:
    assert brought[name] == []


def test_a_heavy_import_would_be_seen(brought: dict[str, list[str]]) -> None:
    assert "pandas" in brought["a heavy library"]


def test_sections_are_built_within_the_whole_job() -> None:
    """One alone is built only when asked for alone, and then works as before."""
    program = (
        "import sim\n"
        "from sim.job.model.job import Job\n"
        "from sim.job.model.living import Living\n"
        "built = [Job.__pydantic_complete__]\n"
        f"sim.load_job({str(DEMO)!r})\n"
        "built.append(Living.__pydantic_complete__)\n"
        "assert Living.model_validate({'people': 2}).people == 2\n"
        "built.append(Living.__pydantic_complete__)\n"
        "import json; print(json.dumps(built))"
    )
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", program],
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=120,
        check=True,
    )
    assert json.loads(done.stdout) == [True, False, True]
