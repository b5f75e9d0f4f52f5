"""What the README and DEVELOPERS.md show is true: job file, Python, commands, rooms, paths."""

from __future__ import annotations

import re
from pathlib import Path

from sim.cli import app
from sim.job.reading.load import load_job

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text("utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text("utf-8")


def block(language: str) -> str:
    """The first code block of a language."""
    found = re.search(rf"```{language}\n(.*?)```", README, re.DOTALL)
    assert found is not None
    return found[1]


def test_the_job_file_loads(tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    path.write_text(block("toml"), "utf-8")
    assert load_job(path).trips[0].name == "Easter, lakes"


def test_the_python_runs(tmp_path: Path) -> None:
    demo = ROOT / "profiles" / "jobs" / "demo.toml"
    code = block("python").replace("reports/demo.toml", demo.as_posix())
    names: dict[str, object] = {}
    exec(code, names)
    assert names["trip"].verdict in ("ample", "tight", "short")  # type: ignore[attr-defined]


def test_every_command_is_listed_and_no_other() -> None:
    listed = set(re.findall(r"^\| `nightledger ([a-z]+)", README, re.MULTILINE))
    real = {command.callback.__name__ for command in app.registered_commands if command.callback}
    assert listed == real


def test_two_set_up_commands_of_one_line() -> None:
    commands = re.findall(r"^python3 -m venv .*$", README, re.MULTILINE)
    assert len(commands) == 2
    assert commands[0].endswith("nightledger demo")
    assert "pytest" in commands[1]


def test_windows_gets_the_same_two_commands() -> None:
    def words(text: str) -> list[str]:
        plain = text.replace("\\", "/").replace("Scripts", "bin").replace('"', "'")
        return plain.replace("python3 -m", "py -m").replace(" && ", "\n").splitlines()

    made, demo, test = words(block("bat"))[:2], words(block("bat"))[2], words(block("bat"))[3:]
    # One command a line, as cmd and PowerShell both take it: PowerShell 5 knows no &&, cmd no
    # single quotes and no / in the path of a program.
    for line in block("bat").splitlines():
        assert not set(line) & set("&;'/$`^%~")
        assert line.startswith(("py -m ", ".venv\\Scripts\\"))
    first, second = (words(line) for line in block("sh").splitlines())
    assert first == [*made, demo]
    assert second == [made[0], *test]


def test_every_path_that_developers_are_sent_to_is_there() -> None:
    found = re.findall(r"`((?:\w+/)+(?:\w+\.(?:py|csv))?)`", DEVELOPERS)
    assert len(found) > 20
    assert [x for x in found if not any(y.exists() for y in places_of(x))] == []


def places_of(path: str) -> list[Path]:
    """Where a path may lie: in the repository, in the package, or in a room of it."""
    return [
        ROOT / path,
        ROOT / "sim" / path,
        *(ROOT / "sim").glob(f"*/{path}"),
        ROOT / "tests" / path,
    ]
