"""Whatever is in a job file, it loads or is told in one sentence a fault; time adds up."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from sim.errors import Fault, JobError
from sim.job.model.changes import with_values
from sim.job.model.fields import ENTRY_UNITS, Unit
from sim.job.model.job import Job, Trip
from sim.job.reading.load import load_job
from sim.resources import profiles_dir
from sim.trip.timeline import build_timeline, within

DEMO = (profiles_dir() / "jobs" / "demo.toml").read_text("utf-8")
# Words of the validating library that no builder should meet.
JARGON = ("pydantic", "Input should", "type=", "tagged", "union", "discriminator", "Traceback")

# --- job files ----------------------------------------------------------------------------------

Edit = Callable[[list[str]], None]

scraps = st.sampled_from(
    [
        *("=", "[", "]]", "{", "}", '"', "'", "#", ",", "\\", '"""', "'''", "\t", "\x00", "é", "“"),
        *("-", "1", "x", "_", ".", " ", "\r", "\u2028", "\ufeff", "\x1b[31m"),
        *("[van]", "[[van]]", "[[trips]]", "[trips]", "[[trips.stops]]", "[trips.stops]"),
        *('use = "phones"', 'kind = "fan"', "a.b.c = 3", "length_ft = 9", "day_c = 20", "= 3"),
    ]
) | st.text(max_size=4)
values = st.sampled_from(
    [
        *("nan", "-inf", "0", "-1", "1.5", "1e400", "9" * 30, "9" * 5000, "0x" + "f" * 5000),
        *("true", "[]", "{}", "[1]", "[[1, 2], {a = 1}]", "{ use = 'phones' }", '""', '"x"'),
        *("2027-02-30", "2027-02-28", "0001-01-01", "2099-12-31", "2027-01-01T00:00:00Z"),
        *("07:30:00", '"24:00"', '"7:30 pm"', '"22:00-06:00"', '["22:00-06:00", "12:00-12:00"]'),
        *('"lifepo4-100"', '"Moab, UT"', '"Springfield"', '"95, 0"', '"90, 0"', '"-90, 180"'),
        *('"' + "x" * 10_000 + '"', '"a\\u0000b"', "'''two\nlines'''", "366", "48", "60.0"),
    ]
)
at = st.integers(0, 10_000)


def drop(where: int) -> Edit:
    def edit(lines: list[str]) -> None:
        del lines[where % len(lines)]

    return edit


def copy(source: int, target: int) -> Edit:
    def edit(lines: list[str]) -> None:
        lines.insert(target % len(lines), lines[source % len(lines)])

    return edit


def insert(where: int, column: int, text: str) -> Edit:
    def edit(lines: list[str]) -> None:
        line = lines[where % len(lines)]
        column_there = column % (len(line) + 1)
        lines[where % len(lines)] = line[:column_there] + text + line[column_there:]

    return edit


def swap_value(where: int, text: str) -> Edit:
    def edit(lines: list[str]) -> None:
        with_values = [index for index, line in enumerate(lines) if " = " in line]
        if with_values:
            index = with_values[where % len(with_values)]
            lines[index] = f"{lines[index].partition(' = ')[0]} = {text}"

    return edit


edits = st.one_of(
    st.builds(drop, at),
    st.builds(copy, at, at),
    st.builds(insert, at, at, scraps),
    st.builds(swap_value, at, values),
)


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("property") / "job.toml"


def loads_or_tells(text: str, file: Path) -> None:
    file.write_bytes(text.encode("utf-8"))
    faults: tuple[Fault, ...] = ()
    try:
        job = load_job(file)
    except JobError as error:
        faults = error.faults
    else:
        for trip in job.trips:
            assert len(build_timeline(job, trip)) > 0
        return
    assert faults
    for fault in faults:
        sentence = str(fault)
        assert fault.file == str(file)
        assert fault.rule
        assert sentence.isprintable()
        assert len(sentence) < 1500
        assert not [word for word in JARGON if word in sentence]
        # A key or section that is not there has no line, nor has a file as a whole.
        assert fault.line is None or 1 <= fault.line <= text.count("\n") + 1
    keys = [fault.key for fault in faults if fault.key is not None]
    assert len(keys) == len(set(keys)), "two sentences on one fault"
    lines = [fault.line or 0 for fault in faults]
    assert lines == sorted(lines)


@settings(max_examples=200)
@given(st.lists(edits, min_size=1, max_size=3))
def test_a_changed_demo_loads_or_is_told(file: Path, changes: list[Edit]) -> None:
    lines = DEMO.split("\n")
    for change in changes:
        change(lines)
        lines = "\n".join(lines or [""]).split("\n")
    loads_or_tells("\n".join(lines), file)


@given(st.text(max_size=200))
def test_any_text_is_told(file: Path, text: str) -> None:
    loads_or_tells(text, file)


@given(st.binary(max_size=200))
def test_any_bytes_are_told(file: Path, raw: bytes) -> None:
    file.write_bytes(raw)
    with pytest.raises(JobError):
        load_job(file)


# --- units --------------------------------------------------------------------------------------


@given(st.sampled_from(ENTRY_UNITS), st.floats(-1e6, 1e6))
def test_units_come_back(unit: Unit, value: float) -> None:
    assert unit.from_si(unit.to_si(value)) == pytest.approx(value, rel=1e-12, abs=1e-9)
    assert unit.to_si(unit.from_si(value)) == pytest.approx(value, rel=1e-12, abs=1e-9)


@given(st.sampled_from(ENTRY_UNITS), st.floats(-1e6, 1e6), st.floats(0, 1e6))
def test_units_keep_the_order(unit: Unit, value: float, more: float) -> None:
    assert unit.to_si(value + more) >= unit.to_si(value)


# --- time ---------------------------------------------------------------------------------------

STEPS = (5, 6, 10, 12, 15, 20, 30, 60)
# Zones with whole, half and quarter hours, with and without summer time, north and south.
PLACES = (
    *("38.57, -109.55", "36.91, -111.46", "52.52, 13.41", "-31.55, 159.08", "28.61, 77.21"),
    *("27.7, 85.3", "-43.95, -176.56", "31.63, -8", "71, 25.8", "-36.85, 174.76"),
)
minutes = st.integers(0, 1440)


def in_words(minute: int) -> str:
    """A time of day as a job file writes it."""
    return f"{minute // 60:02d}:{minute % 60:02d}"


clocks = minutes.map(in_words)
windows = st.lists(
    st.tuples(minutes, minutes).filter(lambda w: w[0] % 1440 != w[1] % 1440), max_size=4
)
dates = st.dates(dt.date(2020, 1, 1), dt.date(2035, 12, 31))
stops = st.fixed_dictionaries(
    {
        "place": st.sampled_from(PLACES),
        "nights": st.integers(0, 2),
        "drive_hours": st.floats(0, 9).map(lambda value: round(value, 3)),
        "plug_in": st.sampled_from(["never", "nights", "always"]),
        "local_drive_hours": st.sampled_from([0.0, 0.4, 3.0]),
    },
    optional={"leave_at": clocks},
)
trips = st.fixed_dictionaries(
    {
        "name": st.just("Trip"),
        "depart": dates,
        "leave_at": clocks,
        "stops": st.lists(stops, min_size=1, max_size=3).map(tuple),
    },
    optional={"start": st.sampled_from(PLACES)},
)


def changed(job: Job, step: int, **living: object) -> Job:
    return with_values(
        job,
        {
            "settings": with_values(job.settings, {"step_minutes": step}),
            "living": with_values(job.living, living),
        },
    )


def inside(clock: int, parts: list[tuple[int, int]]) -> bool:
    """Whether a minute of the day lies in any part of it, by comparing alone."""
    return any(
        start <= clock < end if start < end else clock >= start or clock < end
        for start, end in parts
    )


@given(st.integers(0, 1439), windows)
def test_windows_by_comparison(clock: int, parts: list[tuple[int, int]]) -> None:
    assert bool(within(np.array([clock], dtype=np.int16), parts)[0]) == inside(clock, parts)


@settings(max_examples=30)
@given(st.sampled_from(PLACES), dates, clocks, st.sampled_from(STEPS), windows)
def test_shares_by_counting_minutes(
    job: Job,
    place: str,
    depart: dt.date,
    leave_at: str,
    step: int,
    parts: list[tuple[int, int]],
) -> None:
    stop = {"place": place, "nights": 2}
    trip = Trip.model_validate(
        {"name": "Trip", "depart": depart, "leave_at": leave_at, "stops": (stop,)}
    )
    line = build_timeline(changed(job, step), trip)
    zone = ZoneInfo(trip.stops[0].place.time_zone)
    counted = []
    for start in line.start_utc.astype(np.int64).tolist():
        local = [dt.datetime.fromtimestamp(start + 60 * m, zone) for m in range(step)]
        counted.append(sum(inside(t.hour * 60 + t.minute, parts) for t in local) / step)
    assert_allclose(line.share_within(parts), counted, atol=1e-12)


@settings(max_examples=40)
@given(trips, st.sampled_from(STEPS), clocks, clocks, windows)
def test_hours_add_up_minute_by_minute(
    job: Job,
    keys: dict[str, object],
    step: int,
    wake: str,
    sleep: str,
    out: list[tuple[int, int]],
) -> None:
    wake_at, sleep_at = (int(text[:2]) * 60 + int(text[3:]) for text in (wake, sleep))
    if wake_at % 1440 == sleep_at % 1440:
        sleep_at = wake_at + 1
    trip = Trip.model_validate(keys)
    line = build_timeline(
        changed(
            job,
            step,
            wake_at=in_words(wake_at),
            sleep_at=in_words(sleep_at),
            out=tuple(f"{in_words(start)}-{in_words(end)}" for start, end in out),
        ),
        trip,
    )
    end = max(line.stays[-1].leaves, line.stays[0].leg_starts + dt.timedelta(minutes=1))
    length = (end - line.stays[0].leg_starts) // dt.timedelta(minutes=1)
    assert length <= len(line) * step < length + step
    total = dict.fromkeys(("driving", "plugged", "awake", "asleep", "out"), 0)
    now = line.stays[0].leg_starts
    for _ in range(len(line) * step):
        for name in _doing(trip, line.stays, now, (wake_at, sleep_at), out):
            total[name] += 1
        now += dt.timedelta(minutes=1)
    away = 1.0 - line.people / job.living.people
    for name, values in (
        ("driving", line.driving),
        ("plugged", line.plugged),
        ("awake", line.awake),
        ("asleep", line.asleep),
        ("out", away),
    ):
        assert values.sum() * step == pytest.approx(total[name], abs=1e-6), name
    assert_allclose(line.awake + line.asleep + away, 1.0, atol=1e-12)
    assert np.all(line.plugged + line.driving <= 1.0 + 1e-12)


def _doing(trip, stays, now, awake_from_to, out):  # type: ignore[no-untyped-def]
    """What goes on in the minute that begins now, step by step and in words."""
    index = next((i for i, stay in enumerate(stays) if now < stay.leaves), len(stays) - 1)
    stop, stay = trip.stops[index], stays[index]
    on_leg = now < stay.arrives
    before = trip.stops[index - 1].place if index else (trip.start or stop.place)
    zone = ZoneInfo((before if on_leg else stop.place).time_zone)
    local = now.astimezone(zone)
    clock = local.hour * 60 + local.minute
    standing = stay.arrives <= now < stay.leaves
    leave = trip.leave_at if stop.leave_at is None else stop.leave_at
    minutes_about = round(60 * stop.local_drive_hours)
    about = standing and (clock - leave) % 1440 < minutes_about
    driving = on_leg or about
    if driving:
        yield "driving"
    is_night = clock >= 18 * 60 or clock < 8 * 60
    if (
        standing
        and not driving
        and (stop.plug_in == "always" or (stop.plug_in == "nights" and is_night))
    ):
        yield "plugged"
    if not driving and inside(clock, out):
        yield "out"
    else:
        yield "awake" if inside(clock, [awake_from_to]) else "asleep"
