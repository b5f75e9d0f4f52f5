"""Trips laid out by hand, and what the timeline makes of them.

Dates of clock changes in 2027, from the rules of the places: United States, second Sunday of
March (14th) and first of November (7th), at 2:00 local time; European Union, last Sunday of
March (28th) and of October (31st), at 1:00 UTC; Lord Howe Island, first Sunday of October (3rd)
forward and of April (4th) back, by half an hour, at 2:00 local time.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from sim.job.model.changes import with_values
from sim.job.model.job import Job, Trip
from sim.job.model.power import Alternator
from sim.sky.climate.wind import monthly_wind
from sim.trip.stays import lay_out
from sim.trip.timeline import Timeline, build_timeline, within

STEPS = (5, 6, 10, 12, 15, 20, 30, 60)
PAGE, MOAB = "36.91, -111.46", "38.57, -109.55"  # Arizona has no summer time, Utah has
BERLIN, LORD_HOWE, DELHI, KATHMANDU = "52.52, 13.41", "-31.55, 159.08", "28.61, 77.21", "27.7, 85.3"
Lay = Callable[..., Timeline]


def trip_of(depart: str, *stops: dict[str, Any], **more: Any) -> Trip:
    return Trip.model_validate({"name": "Trip", "depart": depart, "stops": stops, **more})


@pytest.fixture
def lay(job: Job) -> Lay:
    """Lays out a trip in the small job: two people, awake 07:30-22:30, out 10:30-16:30."""

    def build(trip: Trip, step: int = 60, **living: Any) -> Timeline:
        changed = with_values(
            job,
            {
                "settings": with_values(job.settings, {"step_minutes": step}),
                "living": with_values(job.living, living),
            },
        )
        return build_timeline(changed, trip)

    return build


def hours(timeline: Timeline, name: str) -> float:
    return float(getattr(timeline, name).sum() * timeline.step_hours)


def utc(text: str) -> dt.datetime:
    return dt.datetime.fromisoformat(text).replace(tzinfo=dt.UTC)


# --- a trip by hand -----------------------------------------------------------------------------


def weekend() -> Trip:
    """Page to Moab in four and a half hours, an hour lost on the way, two nights."""
    stop = {"place": MOAB, "nights": 2, "drive_hours": 4.5, "shade_pct": 40.0, "horizon_deg": 9.0}
    return trip_of("2027-05-07", stop, start=PAGE)


def test_a_weekend_by_hand(lay: Lay) -> None:
    line = lay(weekend())
    (stay,) = line.stays
    assert stay.label == MOAB
    assert stay.zone == "America/Denver"
    assert stay.leg_starts == utc("2027-05-07 17:00")  # 10:00 at UTC-7
    assert stay.arrives == utc("2027-05-07 21:30")  # 15:30 at UTC-6
    assert stay.leaves == utc("2027-05-09 16:00")  # 10:00 at UTC-6
    assert len(line) == 47
    assert line.step_hours == 1.0
    assert line.start_utc[0] == np.datetime64("2027-05-07T17:00")
    assert set(np.diff(line.start_utc)) == {np.timedelta64(3600, "s")}
    assert_array_equal(line.driving, [1, 1, 1, 1, 0.5] + [0] * 42)
    assert_array_equal(line.utc_offset_minutes, [-420] * 5 + [-360] * 42)
    # 14:00 to 14:30 on the road by Arizona's clock, then 15:30 to 16:00 by Utah's
    assert_array_equal(line.clock[4], [*range(840, 870), *range(930, 960)])
    assert_allclose(line.shade, [0, 0, 0, 0, 0.2] + [0.4] * 42)
    # in the middle of the fifth hour the van has just arrived
    assert_array_equal(line.horizon_deg, [0] * 4 + [9] * 43)
    assert_array_equal(line.plugged, [0] * 47)
    # awake 10:00-14:30 on the road, 16:30-22:30, 07:30-10:30, 16:30-22:30, 07:30-10:00
    assert hours(line, "awake") == pytest.approx(4.5 + 6 + 3 + 6 + 2.5)
    assert hours(line, "asleep") == pytest.approx(9 + 9)
    assert hours(line, "people") == pytest.approx(2 * (22 + 18))
    # hours beginning at 15:30 (half of it on the road), 16:00, ... by Utah's clock
    assert_array_equal(line.awake[4:8], [0.5, 0.5, 1, 1])
    assert_array_equal(line.people[4:8], [1, 1, 2, 2])


def test_the_van_moves_along_the_way(lay: Lay) -> None:
    # on the equator the great circle is the equator: a degree of longitude an hour
    stop = {"place": "0, 20", "nights": 1, "drive_hours": 10.0}
    line = lay(trip_of("2027-05-07", stop, start="0, 10"))
    assert_allclose(line.latitude, 0.0, atol=1e-9)
    assert_allclose(line.longitude[:10], np.arange(10) + 10.5, atol=1e-9)
    assert_array_equal(line.longitude[10:], 20.0)


def test_the_van_moves_across_the_date_line(lay: Lay) -> None:
    stop = {"place": "-16.8, -179.9", "nights": 1, "drive_hours": 4.0}
    line = lay(trip_of("2027-05-07", stop, start="-16.8, 179.9"))
    assert_allclose(line.longitude[:4] % 360.0, [179.925, 179.975, 180.025, 180.075], atol=1e-3)
    assert np.all(np.abs(line.longitude) <= 180.0)


def test_a_ferry_moves_the_van_at_once(lay: Lay) -> None:
    stops = (
        {"place": "0, 0", "nights": 1},
        {"place": "0, 180", "nights": 1, "drive_hours": 0.0},  # the far side of the Earth
    )
    line = lay(trip_of("2027-05-07", *stops))
    assert set(line.longitude) == {0.0, 180.0}
    assert hours(line, "driving") == 0.0


# --- clocks -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("depart", "place", "elapsed", "before", "after"),
    [
        ("2027-03-13", MOAB, 23.0, -420, -360),
        ("2027-11-06", MOAB, 25.0, -360, -420),
        ("2027-03-27", BERLIN, 23.0, 60, 120),
        ("2027-10-30", BERLIN, 25.0, 120, 60),
        ("2027-10-02", LORD_HOWE, 23.5, 630, 660),
        ("2027-04-03", LORD_HOWE, 24.5, 660, 630),
        ("2027-03-13", PAGE, 24.0, -420, -420),
        ("2027-03-13", DELHI, 24.0, 330, 330),
        ("2027-03-13", KATHMANDU, 24.0, 345, 345),
        ("2027-12-31", MOAB, 24.0, -420, -420),
        ("2028-02-28", MOAB, 24.0, -420, -420),
    ],
)
@pytest.mark.parametrize("step", [5, 60])
def test_a_night_lasts_until_the_same_local_time(
    depart: str, place: str, elapsed: float, before: int, after: int, step: int, lay: Lay
) -> None:
    line = lay(trip_of(depart, {"place": place, "nights": 1}), step)
    (stay,) = line.stays
    zone = ZoneInfo(stay.zone)
    start, end = stay.leg_starts.astimezone(zone), stay.leaves.astimezone(zone)
    assert (start.isoformat()[:16], end.time()) == (f"{depart}T10:00", dt.time(10))
    assert end.date() - start.date() == dt.timedelta(days=1)
    assert (stay.leaves - stay.arrives) == dt.timedelta(hours=elapsed)
    assert len(line) == -(-elapsed * 60 // step)
    assert (line.utc_offset_minutes[0], line.utc_offset_minutes[-1]) == (before, after)
    assert line.clock[0, 0] == 600
    # the clock of every step is the one on the wall there
    for second, offset, clock in zip(
        line.start_utc.astype(int), line.utc_offset_minutes, line.clock[:, 0], strict=True
    ):
        local = dt.datetime.fromtimestamp(int(second), zone)
        assert local.utcoffset() == dt.timedelta(minutes=int(offset))
        assert local.hour * 60 + local.minute == clock


def test_a_clock_change_in_the_middle_of_a_step(lay: Lay) -> None:
    # steps begin at ten past; the hour from 2 to 3 is skipped in spring, 1 to 2 comes twice
    spring = lay(trip_of("2027-03-13", {"place": MOAB, "nights": 1}, leave_at="09:10"))
    autumn = lay(trip_of("2027-11-06", {"place": MOAB, "nights": 1}, leave_at="09:10"))
    assert_array_equal(spring.clock[16], [*range(70, 120), *range(180, 190)])
    assert_array_equal(autumn.clock[16], [*range(70, 120), *range(60, 70)])
    for line, windows in (
        (spring, {(60, 120): 1.0, (120, 180): 0.0, (180, 240): 1.0}),
        (autumn, {(60, 120): 2.0, (120, 180): 1.0, (180, 240): 1.0}),
    ):
        for window, expected in windows.items():
            assert line.share_within([window]).sum() == pytest.approx(expected)


def test_a_time_that_is_skipped_or_comes_twice() -> None:
    stop = {"place": MOAB, "nights": 1, "leave_at": "02:30"}
    (skipped,) = lay_out(trip_of("2027-03-13", stop))
    assert skipped.leaves == utc("2027-03-14 09:30")  # 03:30 summer time
    (twice,) = lay_out(trip_of("2027-11-06", {**stop, "leave_at": "01:30"}))
    assert twice.leaves == utc("2027-11-07 07:30")  # 01:30 summer time, the first of the two


def test_leap_day_and_year_end() -> None:
    (leap,) = lay_out(trip_of("2028-02-28", {"place": MOAB, "nights": 2}))
    assert leap.leaves == utc("2028-03-01 17:00")
    (no_leap,) = lay_out(trip_of("2027-02-28", {"place": MOAB, "nights": 1}))
    assert no_leap.leaves == utc("2027-03-01 17:00")
    (new_year,) = lay_out(trip_of("2027-12-31", {"place": MOAB, "nights": 1}))
    assert new_year.leaves == utc("2028-01-01 17:00")
    (on_leap_day,) = lay_out(trip_of("2028-02-29", {"place": MOAB, "nights": 366}))
    assert on_leap_day.leaves == utc("2029-03-01 17:00")


def test_a_whole_year_ends_at_the_same_hour(lay: Lay) -> None:
    line = lay(trip_of("2027-05-07", {"place": MOAB, "nights": 366}))
    assert len(line) == 366 * 24
    changes = line.start_utc[1:][np.diff(line.utc_offset_minutes) != 0]
    assert_array_equal(changes, np.array(["2027-11-07T08", "2028-03-12T09"], dtype="datetime64[s]"))


def test_people_live_by_the_clock_of_the_last_place_until_they_arrive(lay: Lay) -> None:
    stops = (
        {"place": PAGE, "nights": 1, "drive_hours": 5.0},
        {"place": MOAB, "nights": 0, "drive_hours": 5.0},
        {"place": PAGE, "nights": 1, "drive_hours": 5.0},
    )
    line = lay(trip_of("2027-05-07", *stops, start=MOAB))
    assert_array_equal(
        line.utc_offset_minutes,
        [-360] * 5 + [-420] * (20 + 5) + [-360] * 5 + [-420] * (len(line) - 35),
    )


# --- arrivals and departures --------------------------------------------------------------------


@pytest.mark.parametrize(
    ("leave_at", "drive_hours", "stop_leave_at", "leaves"),
    [
        ("22:00", 4.0, "10:00", "2027-05-08 10:00"),  # in at 02:00: the evening before counts
        ("22:00", 6.99, "10:00", "2027-05-08 10:00"),  # in at 04:59
        ("22:00", 7.0, "10:00", "2027-05-09 10:00"),  # in at 05:00: a new day
        ("22:00", 4.0, "01:00", "2027-05-09 01:00"),  # in at 02:00, out at 01:00
        ("10:00", 1.0, "24:00", "2027-05-09 00:00"),
        ("24:00", 1.0, "10:00", "2027-05-08 10:00"),  # leaves at midnight, in at 01:00
    ],
)
def test_a_night_begins_with_the_evening_it_belongs_to(
    leave_at: str, drive_hours: float, stop_leave_at: str, leaves: str
) -> None:
    stop = {
        "place": PAGE,
        "nights": 1,
        "drive_hours": drive_hours,
        "leave_at": stop_leave_at,
    }
    (stay,) = lay_out(trip_of("2027-05-07", stop, leave_at=leave_at))
    local = stay.leaves.astimezone(ZoneInfo("America/Phoenix"))
    assert local.strftime("%Y-%m-%d %H:%M") == leaves


def test_a_stop_without_nights_is_left_on_arrival(lay: Lay) -> None:
    stops = (
        {"place": PAGE, "nights": 0, "drive_hours": 1.25},
        {"place": PAGE, "nights": 1, "drive_hours": 2.5},
        {"place": PAGE, "nights": 0, "drive_hours": 0.75},
    )
    line = lay(trip_of("2027-05-07", *stops))
    first, second, third = line.stays
    assert first.leaves == first.arrives == second.leg_starts == utc("2027-05-07 18:15")
    assert second.arrives == utc("2027-05-07 20:45")
    assert third.leaves == third.arrives == utc("2027-05-08 17:45")
    assert_array_equal(line.stop, [0] * 1 + [1] * 23 + [2])
    assert_array_equal(line.driving, [1, 1, 1, 0.75] + [0] * 20 + [0.75])


def test_a_departure_at_an_odd_minute(lay: Lay) -> None:
    line = lay(trip_of("2027-05-07", {"place": PAGE, "nights": 1}, leave_at="09:10"), 60)
    assert line.start_utc[0] == np.datetime64("2027-05-07T16:10")
    assert line.clock[0, 0] == 550
    assert len(line) == 24
    # out from 10:30, twenty minutes into the second step
    assert_allclose(line.people[:3], [2, 2 * 20 / 60, 0])
    # awake until 22:30
    assert_allclose(line.awake[13], 20 / 60)
    assert_allclose(line.asleep[13], 40 / 60)


def test_the_last_step_is_filled_up_at_the_last_stop(lay: Lay) -> None:
    stop = {"place": PAGE, "nights": 1, "leave_at": "10:20", "plug_in": "always"}
    line = lay(trip_of("2027-05-07", stop))
    assert len(line) == 25
    assert line.driving[-1] == 0
    assert line.plugged[-1] == pytest.approx(20 / 60)
    assert line.people[-1] == pytest.approx(2 * 30 / 60)  # out from 10:30


# --- what happens at a stop ---------------------------------------------------------------------


def test_local_driving_on_the_days_between(lay: Lay) -> None:
    stop = {"place": PAGE, "nights": 3, "drive_hours": 2.0, "local_drive_hours": 1.5}
    line = lay(trip_of("2027-05-07", stop, leave_at="09:10"))
    # not on the day of arrival, in at 11:10, nor on the last, out at 09:10
    assert hours(line, "driving") == pytest.approx(2.0 + 2 * 1.5)
    assert_array_equal(np.flatnonzero(line.driving), [0, 1, 24, 25, 48, 49])
    assert_array_equal(line.driving[24:26], [1, 0.5])
    # back at 10:40: until then everybody is aboard, though the day has them out from 10:30
    assert line.people[25] == pytest.approx(2.0 * 30 / 60)


def test_the_same_hours_in_several_drives(lay: Lay) -> None:
    stop = {"place": PAGE, "nights": 2, "drive_hours": 2.0, "local_drive_hours": 1.5}
    once = lay(trip_of("2027-05-07", stop, leave_at="09:00"))
    thrice = lay(trip_of("2027-05-07", {**stop, "local_drives": 3}, leave_at="09:00"))
    assert hours(thrice, "driving") == pytest.approx(hours(once, "driving"))
    # Half an hour each, three hours apart: 09:00, 12:00, 15:00 of the day between.
    assert_array_equal(np.flatnonzero(thrice.driving), [0, 1, 24, 27, 30])
    assert_array_equal(thrice.driving[[24, 27, 30]], [0.5, 0.5, 0.5])


def test_drives_longer_than_the_day_out_follow_one_another(lay: Lay) -> None:
    stop = {"place": PAGE, "nights": 2, "local_drive_hours": 12.0, "local_drives": 8}
    line = lay(trip_of("2027-05-07", stop, leave_at="06:00"))
    assert hours(line, "driving") == pytest.approx(24.0)


def test_the_engine_of_a_parked_van(lay: Lay) -> None:
    stop = {"place": PAGE, "nights": 2, "drive_hours": 2.0, "idle_hours": 1.5, "idle_at": "23:30"}
    line = lay(trip_of("2027-05-07", stop, leave_at="10:00"))
    assert hours(line, "idling") == pytest.approx(3.0)
    assert_array_equal(np.flatnonzero(line.idling), [13, 14, 37, 38])
    assert not (line.idling * line.driving).any()
    # The van does not move, and nobody is on the road.
    assert hours(line, "driving") == pytest.approx(2.0)


def test_an_engine_on_the_road_does_not_idle_in_camp(lay: Lay) -> None:
    stop = {"place": PAGE, "nights": 2, "drive_hours": 2.0, "local_drive_hours": 1.0}
    idling = {"idle_hours": 2.0, "idle_at": "09:30"}
    line = lay(trip_of("2027-05-07", {**stop, **idling}, leave_at="10:00"))
    # 09:30 to 10:00 and 11:00 to 11:30 of the day between; half an hour before leaving.
    assert hours(line, "idling") == pytest.approx(1.5)


def test_a_start_takes_its_minutes(job: Job) -> None:
    """Two minutes for the engine's own battery after each start; a drive that follows an hour
    of idling without a stop is none."""
    charged = with_values(job, {"alternator": (Alternator(dcdc_amps=30),)})
    stop = {"place": PAGE, "nights": 2, "drive_hours": 2.0, "local_drive_hours": 1.0}
    line = build_timeline(charged, trip_of("2027-05-07", stop, leave_at="10:00"))
    assert line.starting is not None
    assert_array_equal(np.flatnonzero(line.starting[0]), [0, 24])
    assert line.starting.sum() == pytest.approx(2 * 2 / 60)
    assert line.engine.sum() == pytest.approx(3.0 - 2 * 2 / 60)
    idle = {"idle_hours": 1.0, "idle_at": "09:00"}
    line = build_timeline(charged, trip_of("2027-05-07", {**stop, **idle}, leave_at="10:00"))
    assert line.starting is not None
    assert_array_equal(np.flatnonzero(line.starting[0]), [0])
    assert_array_equal(np.flatnonzero(line.starting[1]), [23, 47])


def test_a_pause_halfway(lay: Lay) -> None:
    """Four hours with an hour's rest: in at three, the van stands from noon to one in the open."""
    stop = {"place": MOAB, "nights": 1, "drive_hours": 4.0, "shade_pct": 50.0, "horizon_deg": 9.0}
    straight = lay(trip_of("2027-05-07", stop, start=PAGE, leave_at="10:00"))
    paused = lay(trip_of("2027-05-07", {**stop, "pause_hours": 1.0}, start=PAGE, leave_at="10:00"))
    assert_array_equal(paused.driving[:6], [1, 1, 0, 1, 1, 0])
    assert hours(paused, "driving") == hours(straight, "driving") == 4.0
    assert_array_equal(paused.shade[:6], [0, 0, 0, 0, 0, 0.5])
    assert_array_equal(paused.horizon_deg[:6], [0, 0, 0, 0, 0, 9.0])
    # It stands where two hours brought it, and arrives where it did.
    assert paused.latitude[2] == pytest.approx(
        (straight.latitude[1] + straight.latitude[2]) / 2, abs=1e-3
    )
    assert_allclose(paused.latitude[3:6], straight.latitude[2:5], atol=1e-9)
    assert paused.stays[0].arrives == straight.stays[0].arrives + dt.timedelta(hours=1)
    assert paused.stays[0].leaves == straight.stays[0].leaves


def test_local_driving_past_midnight_and_on_arrival(lay: Lay) -> None:
    stop = {
        "place": PAGE,
        "nights": 2,
        "drive_hours": 13.5,
        "local_drive_hours": 2.0,
        "leave_at": "23:00",
    }
    # in at 23:30, half an hour into the window; out at 23:00
    line = lay(trip_of("2027-05-07", stop))
    assert hours(line, "driving") == pytest.approx(13.5 + 1.5 + 2.0)


def test_plugged_in_of_nights(lay: Lay) -> None:
    stop = {"place": PAGE, "nights": 2, "drive_hours": 10.0, "plug_in": "nights"}
    line = lay(trip_of("2027-05-07", stop))
    # in at 20:00, plugged until 08:00, then 18:00 to 08:00
    assert hours(line, "plugged") == pytest.approx(12 + 14)
    assert_array_equal(np.flatnonzero(line.plugged), [*range(10, 22), *range(32, 46)])


def test_plugged_in_always_but_for_local_driving(lay: Lay) -> None:
    stop = {
        "place": PAGE,
        "nights": 2,
        "drive_hours": 1.0,
        "local_drive_hours": 0.5,
        "plug_in": "always",
    }
    line = lay(trip_of("2027-05-07", stop))
    assert hours(line, "plugged") == pytest.approx(47 - 0.5)
    assert np.all(line.plugged + line.driving <= 1.0)


def test_one_stop_gives_way_to_the_next_within_a_step(lay: Lay) -> None:
    stops = (
        {"place": PAGE, "nights": 1, "leave_at": "10:15", "shade_pct": 80.0, "horizon_deg": 20.0},
        {"place": PAGE, "nights": 1, "drive_hours": 0.5, "shade_pct": 20.0, "horizon_deg": 10.0},
    )
    line = lay(trip_of("2027-05-07", *stops))
    # 15 minutes under 80 %, 30 on the road, 15 under 20 %; the middle is on the road
    assert line.shade[24] == pytest.approx(0.8 * 0.25 + 0.2 * 0.25)
    assert line.driving[24] == pytest.approx(0.5)
    assert (line.horizon_deg[23], line.horizon_deg[24], line.horizon_deg[25]) == (20, 0, 10)


def test_windows_of_the_day() -> None:
    clock = np.arange(1440, dtype=np.int16).reshape(24, 60)
    cases: dict[tuple[tuple[int, int], ...], float] = {
        ((420, 480),): 1.0,
        ((1320, 120),): 4.0,  # past midnight
        ((1320, 1440),): 2.0,
        ((1440, 120),): 2.0,  # from 24:00
        ((1320, 0),): 2.0,
        ((0, 1440),): 24.0,
        ((420, 480), (450, 510)): 1.5,  # what overlaps counts once
        (): 0.0,
    }
    for windows, expected in cases.items():
        assert within(clock, windows).mean(axis=1).sum() == pytest.approx(expected)


# --- the length of the step ---------------------------------------------------------------------


def busy(leave_at: str) -> Trip:
    """A trip with something of everything, at odd minutes, over the night of a clock change."""
    stops = (
        {"place": MOAB, "nights": 2, "drive_hours": 4.15, "local_drive_hours": 0.7},
        {"place": PAGE, "nights": 0, "drive_hours": 3.35},
        {"place": PAGE, "nights": 3, "drive_hours": 1.9, "plug_in": "nights", "shade_pct": 35.0},
        {
            "place": MOAB,
            "nights": 2,
            "drive_hours": 4.0,
            "leave_at": "08:25",
            "local_drive_hours": 2.0,
            "plug_in": "always",
        },
    )
    return trip_of("2027-03-12", *stops, start=PAGE, leave_at=leave_at)


@pytest.mark.parametrize("leave_at", ["10:00", "09:10", "23:37"])
def test_the_step_does_not_change_how_much_happens(leave_at: str, lay: Lay) -> None:
    fine = lay(busy(leave_at), 5)
    length = (fine.stays[-1].leaves - fine.stays[0].leg_starts).total_seconds() / 3600.0
    for step in STEPS:
        line = lay(busy(leave_at), step)
        assert line.stays == fine.stays
        assert len(line) == -(-length * 60 // step)
        for name in ("driving", "plugged"):
            assert hours(line, name) == pytest.approx(hours(fine, name), abs=1e-9)
        # what the last step is filled up with is all that may differ
        filled = len(line) * line.step_hours - length
        for name in ("awake", "asleep", "shade"):
            assert abs(hours(line, name) - hours(fine, name)) <= filled + 5 / 60
        windows = [(23 * 60 + 5, 100), (700, 701)]
        shares = float(line.share_within(windows).sum() * line.step_hours)
        assert abs(shares - fine.share_within(windows).sum() / 12.0) <= filled + 5 / 60


def test_without_filling_up_nothing_differs(lay: Lay) -> None:
    whole = trip_of(
        "2027-05-07",
        {"place": MOAB, "nights": 3, "drive_hours": 4.45, "local_drive_hours": 0.7},
        start=MOAB,
        leave_at="09:25",
    )
    fine = lay(whole, 5)
    for step in STEPS:
        line = lay(whole, step)
        assert len(line) * step == 72 * 60
        for name in ("driving", "awake", "asleep", "people"):
            assert hours(line, name) == pytest.approx(hours(fine, name), abs=1e-9)
        if step % 5 == 0:
            gathered = fine.awake.reshape(len(line), -1).mean(axis=1)
            assert_allclose(line.awake, gathered, atol=1e-12)


@pytest.mark.parametrize("step", STEPS)
def test_count_and_shape_of_the_steps(step: int, lay: Lay) -> None:
    line = lay(weekend(), step)
    assert len(line) == 47 * 60 // step
    assert line.clock.shape == (len(line), step)
    for name in ("driving", "plugged", "awake", "asleep", "people", "shade", "horizon_deg"):
        values = getattr(line, name)
        assert values.shape == (len(line),)
        assert values.dtype == np.float64
        assert np.all(values >= 0.0)
    assert np.all(line.awake + line.asleep <= 1.0 + 1e-12)
    assert hours(line, "driving") == pytest.approx(4.5)


# --- far places ---------------------------------------------------------------------------------


@pytest.mark.parametrize("place", ["90, 0", "-90, 0", "78.22, 15.65", "-77.85, 166.67"])
def test_polar_places(place: str, lay: Lay) -> None:
    north = float(place.split(",")[0])
    stop = {"place": place, "nights": 2, "drive_hours": 6.0}
    line = lay(trip_of("2027-12-20", stop, start=f"{north * 0.98:.4f}, 20"))
    assert np.all(np.isfinite(line.latitude) & np.isfinite(line.longitude))
    assert np.all(np.abs(line.latitude) <= 90.0)
    assert line.latitude[-1] == north
    assert line.stays[0].leaves - line.stays[0].arrives > dt.timedelta(hours=24)


def test_a_step_longer_than_the_trip(lay: Lay) -> None:
    line = lay(trip_of("2027-05-07", {"place": PAGE, "nights": 0, "drive_hours": 0.25}))
    assert len(line) == 1
    assert line.driving[0] == 0.25


def test_the_wind_is_the_months_and_the_stops(small_job: str, edited: Callable[..., Job]) -> None:
    """From July into August: the climate's at a stop that gives none, and one number of the job
    or of a stop over it."""
    end = (
        '\n[[trips.stops]]\nplace = "39.72, -104.75"\nnights = 2\nwind_m_s = 9.0\ndrive_hours = 6\n'
    )
    dates = ("2027-05-07", "2027-07-31")
    job = edited(small_job, dates, end=end)
    line = build_timeline(job, job.trips[0])
    here = line.stop == 0
    month = (line.start_utc + line.utc_offset_minutes.astype("timedelta64[m]")).astype(
        "datetime64[M]"
    )
    july = month == np.datetime64("2027-07")
    climate = monthly_wind(np.array([38.57]), np.array([-109.55]))[0]
    assert july[here].any()
    np.testing.assert_allclose(line.wind_m_s[here & july], climate[6])
    np.testing.assert_allclose(line.wind_m_s[here & ~july], climate[7])
    np.testing.assert_allclose(line.wind_m_s[~here], 9.0)
    calm = edited(small_job, dates, end=end + "\n[settings]\nwind_m_s = 1.5\n")
    line = build_timeline(calm, calm.trips[0])
    assert set(line.wind_m_s.tolist()) == {1.5, 9.0}
