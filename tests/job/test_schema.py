"""The JSON Schema of the job file: it passes what `load_job` passes, refuses what it refuses."""

from __future__ import annotations

import datetime as dt
import json
import re
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from sim.errors import JobError
from sim.job import shelf
from sim.job.model.appliances import ColdBox, Timed
from sim.job.model.fields import entry_keys
from sim.job.model.job import Job, Stop, Van
from sim.job.model.power import PanelGroup
from sim.job.reading.expected import held_sections, parts_in
from sim.job.reading.load import load_job
from sim.job.schema import SCHEMA_LINE, job_schema, meanings, plain_keys, profiles_of, schema_text
from sim.resources import profiles_dir

README = Path(__file__).parents[2] / "README.md"


@pytest.fixture(scope="module")
def schema() -> jsonschema.Draft7Validator:
    made = job_schema()
    jsonschema.Draft7Validator.check_schema(made)
    return jsonschema.Draft7Validator(made)


def as_json(value: Any) -> Any:
    """TOML's data as an editor hands it to a schema: dates and times are text."""
    if isinstance(value, dict):
        return {key: as_json(item) for key, item in value.items()}
    if isinstance(value, list):
        return [as_json(item) for item in value]
    return value.isoformat() if isinstance(value, (dt.date, dt.time)) else value


def faults(schema: jsonschema.Draft7Validator, text: str) -> list[str]:
    return [error.message for error in schema.iter_errors(as_json(tomllib.loads(text)))]


def test_the_demo_and_the_readmes_job_pass(schema: jsonschema.Draft7Validator) -> None:
    block = re.search(r"```toml\n(.*?)```", README.read_text("utf-8"), re.DOTALL)
    assert block is not None
    for text in ((profiles_dir() / "jobs" / "demo.toml").read_text("utf-8"), block[1]):
        assert faults(schema, SCHEMA_LINE + text) == []


def test_every_profile_passes_in_its_place(
    schema: jsonschema.Draft7Validator, small_job: str
) -> None:
    """By its name, and written out."""
    data = as_json(tomllib.loads(small_job))
    beside = {"panels": {"count": 1, "controller_amps": 20}}
    for item in shelf.everything():
        section = {"vans": "van", "days": "living", "batteries": "battery"}.get(
            item.section, item.section
        )
        for entry in ({"use": item.name}, item.values):
            entry = {**beside.get(section, {}), **entry}
            held = [entry] if section in ("panels", "appliances") else entry
            found = [error.message for error in schema.iter_errors({**data, section: held})]
            assert found == [], (item.name, entry)


WRONG = [
    ('title = "', 'titel = "'),
    ("[battery]", "[batery]"),
    ("nights = 2", "nights = -1"),
    ("nights = 2", "nights = 2.5"),
    ("nights = 2", 'nights = "2"'),
    ("nights = 2", "nights = 2\nplug_in = true"),
    ("nights = 2", "nights = 2\ndrive_hour = 3"),
    ("nights = 2", 'nights = 2\nservices = ["coffee"]'),
    ("nights = 2", 'nights = 2\nleave_at = "8 o\'clock"'),
]


@pytest.mark.parametrize(("old", "new"), WRONG)
def test_what_the_loader_refuses_the_schema_refuses(
    schema: jsonschema.Draft7Validator,
    changed: Callable[[str, str], str],
    tmp_path: Path,
    old: str,
    new: str,
) -> None:
    text = changed(old, new)
    path = tmp_path / "job.toml"
    path.write_text(text, "utf-8")
    with pytest.raises(JobError):
        load_job(path)
    assert faults(schema, text) != []


APPLIANCES = [
    ('use = "fridge-dc"', True),
    ('use = "fridge-dc"\nrated_ambient_f = 90', True),
    ('use = "fridge-dc"\nkind = "cold box"', True),
    ('kind = "steady"\nname = "Bell"\nwatts = 2', True),
    ('use = "no-such-thing"', False),
    ('use = "fridge-dc"\nwatts = 40', False),
    ('use = "fridge-dc"\nkind = "steady"', False),
    ('kind = "steady"\nname = "Bell"', False),
    ('kind = "steady"\nname = "Bell"\nwatts = 30000', False),
    ("count = 2", False),
]


@pytest.mark.parametrize(("entry", "passes"), APPLIANCES)
def test_an_appliance_is_held_to_its_kind(
    schema: jsonschema.Draft7Validator, small_job: str, entry: str, passes: bool
) -> None:
    text = f"{small_job}\n[[appliances]]\n{entry}\n"
    assert (faults(schema, text) == []) == passes


def test_a_charger_may_be_one_section_or_several(
    schema: jsonschema.Draft7Validator, small_job: str
) -> None:
    data = as_json(tomllib.loads(small_job))
    for held in ({"dcdc_amps": 30}, [{"dcdc_amps": 30}, {"dcdc_amps": 50}]):
        assert schema.is_valid({**data, "alternator": held})
    assert not schema.is_valid({**data, "alternator": {"dcdc_amps": 0}})
    assert not schema.is_valid({**data, "alternator": [{"dcdc_amps": 0}]})


def test_other_units_carry_their_own_bounds() -> None:
    van = job_schema()["definitions"]["Van"]["properties"]
    assert van["length_m"]["maximum"] == 15
    assert van["length_ft"]["maximum"] == pytest.approx(15 / 0.3048, abs=1e-3)
    assert van["vent_above_f"]["default"] == pytest.approx(24 * 1.8 + 32)
    assert "in place of length_m" in van["length_ft"]["description"]
    assert set(entry_keys("glass_m2")) <= set(van)


def test_every_key_has_its_meaning() -> None:
    for part in dict.fromkeys(parts_in(Job)):
        keys = {
            key
            for key, entry in part.model_fields.items()
            if not tuple(held_sections(entry.annotation))
        }
        assert keys - set(meanings(part)) == set(), part.__name__


def test_meanings_are_the_comments_of_the_models() -> None:
    assert meanings(Stop)["pause_hours"] == "A rest halfway, by which the van arrives later."
    # From the class above, where it says no more itself; behind the field; without what is
    # meant for a tool.
    assert meanings(Timed)["at"] == meanings(ColdBox)["at"] != ""
    assert not any("type: ignore" in text for text in meanings(Stop).values())
    assert plain_keys(PanelGroup)["count"]["description"] == "How many panels."


def test_profiles_belong_to_their_section_and_kind() -> None:
    assert "fridge-dc" in profiles_of(ColdBox)
    assert "fridge-dc" not in profiles_of(Timed)
    assert set(profiles_of(Van)) == set(shelf.names("vans"))
    assert profiles_of(Stop) == {}


def test_the_text_is_the_schema() -> None:
    assert json.loads(schema_text()) == job_schema()
