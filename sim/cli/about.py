"""Commands that look things up: sky, shelf, doctor."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from sim.cli.ends import EXIT_BAD_INPUT
from sim.cli.front import REPORTS, Full, Json, Out, say_written
from sim.errors import NightledgerError, printable

if TYPE_CHECKING:
    from rich.console import Console


def sky(
    place: Annotated[
        list[str],
        typer.Argument(
            metavar="PLACE",
            help='A town, "Moab, UT", or a coordinate, "38.57, -109.55"; ", 4026 ft" may follow.',
        ),
    ],
    file: Annotated[
        Path | None,
        typer.Option("--file", metavar="FILE", help="Show a weather file beside the climate."),
    ] = None,
    out: Out = REPORTS,
    json: Json = None,
    full: Full = False,
) -> None:
    """Sun, temperature and daylight of a place, month by month.

    Example: nightledger sky "Moab, UT"
    """
    import datetime as dt

    from sim import __version__
    from sim.places.lookup import find_place

    found = find_place(" ".join(place))
    from sim.ledger.almanac import climate_almanac, file_almanac
    from sim.report.data.export import json_text
    from sim.report.data.names import file_stem
    from sim.report.data.output import owner_of, settle
    from sim.report.page.place_page import render_almanac
    from sim.report.terminal.lines import screen
    from sim.report.terminal.place_months import print_almanac, sky_json

    outputs = settle(
        page=out / f"sky-{file_stem(found.label)}.html",
        data=json,
        owner=owner_of("sky", found.label, out),
        inputs=() if file is None else (file,),
    )
    almanacs = (climate_almanac(found), *([file_almanac(file)] if file else []))
    # Where people think in Fahrenheit the table does too.
    us_units = found.country == "US"
    print_almanac(found, almanacs, screen(), us_units=us_units, full=full)
    page = render_almanac(found, almanacs, written=dt.date.today(), version=__version__)
    say_written(outputs.write(page=page, data=json_text(sky_json(found, almanacs))))


def shelf(
    name: Annotated[
        str | None,
        typer.Argument(metavar="NAME", help="A profile to show whole; with --keys a section."),
    ] = None,
    keys: Annotated[
        bool, typer.Option("--keys", help="Every key of the job file: units, bounds, meaning.")
    ] = False,
    schema: Annotated[
        bool, typer.Option("--schema", help="The job file as a JSON Schema, for an editor.")
    ] = False,
    json: Json = None,
) -> None:
    """List the profiles that come with the program, or show one whole.

    Appliances are listed with their watts and what they take on a plain day. --keys lists the
    keys of the job file instead; --schema prints a JSON Schema of it, or writes it to --json.

    Example: nightledger shelf --keys panels
    """
    from sim.report.terminal.lines import screen

    if keys and schema:
        raise NightledgerError("give --keys or --schema, not both")
    console = screen()
    if schema:
        _print_schema(name, json)
    elif keys:
        _print_keys(name, json, console)
    else:
        _print_shelf(name, json, console)


def _print_shelf(name: str | None, json: Path | None, console: Console) -> None:
    from sim.job.shelf import everything, find
    from sim.report.data.export import json_text
    from sim.report.data.output import settle
    from sim.report.terminal import shelf_list

    outputs = settle(data=json)
    profiles = everything() if name is None else find(name)
    outputs.write(data=json_text(shelf_list.shelf_json(profiles)))
    if name is None:
        shelf_list.print_shelf(profiles, console)
    else:
        for profile in profiles:
            shelf_list.print_profile(profile, console)


def _print_keys(name: str | None, json: Path | None, console: Console) -> None:
    from sim.job.key_table import key_sections
    from sim.report.data.export import json_text
    from sim.report.data.output import settle
    from sim.report.terminal.key_list import keys_json, print_keys

    outputs = settle(data=json)
    sections = key_sections(name)
    outputs.write(data=json_text(keys_json(sections)))
    print_keys(sections, console)


def _print_schema(name: str | None, json: Path | None) -> None:
    from sim.job.schema import schema_text
    from sim.report.data.output import settle

    if name is not None:
        raise NightledgerError("--schema is of the whole job file; leave the name out")
    if json is None:
        typer.echo(schema_text(), nl=False)
    else:
        settle(data=json).write(data=schema_text())
        typer.echo(f"Schema: {printable(str(json), 1000)}")


def doctor(json: Json = None) -> None:
    """Look at versions, data tables and report writing.

    Example: nightledger doctor
    """
    from sim.report.data.export import json_text
    from sim.report.data.output import settle
    from sim.report.terminal.doctor import examine, print_findings
    from sim.report.terminal.lines import screen

    outputs = settle(data=json)
    findings = examine()
    print_findings(findings, screen())
    outputs.write(data=json_text({"findings": [asdict(finding) for finding in findings]}))
    if not all(finding.ok for finding in findings):
        raise typer.Exit(EXIT_BAD_INPUT)
