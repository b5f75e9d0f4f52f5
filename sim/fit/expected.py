"""What the promise says of each hour of a log: sun, loads, engine, plug and charge."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sim.arrays import Floats, Ints
from sim.job.model.changes import with_values
from sim.job.model.job import Job, Trip
from sim.sky.clear import clear_weather
from sim.threads import Progress
from sim.trip.bank import bank_of
from sim.trip.designs import design_of, offers_of
from sim.trip.prepare import PreparedTrip, TripSky, file_sky, prepare_trip
from sim.trip.stays import lay_out
from sim.van.bank.loop import run_bank
from sim.van.bank.offers import Offers
from sim.van.bank.sources import DRIVE, SHORE, SUN

STEP_MINUTES = 60
# So many draws place a factor well enough; a long log has fewer, to stay quick.
_MOST_DRAWS, _MOST_HOUR_DRAWS = 100, 600_000


@dataclass(frozen=True)
class Expected:
    """The promise, hour by hour. H hours, of one trip after the other, and D draws.

    Attributes
    ----------
    start_utc : ndarray of datetime64[s], shape (H,)
    offset_min : ndarray, shape (H,)
        How far the local clock is ahead. [min]
    day : ndarray of int, shape (H,)
        Local calendar day, in days since 1970.
    solar_hour : ndarray, shape (H,)
        Hours from the sun's noon in the middle of the hour, -12 to 12.
    sun_w : ndarray, shape (H, D)
        What the panels could give to the battery. [W]
    clear_w : ndarray, shape (H,)
        The same under a cloudless sky. [W]
    file_w : ndarray, shape (H,), or None
        The same in the weather of a file that has the log's own days. [W]
    file_temp_c : ndarray, shape (H,), or None
        Outside, in the same file. [deg C]
    loads_w : ndarray, shape (H, D)
        Asked of the battery and its sources. [W]
    engine_w, plug_w : ndarray, shape (H,)
        Offered. [W]
    driving, plugged : ndarray, shape (H,)
        Share of the hour.
    temp_c : ndarray, shape (H, D)
        Outside. [deg C]
    soc : ndarray, shape (H, D)
        Charge in the middle of the hour, 0 to 1.
    """

    start_utc: NDArray[np.datetime64]
    offset_min: Ints
    day: Ints
    solar_hour: Floats
    sun_w: Floats
    clear_w: Floats
    file_w: Floats | None
    file_temp_c: Floats | None
    loads_w: Floats
    engine_w: Floats
    plug_w: Floats
    driving: Floats
    plugged: Floats
    temp_c: Floats
    soc: Floats

    def __len__(self) -> int:
        return len(self.start_utc)

    def at(self, rows: Ints | slice) -> Expected:
        """The same for some of the hours."""
        values: dict[str, Any] = {x.name: getattr(self, x.name) for x in fields(self)}
        kept: dict[str, Any] = {k: None if v is None else v[rows] for k, v in values.items()}
        return Expected(**kept)


def expected(job: Job, trips: Sequence[Trip], progress: Progress | None = None) -> Expected:
    """What a job promises for the hours of some trips.

    Raises
    ------
    WeatherError
        A weather file cannot be used, or a place has no climate.
    """
    hours = sum(
        (stays[-1].leaves - stays[0].leg_starts).total_seconds() / 3600.0
        for stays in map(lay_out, trips)
    )
    draws = int(np.clip(_MOST_HOUR_DRAWS / max(hours, 1.0), 30, _MOST_DRAWS))
    settings = {"step_minutes": STEP_MINUTES, "draws": min(job.settings.first_draws, draws)}
    job = with_values(job, {"settings": with_values(job.settings, settings)})
    parts = []
    for number, trip in enumerate(trips):
        parts.append(_of_trip(job, trip))
        if progress is not None:
            progress((number + 1) / len(trips))
    return _joined(parts)


def _of_trip(job: Job, trip: Trip) -> Expected:
    prepared = prepare_trip(job, trip)
    design, timeline = design_of(job), prepared.timeline
    offers = offers_of(prepared, [design])
    ran = run_bank(
        bank_of(job.battery),
        offers,
        start_soc=trip.start_soc,
        step_hours=timeline.step_hours,
        progress=lambda done: None,
    )
    local_min = timeline.start_utc.astype("datetime64[m]").astype(np.int64)
    local_min = local_min + timeline.utc_offset_minutes
    mid_utc_h = prepared.sky.track.mid_unix / 3600.0 % 24.0
    above = file_sky(job, trip, in_its_year=True)
    return Expected(
        start_utc=timeline.start_utc,
        offset_min=timeline.utc_offset_minutes,
        day=local_min // (24 * 60),
        solar_hour=(mid_utc_h + timeline.longitude / 15.0) % 24.0 - 12.0,
        sun_w=_offered(offers, SUN),
        clear_w=_under(job, trip, prepared, _clear(prepared)),
        file_w=None if above is None else _under(job, trip, prepared, above),
        file_temp_c=None if above is None else above.weather.temp_air[:, 0],
        loads_w=offers.wanted_w.sum(axis=0),
        engine_w=_offered(offers, DRIVE).mean(axis=1),
        plug_w=_offered(offers, SHORE).mean(axis=1),
        driving=np.minimum(timeline.driving + timeline.idling, 1.0),
        plugged=timeline.plugged,
        temp_c=prepared.sky.weather.temp_air,
        soc=0.5 * (ran.soc[1:] + ran.soc[:-1]),
    )


def _offered(offers: Offers, kind: str) -> Floats:
    """What the sources of a kind offer, those of an engine as long as it runs. [W], (H, D)"""
    shape = offers.wanted_w.shape[1:]
    found = np.zeros(shape)
    for source in offers.sources:
        if source.kind == kind:
            found = found + source.offered_w
    return found


def _clear(prepared: PreparedTrip) -> TripSky:
    """A cloudless sky over a trip."""
    sky = prepared.sky
    mean_c = sky.weather.temp_air.mean(axis=1, keepdims=True)
    return TripSky(sky.track, sky.sun, clear_weather(sky.track, sky.sun, mean_c))


def _under(job: Job, trip: Trip, prepared: PreparedTrip, above: TripSky) -> Floats:
    """What the panels could give under one sky. [W], shape (H,)"""
    one = prepare_trip(job, trip, above=above)
    return np.asarray(_offered(offers_of(one, [design_of(job)]), SUN).mean(axis=1))


def _joined(parts: Sequence[Expected]) -> Expected:
    """One trip after the other; draws that one of them lacks are left out of all."""
    if len(parts) == 1:
        return parts[0]
    draws = min(part.soc.shape[1] for part in parts)
    joined: dict[str, Any] = {}
    for field in fields(Expected):
        values: list[Any] = [getattr(part, field.name) for part in parts]
        if any(value is None for value in values):
            joined[field.name] = None
            continue
        values = [value[:, :draws] if value.ndim == 2 else value for value in values]
        joined[field.name] = np.concatenate(values)
    return Expected(**joined)
