"""Where the profiles and data tables lie that come with the program."""

from __future__ import annotations

from pathlib import Path


def profiles_dir() -> Path:
    """The folder of profiles and tables: beside ``sim/`` in a checkout, inside it in a wheel."""
    package = Path(__file__).resolve().parent
    installed = package / "_profiles"
    return installed if installed.is_dir() else package.parent / "profiles"
