"""Every command as a builder meets it: help, answers, wrong input, full disks, interruptions."""

from __future__ import annotations

import importlib
import json
import os
import re
import shlex
import signal
import socket
import subprocess
import sys
import time
import tomllib
from collections.abc import Callable
from pathlib import Path
from types import UnionType
from typing import Any, get_args, get_type_hints

import pytest
from forked import ended, heed_stops, start
from typer.main import get_command
from typer.models import OptionInfo
from typer.testing import CliRunner, Result

from sim import __version__
from sim.cli import app
from sim.cli.commands import COMMANDS as BY_DAY
from sim.cli.front import GROUPS
from sim.job.reading.load import load_job

Run = Callable[..., Result]
Write = Callable[[str], Path]
CAN_FORK = hasattr(os, "fork")
COMMANDS = sorted(get_command(app).commands)  # type: ignore[attr-defined]
# Two draws of a cloudless night: the way through the program, not the answer.
QUICK = '\n[settings]\ndraws = 2\nweather = "clear"\n'


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    """Runs a command in an empty folder of its own."""
    folder = tmp_path / "desk"
    folder.mkdir()
    monkeypatch.chdir(folder)
    monkeypatch.setenv("COLUMNS", "100")

    def invoke(*arguments: str | Path, typed: str | None = None) -> Result:
        return CliRunner().invoke(app, [str(x) for x in arguments], input=typed)

    return invoke


@pytest.fixture
def quick(small_job: str, write_job: Write) -> Path:
    """A job file that runs in a moment."""
    return write_job(small_job + QUICK)


def left_behind(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.rglob("*.part"))


def assert_clear(done: Result, code: int = 2) -> None:
    """The right exit code, a sentence on stderr, no traceback."""
    assert done.exit_code == code
    assert isinstance(done.exception, SystemExit)
    assert done.stderr.startswith("nightledger: ")
    assert "Traceback" not in done.stderr


# --- help ---------------------------------------------------------------------------------------


def test_help_lists_every_command(run: Run) -> None:
    done = run("--help")
    assert done.exit_code == 0
    for command in COMMANDS:
        assert re.search(rf"^  {command} +\S", done.stdout, re.M)
    # What a command does fits on its line.
    assert "..." not in done.stdout.split("The first talk:")[1]


def test_help_goes_by_the_builders_day(run: Run) -> None:
    """Each heading stands once, in order, and each command below one."""
    told = run("--help").stdout
    headings = [found.start() for name in GROUPS for found in re.finditer(rf"^{name}:", told, re.M)]
    assert len(headings) == len(GROUPS)
    assert headings == sorted(headings)
    assert sorted(name for names in GROUPS.values() for name in names) == COMMANDS


@pytest.mark.parametrize("command", COMMANDS)
def test_every_help_has_an_example_that_its_options_allow(run: Run, command: str) -> None:
    done = run(command, "--help")
    assert done.exit_code == 0
    (example,) = re.findall(rf"Example: nightledger {command}\b(.*)", done.stdout)
    options = re.findall(r"--[a-z-]+", done.stdout.replace(example, ""))
    assert set(re.findall(r"--[a-z-]+", example)) <= set(options)


def test_version(run: Run) -> None:
    assert run("--version").stdout == f"nightledger {__version__}\n"


def test_as_a_module() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "sim", "--version"], capture_output=True, text=True, check=True
    )
    assert done.stdout == f"nightledger {__version__}\n"


# --- what commands do ---------------------------------------------------------------------------


def test_trip_writes_report_numbers_and_tables(run: Run, quick: Path) -> None:
    done = run("trip", quick, "--json", "deep/numbers.json", "--csv")
    assert done.exit_code == 0, done.stderr
    assert Path("reports/job.html").read_text("utf-8").rstrip().endswith("</html>")
    assert json.loads(Path("deep/numbers.json").read_text("utf-8"))["title"] == "Test van"
    assert sorted(path.name for path in Path("reports").iterdir()) == [
        "job-1-weekend-days.csv",
        "job-1-weekend-hours.csv",
        "job-1-weekend-ledger.csv",
        "job-answer.csv",
        "job.html",
    ]
    for name in ("reports/job.html", "deep/numbers.json", "job-1-weekend-days.csv"):
        assert name in done.stdout.replace("\\", "/")


def test_what_is_odd_is_said_by_check_and_trip_in_terminal_report_and_json(
    run: Run, small_job: str, write_job: Write
) -> None:
    path = write_job(small_job.replace('"small-van"', '"small-van"\nlength_m = 14') + QUICK)
    odd = "van.length_m = 14.0: a van 14 m long; is this the length inside, and in metres?"
    checked = " ".join(run("check", path).stdout.split())
    assert checked.endswith(f"in order, but look at these. Weekend (2 nights). {odd}")
    done = run("trip", path, "--json", "numbers.json")
    assert done.exit_code == 0, done.stderr
    said = " ".join(done.stdout.split())
    assert f"In order, but look at these: {odd} Report: " in said
    (told,) = json.loads(Path("numbers.json").read_text("utf-8"))["remarks"]
    assert told["text"] == odd
    page = Path("reports/job.html").read_text("utf-8").split('id="how"')[1]
    # The client's page says it without the key.
    assert "length_m" not in page
    assert "A van 14 m long" in page


@pytest.mark.parametrize(("soc", "code"), [(1.0, 0), (0.06, 1)])
def test_trip_fails_when_a_verdict_is_required(
    run: Run, small_job: str, write_job: Write, soc: float, code: int
) -> None:
    text = small_job.replace('name = "Weekend"', f'name = "Weekend"\nstart_soc = {soc}')
    path = write_job(text.replace("count = 2", "count = 0") + QUICK)
    done = run("trip", path, "--require", "ample")
    assert done.exit_code == code
    assert (done.stderr == "nightledger: Weekend is not ample\n") == (code == 1)


def test_check_lists_every_fault_by_line(run: Run, small_job: str, write_job: Write) -> None:
    text = small_job.replace("count = 2", "count = -2").replace("nights = 2", "nihgts = 2")
    path = write_job(text.replace('use = "small-van"', 'use = "smal-van"'))
    done = run("check", path, "--json", "faults.json")
    assert_clear(done)
    lines = [int(number) for number in re.findall(r"job\.toml, line (\d+):", done.stderr)]
    assert lines == sorted(lines)
    assert len(lines) == 3 == len(done.stderr.splitlines())
    data = json.loads(Path("faults.json").read_text("utf-8"))
    assert data["ok"] is False
    assert [fault["line"] for fault in data["faults"]] == lines


def test_check_of_a_file_in_order(run: Run, quick: Path) -> None:
    done = run("check", quick)
    assert (done.exit_code, done.stderr) == (0, "")
    assert "in order. Weekend (2 nights)" in " ".join(done.stdout.split())
    assert "estimated" not in done.stdout


def test_check_prints_the_hours_it_estimates(run: Run, small_job: str, write_job: Write) -> None:
    stop = 'place = "38.57, -109.55"\nnights = 2\n'
    assert small_job.count(stop) == 1
    more = '\n[[trips.stops]]\nplace = "Page, AZ"\nnights = 1\n'
    path = write_job(small_job.replace(stop, stop + more))
    done = run("check", path, "--json", "check.json")
    assert (done.exit_code, done.stderr) == (0, "")
    assert re.search(
        r"38\.57, -109\.55 to Page, Arizona, US: [\d.]+ h, about \d+ miles", done.stdout
    )
    assert all(len(line) <= 100 for line in done.stdout.splitlines()[1:])


def test_wiring_writes_the_sheet(run: Run, quick: Path) -> None:
    done = run("wiring", quick, "--csv", "--json", "w.json")
    assert done.exit_code == 0, done.stderr
    opening = "A check of the design, not a permit. Local codes and licensed practice decide"
    assert opening in done.stdout
    page = Path("reports/job-wiring.html").read_text("utf-8")
    assert opening in page
    data = json.loads(Path("w.json").read_text("utf-8"))
    assert data["runs"][0]["name"] == "Panels to controller"
    assert sum(data["counts"].values()) == len(data["checks"])
    rows = Path("reports/job-wiring-checks.csv").read_text("utf-8").splitlines()
    assert len(rows) == len(data["checks"]) + 1


def test_shelf(run: Run) -> None:
    assert "fridge-dc" in run("shelf").stdout
    assert "rated_wh_day" in run("shelf", "fridge-dc").stdout
    done = run("shelf", "frige-dc")
    assert_clear(done)
    assert "did you mean fridge-dc" in done.stderr


def test_shelf_lists_keys_and_writes_the_schema(run: Run) -> None:
    done = run("shelf", "--keys", "trips.stops", "--json", "keys.json")
    assert "  drive_hours\n" in done.stdout
    assert json.loads(Path("keys.json").read_text("utf-8"))["sections"][0]["names"] == [
        "trips.stops"
    ]
    assert "[[panels]]" in run("shelf", "--keys").stdout
    shown = run("shelf", "--schema").stdout
    assert run("shelf", "--schema", "--json", "job.schema.json").exit_code == 0
    assert Path("job.schema.json").read_text("utf-8") == shown
    assert json.loads(shown)["$schema"].endswith("draft-07/schema#")
    for wrong in (("--keys", "--schema"), ("--schema", "panels"), ("--keys", "pannels")):
        assert_clear(run("shelf", *wrong))


def test_doctor(run: Run) -> None:
    done = run("doctor", "--json", "doctor.json")
    assert done.exit_code == 0, done.stdout
    findings = json.loads(Path("doctor.json").read_text("utf-8"))["findings"]
    said = {finding["what"]: finding["said"] for finding in findings}
    assert all(finding["ok"] for finding in findings)
    assert said["nightledger"] == __version__
    assert "2011 to 2015" in said["climate"]
    assert "57 S to 72 N" in said["climate"]
    assert re.search(r"2\d\d,\d\d\d towns", said["places"])
    assert said["report"].startswith("written without a browser: ")


def test_doctor_says_what_is_broken(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    def gone() -> None:
        raise FileNotFoundError("places.npz")

    monkeypatch.setattr("sim.places.gazetteer.table", gone)
    monkeypatch.setattr("sim.report.terminal.doctor._report", lambda: "not looked at")
    monkeypatch.setattr("sim.report.terminal.doctor._LOOKS", (("places", _look_at_places()),))
    done = run("doctor")
    assert done.exit_code == 2
    assert re.search(r"WRONG +places +FileNotFoundError: places\.npz", done.stdout)


def _look_at_places() -> Callable[[], str]:
    from sim.report.terminal import doctor

    return doctor._places


# --- begin --------------------------------------------------------------------------------------


def test_begin_in_the_terminal(run: Run) -> None:
    typed = "The Garcias\nback\nThe Garcías\n7\n1\n" + "\n" * 60
    done = run("begin", "customers/garcia", typed=typed)
    assert done.exit_code == 0, done.stderr
    assert "Who is the van for?  [A new customer]" in done.stdout
    assert "give a number from 1 to 2" in done.stdout
    # Named after the folder, so that no two customers' reports have one name.
    path = Path("customers/garcia/garcia.toml")
    assert load_job(path).customer == "The Garcías"
    assert run("check", path).exit_code == 0


def test_an_editor_finds_the_schema_beside_the_job_file(run: Run) -> None:
    assert run("begin", "new", typed="\n" * 60).exit_code == 0
    first = Path("new/new.toml").read_text("utf-8").splitlines()[0]
    schema = Path("new") / first.removeprefix("#:schema ")
    data = tomllib.loads(Path("new/new.toml").read_text("utf-8"))
    assert set(data) <= set(json.loads(schema.read_text("utf-8"))["properties"])


def test_begin_from_a_file(run: Run) -> None:
    Path("a.txt").write_text("# who\nÅsa # and her dog\n2\n", "utf-8")
    done = run("begin", ".", "--answers", "a.txt")
    assert done.exit_code == 0
    assert re.search(
        r"^By default: [23]\d questions after the last line of a\.txt\.$", done.stdout, re.M
    )
    job = load_job("desk.toml")
    assert (job.customer, job.settings.units) == ("Åsa", "metric")


def test_begin_from_a_file_with_a_wrong_answer(run: Run) -> None:
    Path("a.txt").write_text("Asa\nfurlongs\n", "utf-8")
    done = run("begin", "new", "--answers", "a.txt")
    assert_clear(done)
    assert done.stderr.startswith('nightledger: a.txt, line 2: units = "furlongs": give a number')
    assert not Path("new").exists()
    assert_clear(run("begin", "new", "--answers", "none.txt"))


@pytest.mark.parametrize("typed", ["Asa\nquit\n", "quit\n", ""])
def test_begin_that_is_quit_writes_nothing(run: Run, typed: str) -> None:
    done = run("begin", "new", typed=typed)
    assert_clear(done, 130)
    assert done.stderr == "nightledger: stopped; nothing was written\n"
    assert not Path("new").exists()


def test_a_draft_of_one_answer_is_one_answer(run: Run) -> None:
    assert_clear(run("begin", "asa", typed="Asa\n"), 130)
    again = run("begin", "asa", typed="\n")
    assert "A draft with 1 answer is here." in again.stdout
    assert "Kept: 1 answer; back goes to it." in again.stdout


def test_begin_that_ends_early_keeps_a_draft_and_goes_on_from_it(run: Run) -> None:
    done = run("begin", "asa", typed="Asa\nmetric\n")
    assert_clear(done, 130)
    assert "the answers so far are in" in done.stderr
    draft = Path("asa/asa.draft.json")
    assert draft.exists()
    assert not Path("asa/asa.toml").exists()
    again = run("begin", "asa", typed="\n" * 60)
    assert again.exit_code == 0, again.stderr
    assert "A draft with 2 answers is here." in again.stdout
    assert load_job("asa/asa.toml").customer == "Asa"
    assert not draft.exists()


def test_what_begin_writes_is_checked_and_run(run: Run) -> None:
    Path("a.txt").write_text("Asa\nmetric\n", "utf-8")
    assert run("begin", "asa", "--answers", "a.txt").exit_code == 0
    path = Path("asa/asa.toml")
    checked = run("check", path)
    assert checked.exit_code == 0
    assert "in order. January, Bled (3 nights); July, " in " ".join(checked.stdout.split())
    text = path.read_text("utf-8")
    path.write_text(text.replace("# draws = 500", "draws = 4"), "utf-8")
    done = run("trip", path)
    assert done.exit_code == 0, done.stderr
    assert "January, Bled" in done.stdout
    assert Path("reports/asa.html").exists()


def test_a_draft_may_be_left_aside(run: Run) -> None:
    run("begin", "asa", typed="Asa\n")
    assert run("begin", "asa", typed="no\nBea\n" + "\n" * 60).exit_code == 0
    assert load_job("asa/asa.toml").customer == "Bea"
    assert not Path("asa/asa.draft.json").exists()


def test_a_file_in_the_place_of_the_draft_is_left_alone(run: Run) -> None:
    Path("asa").mkdir()
    Path("asa/asa.draft.json").write_text("mine", "utf-8")
    done = run("begin", "asa", typed="\n" * 60)
    assert_clear(done)
    assert "is not the draft of a job" in done.stderr
    assert Path("asa/asa.draft.json").read_text("utf-8") == "mine"


def test_begin_never_overwrites_unasked(run: Run) -> None:
    Path("desk.toml").write_text("mine", "utf-8")
    done = run("begin", ".", typed="\n" * 60)
    assert_clear(done)
    assert "is there already" in done.stderr
    assert "Who is the van for" not in done.stdout
    assert Path("desk.toml").read_text("utf-8") == "mine"
    assert run("begin", ".", "--force", typed="\n" * 60).exit_code == 0
    load_job("desk.toml")


def test_begin_looks_at_its_folder_before_it_asks(run: Run) -> None:
    Path("file").write_text("", "utf-8")
    done = run("begin", "file/new", typed="\n" * 60)
    assert_clear(done)
    assert "Who is the van for" not in done.stdout


# --- wrong input --------------------------------------------------------------------------------


@pytest.mark.parametrize("command", ["check", "trip", "wiring"])
@pytest.mark.parametrize(
    ("name", "raw", "said"),
    [
        ("none.toml", None, "there is no such file"),
        ("folder", None, "this is a folder"),
        ("utf16.toml", 'title = "x"'.encode("utf-16"), "not UTF-8 text"),
        ("zero.toml", b"", "the job has no trip"),
        ("nul.toml", b"title = \x00", "line 1"),
        ("cut.toml", b'title = "Van for', "a quote is missing"),
    ],
)
def test_no_job_file_at_all(
    run: Run, command: str, name: str, raw: bytes | None, said: str
) -> None:
    Path("folder").mkdir()
    if raw is not None:
        Path(name).write_bytes(raw)
    done = run(command, name)
    assert_clear(done)
    assert said in done.stderr


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("tripp", 'there is no command "tripp"; did you mean trip?'),
        ("zzz", 'there is no command "zzz"; nightledger --help lists them all'),
        ("trip", "JOB is missing; write: nightledger trip JOB"),
        ("sky", "PLACE is missing; write: nightledger sky PLACE"),
        ("compare a", "NEW is missing; write: nightledger compare OLD NEW"),
        ("trip a b", '"b" is too much for nightledger trip JOB; what has a blank in it goes into '
         "quotes"),
        ("check x --speed", "there is no option --speed of nightledger check; see: nightledger "
         "check --help"),
        ("trip x --requir", "there is no option --requir of nightledger trip; did you mean "
         "--require?"),
        ("--vers", "there is no option --vers of nightledger; did you mean --version?"),
        ("trip x --full=3", "--full takes no value: write it alone"),
        ("trip x --out", "--out needs a value behind it: --out FOLDER"),
        ("trip x --require perfect", '--require = "perfect": must be ample or tight'),
        ("levers x --jobs 0", "--jobs = 0: must be a whole number from 1 to 64"),
        ("levers x --jobs 1,5", '--jobs = "1,5": must be a whole number from 1 to 64'),
        ("panels x --up-to -1", "--up-to = -1: must be a whole number, 0 or more"),
        ("watch x --port 99999", "--port = 99999: must be a whole number from 0 to 65,535"),
    ],
)  # fmt: skip
def test_a_line_that_cannot_be_followed_is_one_sentence(run: Run, line: str, said: str) -> None:
    done = run(*line.split())
    assert_clear(done)
    assert done.stderr == f"nightledger: {said}\n"


# Files and places that commands are named in front of their options.
NEEDED = {"compare": ["x", "y"], "demo": [], "doctor": []}


def test_every_option_with_a_choice_or_a_number_names_itself_and_what_is_right(run: Run) -> None:
    """None is left to the parser, whose words are for programmers."""
    seen = set()
    for command in (x for commands in BY_DAY.values() for x in commands):
        for argument, hint in get_type_hints(command, include_extras=True).items():
            kind, option = _of_option(hint)
            if option is None or option.parser is None:
                # Text and files, in which nothing can be wrong yet.
                assert kind <= {str, Path, bool, list[str], type(None)}, (command, kind)
                continue
            flag = f"--{argument.replace('_', '-')}"
            seen.add(flag)
            name = command.__name__
            done = run(name, *NEEDED.get(name, ["x"]), flag, "no such")
            assert_clear(done)
            assert done.stderr.startswith(f'nightledger: {flag} = "no such": must be ')
    assert seen == {"--require", "--jobs", "--port", "--valid-days", "--up-to"}


def _of_option(hint: Any) -> tuple[set[Any], OptionInfo | None]:
    """The types that an annotated argument may have, and its option if it is one."""
    if hint is type(None):
        return set(), None
    kind, *meta = get_args(hint)
    found = next((x for x in meta if isinstance(x, OptionInfo)), None)
    return set(get_args(kind) if isinstance(kind, UnionType) else [kind]), found


def test_help_has_no_words_of_the_parser(run: Run) -> None:
    for name in COMMANDS:
        said = run(name, "--help").stdout
        assert not re.search(r"[{}<>]|\[\[", said), said


WEATHER = "time,ghi,temp_air\n" + "".join(
    f"2026-01-{day:02d} {hour:02d}:00,{100 if 8 < hour < 17 else 0},5\n"
    for day in range(1, 31)
    for hour in range(24)
)


@pytest.mark.parametrize(
    "raw",
    [
        b"",
        WEATHER.encode("utf-16"),
        WEATHER[:700].encode(),
        WEATHER.replace(",5", ",nan").encode(),
        WEATHER.replace(",100,", ",1e9,").encode(),
        "".join(sorted(WEATHER.splitlines(keepends=True), key=lambda x: x[::-1])).encode(),
        b"\x00" * 5000,
        b"PK\x03\x04 a zip file",
        WEATHER.replace("time,ghi,temp_air", "a,b,c").encode(),
    ],
    ids=["empty", "UTF-16", "cut", "NaN", "too bright", "shuffled", "zeros", "zip", "headings"],
)
def test_a_weather_file_that_cannot_be_used(
    run: Run, small_job: str, write_job: Write, raw: bytes
) -> None:
    path = write_job(small_job + '[settings]\ndraws = 2\nweather = "w.csv"\n')
    (path.parent / "w.csv").write_bytes(raw)
    done = run("trip", path)
    assert_clear(done)
    assert "w.csv" in done.stderr
    assert not Path("reports").exists()


def test_a_place_in_the_middle_of_the_sea(run: Run, small_job: str, write_job: Write) -> None:
    path = write_job(small_job.replace("38.57, -109.55", "0, -140") + "[settings]\ndraws = 2\n")
    done = run("trip", path)
    assert_clear(done)
    assert "weather file" in done.stderr
    assert not Path("reports").exists()


# --- folders that cannot be written, disks that are full ------------------------------------------


@pytest.mark.parametrize("command", ["trip", "wiring", "demo"])
def test_a_folder_that_cannot_be_made(run: Run, quick: Path, command: str) -> None:
    Path("file").write_text("", "utf-8")
    job = [] if command == "demo" else [quick]
    done = run(command, *job, "--out", "file/reports")
    assert_clear(done)
    assert "cannot be written" in done.stderr


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write all")
def test_a_folder_that_is_read_only(run: Run, quick: Path) -> None:
    folder = Path("shut")
    folder.mkdir()
    folder.chmod(0o500)
    assert_clear(run("trip", quick, "--out", folder))


def test_a_folder_that_refuses_new_files(
    run: Run, quick: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As a read-only folder does, also where the tests run as root."""

    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("tempfile.TemporaryFile", refuse)
    monkeypatch.setattr("tempfile.NamedTemporaryFile", refuse)
    monkeypatch.setattr("sim.ledger.simulate.simulate", refuse)
    done = run("trip", quick)
    assert_clear(done)
    # Said before the trips were run, not after.
    assert (
        done.stderr == "nightledger: reports: cannot be written: Permission denied; name "
        "another folder\n"
    )
    assert not Path("reports").exists()


@pytest.mark.skipif(not CAN_FORK, reason="needs a limit on the size of files")
def test_a_disk_that_is_full(run: Run, quick: Path, tmp_path: Path) -> None:
    """The system refuses the second half of the report: the old report stays whole."""
    import resource

    def limit() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (300_000, 300_000))

    out = tmp_path / "out"
    arguments = ["trip", str(quick), "--out", str(out), "--csv"]
    assert run(*arguments).exit_code == 0
    old = {path.name: path.read_bytes() for path in out.iterdir()}
    code, _, said = ended(start(arguments, tmp_path, limit), tmp_path)
    assert code == 2, said
    assert "job.html: cannot be written: File too large" in said
    assert "Traceback" not in said
    assert {path.name: path.read_bytes() for path in out.iterdir()} == old


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a device that is always full")
@pytest.mark.parametrize("arguments", [("shelf", "fridge-dc"), ("trip", "JOB")])
def test_words_that_go_to_a_full_disk(
    quick: Path, tmp_path: Path, arguments: tuple[str, ...]
) -> None:
    def fill() -> None:
        os.dup2(os.open("/dev/full", os.O_WRONLY), 1)

    words = [str(quick) if x == "JOB" else x for x in arguments]
    code, _, told = ended(start(words, tmp_path, fill), tmp_path)
    assert code == 2
    # The bar may have left a blank line behind.
    said = "nightledger: the system refused: No space left on device"
    assert told.strip() == said
    # What could be written is there.
    assert (arguments[0] == "shelf") == (not (tmp_path / "reports").exists())


@pytest.mark.skipif(not CAN_FORK, reason="pipes are another thing there")
def test_a_reader_that_has_seen_enough(quick: Path, tmp_path: Path) -> None:
    """As in ``nightledger trip job.toml | head -1``: the report is written all the same."""

    def nobody_reads() -> None:
        reading, writing = os.pipe()
        os.close(reading)
        os.dup2(writing, 1)

    code, _, said = ended(start(["trip", str(quick)], tmp_path, nobody_reads), tmp_path)
    # A shell's own code for it: neither the verdict's nor that of wrong input.
    assert (code, said) == (141, "")
    assert (tmp_path / "reports" / "job.html").exists()


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a device that is always full")
def test_a_version_that_goes_to_a_full_disk() -> None:
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(
            [sys.executable, "-m", "sim", "--version"],
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            check=False,
        )
    assert done.returncode == 2
    assert done.stderr == "nightledger: the system refused: No space left on device\n"


@pytest.mark.skipif(not CAN_FORK, reason="streams are another thing there")
@pytest.mark.parametrize(
    ("stream", "words", "code"),
    [
        (0, ("begin", "x"), 130),
        (1, ("check", "job.toml"), 0),
        (1, ("check", "none.toml"), 2),
        (2, ("check", "none"), 2),
    ],
)
def test_streams_that_are_closed(
    quick: Path, tmp_path: Path, stream: int, words: tuple[str, ...], code: int
) -> None:
    assert quick == tmp_path / "job.toml"
    found, _, said = ended(start(words, tmp_path, lambda: os.close(stream)), tmp_path)
    assert found == code, said
    assert "Traceback" not in said


@pytest.mark.skipif(sys.platform == "win32", reason="a shell of its own there")
def test_a_program_whose_stream_is_closed() -> None:
    line = f"{shlex.quote(sys.executable)} -m sim --version >&-"
    done = subprocess.run(line, shell=True, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, "")


# --- nothing that is there is lost ----------------------------------------------------------------


def test_numbers_never_go_where_something_else_is(run: Run, quick: Path) -> None:
    """Not over the job, a weather file, another job, the report: before any work is done."""
    weather = Path("w.csv")
    weather.write_text(WEATHER, "utf-8")
    other = Path("other.toml")
    other.write_text('title = "other"', "utf-8")
    before = quick.read_text("utf-8")
    for arguments in (
        ("check", quick, "--json", quick),
        ("trip", quick, "--json", quick),
        ("trip", quick, "--json", other),
        ("trip", quick, "--json", "reports/job.html"),
        ("trip", quick, "--json", "reports/job-1-weekend-days.csv", "--csv"),
        ("wiring", quick, "--json", "reports"),
        ("sky", "38.57, -109.55", "--file", weather, "--json", weather),
        ("panels", quick, "--json", "/dev/null"),
        ("shelf", "--json", weather),
        ("doctor", "--json", "."),
    ):
        Path("reports").mkdir(exist_ok=True)
        assert_clear(run(*arguments))
        assert list(Path("reports").iterdir()) == []
    assert quick.read_text("utf-8") == before
    assert weather.read_text("utf-8") == WEATHER
    assert other.read_text("utf-8") == 'title = "other"'


def test_two_jobs_of_one_name_keep_their_reports_apart(
    run: Run, small_job: str, tmp_path: Path
) -> None:
    texts = [small_job, 'customer = "Noor"\n' + small_job, 'customer = "Åsa"\n' + small_job]
    for folder, text in zip("abc", texts, strict=True):
        (tmp_path / folder).mkdir()
        (tmp_path / folder / "job.toml").write_text(text + QUICK, "utf-8")
        assert run("wiring", tmp_path / folder / "job.toml").exit_code == 0
    names = sorted(path.name for path in Path("reports").iterdir())
    assert names == ["asa-wiring.html", "job-wiring.html", "noor-wiring.html"]
    # One without a customer meets the name of another: said, and nothing is lost.
    (tmp_path / "c" / "job.toml").write_text(small_job.replace("Test", "Other") + QUICK, "utf-8")
    done = run("wiring", tmp_path / "c" / "job.toml")
    assert_clear(done)
    assert 'job-wiring.html: is the report of another job file, "Test van: ' in done.stderr
    # Nor does the trip of a job that is called as if it were the wiring of another.
    (tmp_path / "a" / "job-wiring.toml").write_text(small_job + QUICK, "utf-8")
    assert_clear(run("trip", tmp_path / "a" / "job-wiring.toml"))
    # Its own it may replace, again and again.
    assert run("wiring", tmp_path / "a" / "job.toml").exit_code == 0


def test_every_page_says_whose_it_is(run: Run, quick: Path) -> None:
    for arguments in (
        ("trip", quick),
        ("wiring", quick),
        ("panels", quick),
        ("sky", "38.57,-109.55"),
    ):
        assert run(*arguments).exit_code == 0
    pages = list(Path("reports").iterdir())
    labels = [
        re.findall(r'<meta name="nightledger-job" content="(\w{20})">', page.read_text("utf-8"))
        for page in pages
    ]
    assert len({label for (label,) in labels}) == len(pages) == 4


def test_demo_keeps_a_demo_job_that_was_changed(run: Run, small_job: str) -> None:
    Path("reports").mkdir()
    Path("reports/demo.toml").write_text(small_job, "utf-8")
    done = run("demo")
    assert_clear(done)
    assert "demo.toml: is there already and no longer the demo as it comes" in done.stderr
    assert Path("reports/demo.toml").read_text("utf-8") == small_job


@pytest.mark.parametrize("place", ["-33.97,18.60", "-33.97, 18.60", ("-33.97,", "18.60")])
def test_a_place_in_the_south_is_no_option(run: Run, place: str | tuple[str, ...]) -> None:
    done = run("sky", *((place,) if isinstance(place, str) else place))
    assert done.exit_code == 0, done.stderr
    assert "33.97° S 18.60° E" in done.stdout
    assert run("sky", "--jsn", "-33.97,18.60").exit_code == 2


# --- faults of the program itself -----------------------------------------------------------------


@pytest.mark.parametrize("error", [ZeroDivisionError("division by zero"), KeyError("a\nb\x1b")])
def test_a_fault_of_the_program_is_one_sentence(
    run: Run, quick: Path, monkeypatch: pytest.MonkeyPatch, error: Exception
) -> None:
    def fail(*_: object, **__: object) -> None:
        raise error

    monkeypatch.setattr("sim.ledger.simulate.simulate", fail)
    done = run("trip", quick)
    assert_clear(done, 70)
    assert len(done.stderr.splitlines()) == 1
    assert f"not of your input ({type(error).__name__}: " in done.stderr
    assert "in test_cli.py, line" in done.stderr
    monkeypatch.setenv("NIGHTLEDGER_TRACEBACK", "1")
    assert "Traceback" in run("trip", quick).stderr


def test_a_machine_without_memory_is_told(
    run: Run, quick: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_: object, **__: object) -> None:
        raise MemoryError

    monkeypatch.setattr("sim.ledger.simulate.simulate", fail)
    done = run("trip", quick)
    assert_clear(done)
    assert "take fewer draws" in done.stderr


# --- interruptions, and two at once ---------------------------------------------------------------


@pytest.mark.skipif(not CAN_FORK, reason="signals are another thing there")
@pytest.mark.parametrize(
    ("module", "name"),
    [
        ("sim.ledger.simulate", "run_bank"),
        ("sim.report.data.parts", "_fill"),
        ("sim.job.reading.load", "load_job"),
    ],
)
def test_a_stop_at_any_time(quick: Path, tmp_path: Path, module: str, name: str) -> None:
    """In the middle of the trips, with the report half on its way, and while the job is read."""
    stopped(quick, tmp_path, module, name, "SIGINT")


@pytest.mark.skipif(not CAN_FORK, reason="signals are another thing there")
@pytest.mark.parametrize("how", ["SIGTERM", "SIGHUP"])
def test_a_stop_of_any_kind(quick: Path, tmp_path: Path, how: str) -> None:
    """A kill and a terminal that closes do as Ctrl-C does."""
    stopped(quick, tmp_path, "sim.job.reading.load", "load_job", how)


def stopped(quick: Path, tmp_path: Path, module: str, name: str, how: str) -> None:
    """A trip that gets a signal while it is in a function ends clean."""

    def wait(*_: object, **__: object) -> None:
        print("waiting", flush=True)
        time.sleep(60)

    def before() -> None:
        heed_stops()
        setattr(importlib.import_module(module), name, wait)

    out = tmp_path / "out"
    child = start(["trip", str(quick), "--out", str(out)], tmp_path, before)
    until = time.monotonic() + 60.0
    told = tmp_path / "stdout"
    while not told.exists() or "waiting" not in told.read_text("utf-8"):
        assert time.monotonic() < until
        time.sleep(0.01)
    if name == "_fill":
        assert left_behind(out) != []
    os.kill(child, getattr(signal, how))
    code, _, said = ended(child, tmp_path)
    assert code == 130
    assert said == "nightledger: stopped; no file was left half written\n"
    assert not out.exists() or list(out.iterdir()) == []


@pytest.mark.skipif(not CAN_FORK, reason="starts both as forks")
def test_two_at_once_in_one_folder(quick: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    desks = [tmp_path / "first", tmp_path / "second"]
    for desk in desks:
        desk.mkdir()
    arguments = ["trip", str(quick), "--out", str(out), "--csv"]
    both = [start(arguments, desk, lambda: None) for desk in desks]
    said = [ended(child, desk) for child, desk in zip(both, desks, strict=True)]
    assert [code for code, *_ in said] == [0, 0], said
    assert left_behind(out) == []
    assert (out / "job.html").read_text("utf-8").rstrip().endswith("</html>")
    assert len(list(out.iterdir())) == 5


# --- nothing but the job --------------------------------------------------------------------------


@pytest.mark.skipif(not CAN_FORK, reason="takes the network from a fork")
@pytest.mark.parametrize("cores", [1, 2])
def test_no_network_and_no_other_program(quick: Path, tmp_path: Path, cores: int) -> None:
    """Nothing at all on one core; on two, this Python once more and nothing else."""
    begin = subprocess.Popen.__init__

    def refuse(*_: object, **__: object) -> None:
        raise AssertionError("the network or another program was asked for")

    def only_python(self: Any, command: list[str], **ways: Any) -> None:
        if cores == 1 or command[:3] != [sys.executable, "-B", "-c"]:
            refuse()
        begin(self, command, **ways)

    def before() -> None:
        # Imports may ask the system what machine this is; from here on nothing is asked.
        for name in ("create_connection", "getaddrinfo"):
            setattr(socket, name, refuse)
        socket.socket.connect = refuse  # type: ignore[method-assign, assignment]
        subprocess.Popen.__init__ = only_python  # type: ignore[method-assign, assignment]
        os.system = os.fork = os.posix_spawn = refuse  # type: ignore[assignment]
        os.sched_getaffinity = lambda _: set(range(cores))

    code, _, said = ended(start(["trip", str(quick)], tmp_path, before), tmp_path)
    assert code == 0, said
    assert (tmp_path / "reports" / "job.html").exists()


def test_text_of_a_job_is_only_text(run: Run, small_job: str, write_job: Write) -> None:
    """Markup, templates and formulas in names come out as they went in."""
    name = "{{ 7 * 7 }} [red]x[/red] <script>alert(1)</script> %s {0} $HOME"
    text = small_job.replace('"Test van"', json.dumps(name))
    done = run("trip", write_job(text + QUICK))
    assert done.exit_code == 0, done.stderr
    assert "{{ 7 * 7 }} [red]x[/red]" in done.stdout
    page = Path("reports/job.html").read_text("utf-8")
    assert "<script>alert(1)" not in page
    assert "{{ 7 * 7 }}" in page
    sheet = run("wiring", write_job(text + QUICK))
    assert sheet.exit_code == 0, sheet.stderr
    page = Path("reports/job-wiring.html").read_text("utf-8")
    assert "<script>alert(1)" not in page
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in page
