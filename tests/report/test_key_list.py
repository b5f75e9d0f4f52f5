"""Every key of the job file in the terminal."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Iterator
from io import StringIO
from typing import Any

import pytest
from rich.console import Console

from sim.errors import JobError
from sim.job.key_table import Key, KeySection, key_sections
from sim.report.terminal.key_list import key_sentence, keys_json, print_keys
from sim.resources import profiles_dir


def printed(sections: tuple[KeySection, ...], width: int = 80) -> str:
    console = Console(file=StringIO(), width=width, highlight=False)
    print_keys(sections, console)
    assert isinstance(console.file, StringIO)
    return console.file.getvalue()


def key(section: str, name: str) -> Key:
    """One key of one section."""
    found = next(item for item in key_sections() if section in item.names)
    return next(item for item in found.keys if item.name == name)


def written(data: dict[str, Any], path: str) -> Iterator[tuple[str, str]]:
    """Section and name of every key of a job file."""
    for name, item in data.items():
        entries = item if isinstance(item, list) else [item]
        if all(isinstance(entry, dict) for entry in entries) and name != "set":
            for entry in entries:
                yield from written(entry, f"{path}.{name}" if path else name)
        else:
            yield path, name


def test_every_key_of_the_demo_is_in_the_list() -> None:
    data = tomllib.loads((profiles_dir() / "jobs" / "demo.toml").read_text("utf-8"))
    listed: dict[str, set[str]] = {"": {"title", "customer"}, "appliances": set()}
    for section in key_sections():
        forms = {form for item in section.keys for form in (item.name, *item.also)}
        for name in section.names:
            listed.setdefault(name, set()).update(forms)
            if name.startswith("appliances"):
                listed["appliances"] |= forms
    assert [found for found in written(data, "") if found[1] not in listed[found[0]]] == []


@pytest.mark.parametrize(
    ("section", "name", "sentence"),
    [
        ("panels", "count", "Whole number 0 to 60; must be given."),
        ("panels", "watts", "1 to 1000; a profile gives it."),
        ("trips", "depart", 'Text such as "2027-01-09"; must be given.'),
        ("trips.stops", "plug_in", '"never", "nights" or "always"; may be left out, then "never".'),
        ("appliances.heater", "away_c", '-10 to 30 or "off"; may be left out.'),
        ("settings", "prudent", "True or false; may be left out, then false."),
        ("prices", "panel", "0 to 1000000; may be left out."),
    ],
)
def test_what_a_key_takes(section: str, name: str, sentence: str) -> None:
    assert key_sentence(key(section, name)) == sentence


def test_what_lies_between_bounds() -> None:
    takes = {"type": "number", "exclusiveMinimum": 0.0, "maximum": 500.0, "default": 1.5}
    made = Key("tank_l", (), takes, must=False, by_profile=True, meaning="")
    assert key_sentence(made) == "More than 0, up to 500; a profile may give it, then 1.5."


def test_the_list_fits_the_screen_and_shows_units() -> None:
    text = printed(key_sections())
    assert max(len(line) for line in text.splitlines()) <= 80
    assert "  length_m, length_ft, length_in, length_cm, length_mm\n" in text
    assert "[[trips.stops]]\n" in text
    assert "[alternator] once, or [[alternator]] several times\n" in text


def test_one_section_with_those_inside_it() -> None:
    assert [section.header for section in key_sections("[water]")] == ["[water]", "[[water.grey]]"]
    assert [section.header for section in key_sections("Heater")] == [
        '[[appliances]] kind = "heater"'
    ]
    assert len(key_sections("appliances")) == 12
    with pytest.raises(JobError, match="did you mean panels"):
        key_sections("panells")


def test_as_plain_data() -> None:
    data = json.loads(json.dumps(keys_json(key_sections("van"))))
    (van,) = data["sections"]
    (entry,) = (item for item in van["keys"] if item["name"] == "glass_m2")
    assert entry["also"] == ["glass_ft2"]
    assert entry["takes"]["maximum"] == 20
    assert entry["by_profile"]
