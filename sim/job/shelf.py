"""The shelf: the profiles that come with the program.

One thing a file, in TOML: an ``[about]`` table with a title, the source of the figures and
what they do not claim, and a ``[values]`` table with the keys a job file would hold.
"""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from typing import Any

from sim.errors import Fault, JobError, join_or
from sim.resources import profiles_dir

SECTIONS = ("appliances", "vans", "panels", "batteries", "days")

# A section with more profiles is too long for an error's sentence.
_LISTED = 8


@dataclass(frozen=True)
class Profile:
    """One thing from the shelf.

    Attributes
    ----------
    section : str
        One of `SECTIONS`.
    name : str
        What a job file writes after ``use =``.
    title : str
        What it is, for a reader.
    source : str
        Where the figures come from.
    limits : str
        What the profile does not claim.
    values : dict
        Keys and values as in a job file.
    """

    section: str
    name: str
    title: str
    source: str
    limits: str
    values: dict[str, Any]


@cache
def names(section: str) -> tuple[str, ...]:
    """Names of the profiles of a section, sorted."""
    return tuple(sorted(path.stem for path in (profiles_dir() / section).glob("*.toml")))


@cache
def profile(section: str, name: str) -> Profile:
    """One profile.

    Parameters
    ----------
    section : str
        One of `SECTIONS`.
    name : str
        The profile's name.

    Returns
    -------
    Profile

    Raises
    ------
    JobError
        No such profile; the fault names the nearest ones.
    """
    if name not in names(section):
        raise JobError(Fault(_unknown(section, name), value=name))
    text = (profiles_dir() / section / f"{name}.toml").read_text("utf-8")
    data = tomllib.loads(text)
    about = data["about"]
    return Profile(
        section=section,
        name=name,
        title=about["title"],
        source=about["source"],
        limits=about["limits"],
        values=data["values"],
    )


def everything() -> tuple[Profile, ...]:
    """All profiles of all sections, in the order of `SECTIONS`, then by name."""
    return tuple(profile(section, name) for section in SECTIONS for name in names(section))


def find(name: str) -> tuple[Profile, ...]:
    """Profiles of that name in any section.

    Raises
    ------
    JobError
        No such profile; the fault names the nearest ones.
    """
    found = tuple(item for item in everything() if item.name == name)
    if not found:
        near = _near(name, [x.name for x in everything()], count=3)
        hint = f"did you mean {join_or(near)}?" if near else "nightledger shelf lists them all"
        raise JobError(Fault(f"no such profile on the shelf; {hint}", key="NAME", value=name))
    return found


def _unknown(section: str, name: str) -> str:
    start = f"no such profile in {section}"
    near = _near(name, names(section), count=3)
    if near:
        return f"{start}; did you mean {join_or(near)}?"
    homes = [other for other in SECTIONS if name in names(other)]
    if homes:
        return f"{start}; it is in {homes[0]}"
    if len(names(section)) > _LISTED:
        return f"{start}; nightledger shelf lists them"
    return f"{start}; take {join_or(names(section))}"


def _near(name: str, known: Iterable[str], *, count: int) -> list[str]:
    """Names most like what was written, in any case and with spaces for dashes, best first."""
    plain = name[:80].strip().lower().replace(" ", "-").replace("_", "-")
    return difflib.get_close_matches(plain, list(known), n=count, cutoff=0.5)
