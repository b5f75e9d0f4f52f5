"""What the commands on a job write, and where."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from sim.job.model.job import Job
    from sim.report.data.output import Outputs


def settle_job(
    job_file: Path,
    job: Job,
    out: Path,
    json: Path | None,
    *,
    what: str = "",
    tables: tuple[str, ...] = (),
    keep: bool = False,
) -> Outputs:
    """The files of a command on a job, looked at before it works.

    Parameters
    ----------
    job_file, job : Path, Job
    out : Path
        Folder of the reports.
    json : Path or None
        Where the numbers go.
    what : str
        Which page, such as ``wiring``; empty for the client's report.
    tables : tuple of str
        Ends of the names of its CSV files; the job's name goes before each.
    keep : bool
        Whether a promise is kept beside the page.

    Raises
    ------
    OutputError
        As `settle` does.
    """
    from sim.report.data.names import report_stem, weather_files
    from sim.report.data.output import owner_of, settle

    stem = report_stem(job_file, job.customer)
    name = f"{stem}-{what}" if what else stem
    return settle(
        page=out / f"{name}.html",
        data=json,
        promise=out / f"{name}-promise.json" if keep else None,
        tables=[out / f"{name}-{end}.csv" for end in tables],
        owner=owner_of(what or "trip", job_file, out),
        inputs=(job_file, *weather_files(job)),
    )
