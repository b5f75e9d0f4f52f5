"""Damaged weather files, a few of them; by hand the script takes thousands."""

from __future__ import annotations

import runpy
from pathlib import Path

HERE = Path(__file__).parent


def test_damaged_files_are_mended_or_refused() -> None:
    script = runpy.run_path(str(HERE / "mutate_weather.py"))
    ends, wrong = script["run"](30, 7, script["FILES"][:1])
    assert wrong == []
    assert sum(ends.values()) == 30
    told = {end for _, end in ends}
    assert {"mended", "refused"} <= told


def test_the_script_sees_what_would_mislead() -> None:
    """A reader that took degrees Fahrenheit for Celsius would be found out."""
    script = runpy.run_path(str(HERE / "mutate_weather.py"))
    sound = script["station_months"](script["read_weather"](script["FILES"][0]))
    warmer = type(sound)(**{**vars(sound), "temperature_c": sound.temperature_c + 1.5})
    every = sound.temperature_c > -99.0
    assert "off by 1.5 K" in script["_months_apart"](sound, warmer, every)
    assert script["_months_apart"](sound, sound, every) == ""
