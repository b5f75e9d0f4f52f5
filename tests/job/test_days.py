"""Ways of living: each sets who is aboard and what they use, and any of it may be overridden."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from sim.job import shelf
from sim.job.model.living import Living
from sim.job.reading.load import load_job

Changed = Callable[[str, str], str]
Write = Callable[[str], Path]

WAYS = shelf.names("days")
# What a way of living must say: people, hours, meals, showers, water, devices.
SAYS = {
    *("people", "wake_at", "sleep_at", "out", "meals_at"),
    *("kitchen_l_person_day", "basin_l_person_day", "hot_pct"),
    *("showers_person_week", "shower_l", "shower_at", "devices_wh_person_day"),
}


def living(changed: Changed, write_job: Write, name: str, more: str = "") -> Living:
    text = changed('[living]\nuse = "weekend-away"', f'[living]\nuse = "{name}"\n{more}')
    return load_job(write_job(text)).living


def test_the_five_ways() -> None:
    assert set(WAYS) >= {
        *("weekend-away", "two-remote-workers", "family-of-four"),
        *("winter-sport", "full-time-single"),
    }


@pytest.mark.parametrize("name", WAYS)
def test_each_says_everything(changed: Changed, write_job: Write, name: str) -> None:
    assert set(shelf.profile("days", name).values) >= SAYS
    way = living(changed, write_job, name)
    assert way.use == name
    # Meals and showers fall into hours in which somebody is there and up.
    for start, end in (*way.meals_at, *way.shower_at):
        assert way.wake_at <= start < end <= way.sleep_at
        assert not any(start < out_end and out_start < end for out_start, out_end in way.out)


@pytest.mark.parametrize(
    ("key", "text", "value"),
    [
        ("people", "3", 3),
        ("out", "[]", ()),
        ("meals_at", '["12:00-12:30"]', ((720, 750),)),
        ("kitchen_gal_person_day", "1", 3.785411784),
        ("showers_person_week", "7", 7.0),
        ("shower_place", '"outside"', "outside"),
        ("devices_wh_person_day", "150", 150.0),
    ],
)
def test_any_of_it_may_be_overridden(
    changed: Changed, write_job: Write, key: str, text: str, value: object
) -> None:
    way = living(changed, write_job, "winter-sport", f"{key} = {text}\n")
    assert getattr(way, key.replace("_gal_", "_l_")) == value
    others = living(changed, write_job, "winter-sport")
    same = way.model_dump(exclude={key.replace("_gal_", "_l_")})
    assert same.items() <= others.model_dump().items()
