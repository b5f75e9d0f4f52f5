"""The shelf: every profile says where it comes from, and fits the job that takes it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from sim import resources
from sim.errors import JobError
from sim.job import shelf
from sim.job.model.appliances import APPLIANCE_KINDS
from sim.job.reading.faults import SHELF_OF
from sim.job.reading.load import load_job
from sim.job.shelf import SECTIONS, Profile, everything, find, names, profile
from sim.resources import profiles_dir

Changed = Callable[[str, str], str]
Write = Callable[[str], Path]

PROFILES = everything()
# What a section of the job file must say beside the profile, and where it stands in the job.
SECTION_OF = {on_shelf: section for section, on_shelf in SHELF_OF.items()}
TAKES = {
    "appliances": ('[[appliances]]\nuse = "fridge-dc"', "[[appliances]]\n"),
    "vans": ('[van]\nuse = "small-van"', "[van]\n"),
    "panels": ('use = "rigid-170"\ncount = 2', "count = 2\n"),
    "batteries": ('[battery]\nuse = "lifepo4-100"', "[battery]\n"),
    "days": ('[living]\nuse = "weekend-away"', "[living]\n"),
}


# What a kind of appliance, or a fuel, needs elsewhere in the job.
NEEDS = {
    "propane": "[propane]\ntank_l = 20\n",
    "hot water": '[water]\nfresh_l = 80\nopen_drains = ["kitchen", "basin", "shower"]\n',
}
NEEDS["plugged"] = "[shore]\ncharger_amps = 20\ninlet_volts = 120\ninlet_amps = 15\n"
NEEDS["pump"] = NEEDS["hot water"]


def label(item: Profile) -> str:
    return f"{item.section}/{item.name}"


def test_the_shelf_holds_what_it_should() -> None:
    assert set(SECTION_OF) == set(SECTIONS)
    for section in SECTIONS:
        files = {path.stem for path in (profiles_dir() / section).iterdir()}
        assert files == set(names(section))
        assert len(files) >= 3
    assert len(names("appliances")) >= 12
    kinds = {item.values["kind"] for item in PROFILES if item.section == "appliances"}
    assert kinds <= set(APPLIANCE_KINDS)
    assert kinds >= {"steady", "timed", "lights", "cold box"}


def test_no_two_profiles_share_a_name_or_a_title() -> None:
    assert len({item.name for item in PROFILES}) == len(PROFILES)
    assert len({item.title for item in PROFILES}) == len(PROFILES)


@pytest.mark.parametrize("item", PROFILES, ids=label)
def test_each_says_what_it_is_where_from_and_what_not(item: Profile) -> None:
    for text in (item.title, item.source, item.limits):
        assert len(text) >= 12
        assert text == text.strip()
    assert item.title[0].isupper() or item.title[0].isdigit()
    assert item.limits.endswith(".")
    assert shelf.profile(item.section, item.name) == item
    assert find(item.name) == (item,)


@pytest.mark.parametrize("item", PROFILES, ids=label)
def test_each_fits_a_job_with_every_value_kept(
    item: Profile, changed: Changed, write_job: Write
) -> None:
    old, new = TAKES[item.section]
    text = changed(old, f'{new}use = "{item.name}"\n')
    wants = {item.values.get(key) for key in ("kind", "fuel", "source", "runs")}
    more = {NEEDS[want] for want in wants if want in NEEDS}
    inverter = "[inverter]\nwatts = 3000\nidle_watts = 10\n"
    job = load_job(write_job(text + inverter + "".join(more)))
    part: Any = getattr(job, SECTION_OF[item.section])
    part = part[0] if isinstance(part, tuple) else part
    kept = part.model_dump()
    assert kept["use"] == item.name
    for key, value in item.values.items():
        if key in ("at", "out", "wake_at", "sleep_at", "meals_at", "shower_at"):
            assert kept[key] is not None
        else:
            assert kept[key] == value
    assert set(item.values) <= part.model_fields_set


def test_a_key_beside_the_profile_overrides_it(changed: Changed, write_job: Write) -> None:
    text = changed('use = "fridge-dc"', 'rated_wh_day = 500\nuse = "fridge-dc"\nname = "Box"')
    (box,) = load_job(write_job(text)).appliances
    assert (box.name, box.rated_wh_day, box.max_watts) == ("Box", 500.0, 50.0)  # type: ignore[union-attr]


@pytest.mark.parametrize(
    ("section", "name", "rule"),
    [
        ("vans", "small", "no such profile in vans; did you mean small-van?"),
        (
            "vans",
            "zzz",
            "no such profile in vans; take long-high-roof, medium-roof or small-van",
        ),
        ("vans", "../vans/small-van", "no such profile in vans; did you mean small-van?"),
        ("vans", "phones", "no such profile in vans; it is in appliances"),
        ("appliances", "", "no such profile in appliances; nightledger shelf lists them"),
    ],
)
def test_a_profile_that_is_not_there(section: str, name: str, rule: str) -> None:
    with pytest.raises(JobError) as caught:
        profile(section, name)
    assert [fault.rule for fault in caught.value.faults] == [rule]


@pytest.mark.parametrize(
    ("name", "sentence"),
    [
        (
            "Fridge DC",
            'NAME = "Fridge DC": no such profile on the shelf; did you mean fridge-dc, '
            "freezer-dc or fridge-freezer-ac?",
        ),
        (
            "zzz",
            'NAME = "zzz": no such profile on the shelf; nightledger shelf lists them all',
        ),
    ],
)
def test_finding_a_profile_that_is_not_there(name: str, sentence: str) -> None:
    with pytest.raises(JobError) as caught:
        find(name)
    assert str(caught.value) == sentence


def test_a_wheel_brings_its_profiles_inside_the_package(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    package = tmp_path / "site-packages" / "sim"
    package.mkdir(parents=True)
    monkeypatch.setattr(resources, "__file__", str(package / "resources.py"))
    assert profiles_dir() == tmp_path / "site-packages" / "profiles"
    (package / "_profiles").mkdir()
    assert profiles_dir() == package / "_profiles"
