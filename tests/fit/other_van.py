"""A van of its own making, minute by minute: nothing of it comes from `sim`.

Its sun is Cooper's declination with an equation of time, its clear sky the simplified Solis model
of pvlib with a haze of its own on every day (the program takes Ineichen's and a climatology), its
clouds a Markov chain of three states whose days are bright, mixed or dull, its battery a count of
ampere-hours behind a resistance, its refrigerator a straight line in the cabin's temperature, its
people late, early and uneven. What it writes is what a battery monitor writes. Faults are built
in; the fit has to find them.

Monthly sums of sun and temperatures are those of weather stations (typical years of NREL and
others, as in the project's climate study); figures of the van are those of its job file.
"""

from __future__ import annotations

import datetime as dt
from bisect import bisect_right
from dataclasses import dataclass, field
from zoneinfo import ZoneInfo

import numpy as np
from pvlib.clearsky import simplified_solis

DAY = 1440  # minutes
DISH_W = 60.0  # a dish in place of the router
STRING_OFF, MORNING_SHADE, STANDING, CAPACITY, FUSE, COUNTER, UTC = (
    "string off",
    "morning shade",
    "standing load",
    "capacity",
    "fuse blown",
    "counter",
    "utc",
)
FAULTS = (STRING_OFF, MORNING_SHADE, STANDING, CAPACITY, FUSE, COUNTER, UTC)


@dataclass(frozen=True)
class Site:
    """A weather station: monthly means of GHI [kWh/m2 day], temperature and daily range [deg C]."""

    name: str
    latitude: float
    longitude: float
    altitude_m: float
    zone: str
    ghi: tuple[float, ...]
    temp: tuple[float, ...]
    swing: float


SITES = (
    Site(
        "Albuquerque", 35.04, -106.62, 1619, "America/Denver",
        (3.13, 4.14, 5.09, 6.8, 7.17, 7.69, 7.39, 6.98, 5.8, 4.54, 3.41, 2.93),
        (2.6, 4.3, 8.8, 13.9, 17.8, 23.2, 25.6, 24.1, 20.5, 13.7, 7.0, 2.1), 14.3,
    ),
    Site(
        "Denver", 39.83, -104.65, 1650, "America/Denver",
        (2.5, 3.17, 4.66, 4.79, 6.33, 7.27, 6.72, 5.99, 5.18, 3.69, 2.46, 2.08),
        (0.8, -0.1, 6.1, 5.8, 15.5, 23.1, 22.3, 22.6, 19.2, 10.0, 2.9, 1.4), 14.3,
    ),
    Site(
        "Portland", 45.6, -122.62, 6, "America/Los_Angeles",
        (1.22, 1.92, 3.11, 4.01, 5.37, 6.0, 6.26, 5.48, 4.0, 2.37, 1.37, 1.07),
        (5.5, 6.9, 8.3, 11.7, 13.9, 17.6, 19.9, 20.1, 17.3, 12.8, 8.5, 4.1), 8.5,
    ),
    Site(
        "Sacramento", 38.5, -121.5, 5, "America/Los_Angeles",
        (1.63, 3.19, 4.63, 6.18, 7.18, 8.21, 7.88, 7.05, 5.73, 4.11, 2.36, 1.64),
        (8.3, 10.2, 13.0, 13.3, 18.5, 22.0, 23.8, 23.0, 22.3, 17.1, 10.7, 8.1), 12.9,
    ),
    Site(
        "Granada", 37.18, -3.78, 559, "Europe/Madrid",
        (2.5, 3.25, 4.41, 5.32, 6.65, 7.41, 7.71, 6.96, 5.31, 3.86, 2.74, 2.21),
        (6.5, 8.4, 10.5, 12.4, 16.3, 21.1, 24.3, 24.1, 21.1, 15.4, 10.6, 7.4), 15.0,
    ),
    Site(
        "Zurich", 47.48, 8.54, 436, "Europe/Zurich",
        (0.96, 1.81, 3.06, 4.31, 5.02, 5.53, 5.4, 4.72, 3.5, 1.99, 1.11, 0.77),
        (0.6, 2.0, 5.6, 9.6, 14.6, 17.9, 19.0, 18.5, 14.1, 10.3, 4.7, 1.6), 8.7,
    ),
)  # fmt: skip


@dataclass(frozen=True)
class Case:
    """A van, its trip, and what is wrong with it.

    `since` is the day of the trip from which the fault is there; 0 from the start.
    """

    site: Site
    depart: dt.date
    nights: tuple[int, ...]
    drive_hours: tuple[float, ...]
    panels: int
    strings: int
    batteries: int
    every_min: int
    has_solar: bool
    fault: str | None
    since: int
    seed: int
    # Nights on the plug at every second stop, by a charger of so many amps; whether it is dead.
    plug_amps: float = 0.0
    plug_dead: bool = False
    # A column of the outside temperature; watts that the loads rise with each degree unpromised.
    shows_air: bool = False
    warm_w: float = 0.0

    @property
    def days(self) -> int:
        return sum(self.nights) + 1

    @property
    def is_large(self) -> bool:
        """Who has many panels has much to feed with them."""
        return self.panels > 2

    def place(self, stop: int) -> tuple[float, float]:
        return self.site.latitude + 0.2 * stop, self.site.longitude + 0.15 * stop


@dataclass(frozen=True)
class Truth:
    """What the van did, against what its job file says."""

    sun: float  # yield of the panels from the day of the fault
    standing_w: float
    engine: float
    capacity: float
    drift_day: float  # of the shown charge, a day


@dataclass
class Written:
    """A log as its monitor wrote it, and the truth."""

    case: Case
    truth: Truth
    rows: list[str] = field(default_factory=list)
    heads: str = ""

    @property
    def csv(self) -> str:
        return "\n".join([self.heads, *self.rows]) + "\n"


def case_of(number: int, fault: str | None) -> Case:
    """The case of a number: site, season, build and trip by chance; nothing else hangs on it."""
    chance = np.random.default_rng([77, number])
    while True:
        site = SITES[int(chance.integers(len(SITES)))]
        depart = dt.date(2026, 1, 5) + dt.timedelta(days=int(chance.integers(320)))
        middle = depart + dt.timedelta(days=20)
        # Where there is next to no sun nothing can be said of the panels.
        if site.ghi[middle.month - 1] >= 2.0:
            break
    stops = int(chance.integers(5, 8))
    nights = tuple(int(n) for n in chance.integers(5, 9, size=stops))
    days = sum(nights)
    late = bool(chance.random() < 0.5)
    return Case(
        site=site,
        depart=depart,
        nights=nights,
        drive_hours=(0.0, *(float(h) for h in chance.integers(2, 5, size=stops - 1))),
        panels=int(chance.choice([2, 2, 4])),
        strings=2,
        batteries=int(chance.choice([1, 2])),
        every_min=int(chance.choice([1, 5, 10])),
        has_solar=bool(chance.random() < 0.75),
        fault=fault,
        since=int(chance.integers(12, days - 12)) if late else 0,
        seed=number,
    )


def job_text(case: Case) -> str:
    """The job file of a case: what was promised."""
    stops = ""
    for stop, (nights, hours) in enumerate(zip(case.nights, case.drive_hours, strict=True)):
        latitude, longitude = case.place(stop)
        drive = f"drive_hours = {hours}\n" if stop else ""
        if case.plug_amps and stop % 2:
            drive += 'plug_in = "nights"\n'
        stops += (
            f'\n[[trips.stops]]\nplace = "{latitude:.2f}, {longitude:.2f}, '
            f'{case.site.altitude_m:.0f} m"\nnights = {nights}\n{drive}'
        )
    uses = ("fridge-dc", "lights-led", "laptop", "mobile-internet", "gas-and-co-alarm")
    appliances = "".join(f'[[appliances]]\nuse = "{name}"\n\n' for name in uses)
    appliances = appliances.replace('use = "laptop"\n', 'use = "laptop"\ncount = 2\n')
    if case.is_large:
        internet = 'use = "mobile-internet"\n'
        appliances = appliances.replace(internet, f"{internet}watts = {DISH_W:.0f}\n")
    plug = ""
    if case.plug_amps:
        plug = f"[shore]\ncharger_amps = {case.plug_amps}\ninlet_volts = 120\ninlet_amps = 15\n\n"
    return (
        f'title = "Case {case.seed}"\n\n[van]\nuse = "medium-roof"\n\n[living]\n'
        f'use = "full-time-single"\n\n[[panels]]\nuse = "rigid-170"\ncount = {case.panels}\n'
        f"controller_amps = 60\n\n"
        f'[battery]\nuse = "lifepo4-200"\ncount = {case.batteries}\n\n'
        f"[alternator]\ndcdc_amps = 30\nspare_amps = 70\n\n{plug}{appliances}"
        f'[[trips]]\nname = "Case"\ndepart = {case.depart}\nleave_at = "08:00"\n{stops}'
        f'\n[settings]\nunits = "metric"\n'
    )


def written(case: Case) -> Written:
    """Live through a case and write its log."""
    chance = np.random.default_rng([78, case.seed])
    zone = ZoneInfo(case.site.zone)
    start = dt.datetime.combine(case.depart, dt.time(8), zone).astimezone(dt.UTC)
    end = dt.datetime.combine(
        case.depart + dt.timedelta(days=case.days - 1), dt.time(8), zone
    ).astimezone(dt.UTC)
    minutes = int((end - start).total_seconds() / 60)
    unix = start.timestamp() + 60.0 * np.arange(minutes)
    offset = np.array(
        [
            dt.datetime.fromtimestamp(t, zone).utcoffset().total_seconds() / 60  # type: ignore[union-attr]
            for t in unix[::60]
        ]
    ).repeat(60)[:minutes]
    clock = (unix / 60.0 + offset) % DAY
    day = ((unix / 60.0 + offset) // DAY - (unix[0] / 60.0 + offset[0]) // DAY).astype(int)
    since = np.searchsorted(day, case.since) if case.since else 0
    faulty = np.arange(minutes) >= since

    def hit(fault: str) -> bool:
        return case.fault == fault

    yields = float(chance.normal(1.0, 0.025))
    string = 1.0 - 1.0 / case.strings if hit(STRING_OFF) else 1.0
    truth = Truth(
        sun=yields * string,
        standing_w=38.4 if hit(STANDING) else 0.0,
        engine=0.0 if hit(FUSE) else float(chance.normal(1.0, 0.03)),
        capacity=float(chance.normal(1.0, 0.01)) * (0.8 if hit(CAPACITY) else 1.0),
        drift_day=float(chance.choice([-1, 1]) * chance.uniform(0.02, 0.04))
        if hit(COUNTER)
        else 0.0,
    )
    stop, driving = _route(case, unix, start, zone, chance)
    sine, hour_angle = _sun(unix, case, stop)
    ghi, temp = _weather(case, unix, sine, clock, day, chance)
    solar = _panels(case, ghi, sine, temp, driving) * yields
    solar *= np.where(faulty, string, 1.0)
    if hit(MORNING_SHADE):
        # A wall to the east: nothing but the sky's light until the middle of the morning.
        solar *= np.where(faulty & (hour_angle < -1.5), 0.3, 1.0)
    loads = _loads(case, temp, clock, day, sine, chance)
    loads += truth.standing_w * faulty + case.warm_w * np.clip(temp - 5.0, 0.0, None)
    engine_a = 30.0 * driving * np.where(faulty, truth.engine, 1.0 if hit(FUSE) else truth.engine)
    if case.plug_amps and not case.plug_dead:
        # People plug in when they come home, and pull the plug before they leave.
        by_night = (clock >= 18 * 60) | (clock < 8 * 60)
        engine_a += case.plug_amps * (by_night & (stop % 2 == 1) & ~driving)
    bank = _battery(case, solar, loads, engine_a, truth.capacity)
    written = _log(case, truth, bank, unix, offset, faulty, chance)
    if case.shows_air:
        written.heads += ",Outside temperature (C)"
        every = case.every_min
        written.rows = [f"{row},{temp[n * every]:.1f}" for n, row in enumerate(written.rows)]
    return written


def _route(case, unix, start, zone, chance):  # type: ignore[no-untyped-def]
    """Number of the stop and whether the van drives, minute by minute; nobody is punctual."""
    stop = np.zeros(len(unix), dtype=int)
    driving = np.zeros(len(unix), dtype=bool)
    date = case.depart
    for number in range(1, len(case.nights)):
        date += dt.timedelta(days=case.nights[number - 1])
        leaves = dt.datetime.combine(date, dt.time(8), zone).timestamp()
        leaves += 60.0 * chance.normal(0.0, 15.0)
        lasts = 3600.0 * case.drive_hours[number] * chance.normal(1.0, 0.06)
        driving |= (unix >= leaves) & (unix < leaves + lasts)
        stop[unix >= leaves] = number
    return stop, driving


def _sun(unix, case, stop):  # type: ignore[no-untyped-def]
    """Sine of the sun's height, and hours from its noon."""
    days = unix / 86400.0
    year_day = (days - days[0]) + case.depart.timetuple().tm_yday
    turn = 2.0 * np.pi * (year_day - 81.0) / 364.0
    late_min = 9.87 * np.sin(2 * turn) - 7.53 * np.cos(turn) - 1.5 * np.sin(turn)
    declination = np.radians(23.45) * np.sin(2.0 * np.pi * (284.0 + year_day) / 365.0)
    latitude = np.radians(case.site.latitude + 0.2 * stop)
    longitude = case.site.longitude + 0.15 * stop
    hour = (unix / 3600.0 + longitude / 15.0 + late_min / 60.0) % 24.0 - 12.0
    sine = np.sin(latitude) * np.sin(declination) + np.cos(latitude) * np.cos(declination) * np.cos(
        np.radians(15.0 * hour)
    )
    return sine, hour


def _weather(case, unix, sine, clock, day, chance):  # type: ignore[no-untyped-def]
    """Global irradiance and air temperature, minute by minute."""
    days = int(day[-1]) + 1
    pressure = 101325.0 * (1.0 - 2.2558e-5 * case.site.altitude_m) ** 5.2559
    # Haze and water thin out upwards, by a scale of 1.5 and 2 km (textbooks, from memory).
    thin = np.exp(-case.site.altitude_m / np.array([1500.0, 2000.0]))
    haze = np.clip(chance.lognormal(np.log(0.12 * thin[0]), 0.35, size=days), 0.02, 0.4)[day]
    height = np.degrees(np.arcsin(sine))
    water = 2.0 * thin[1]
    sky = simplified_solis(height, aod700=haze, precipitable_water=water, pressure=pressure)
    clear = sky["ghi"]
    clear = np.nan_to_num(np.where(height > 0.0, clear, 0.0))
    month = case.depart.month - 1, (case.depart + dt.timedelta(days=days // 2)).month - 1
    usual = 1000.0 * np.mean([case.site.ghi[m] for m in month])
    index = usual * chance.normal(1.0, 0.06) / (clear.sum() / 60.0 / days)
    # Means of the three kinds of day, and how often they come.
    bright, mixed, dull = 0.96, 0.62, 0.27
    share = float(np.clip((index - 0.485) / (bright - 0.485), 0.02, 0.98))
    kinds = _days(days, share, chance)
    step = np.arange(len(unix)) // 10
    cover = np.zeros(step[-1] + 1)
    state = 0
    for n in range(len(cover)):
        kind = kinds[day[min(10 * n, len(day) - 1)]]
        odds = ((0.93, 0.07, 0.0), (0.40, 0.40, 0.20), (0.03, 0.22, 0.75))[kind]
        if chance.random() < 0.25:
            state = int(chance.choice(3, p=odds))
        cover[n] = (
            chance.normal(0.99, 0.015),
            chance.uniform(0.35, 1.0),
            chance.uniform(0.12, 0.38),
        )[state]
    means = np.array([bright, mixed, dull])
    kc = cover[step] * (1.0 + 0.0 * means[kinds[day]])
    temp = np.interp(np.arange(days), [0, days - 1], [case.site.temp[m] for m in month]) + _wander(
        days, 0.7, 3.0, chance
    )
    swing = case.site.swing * np.array([0.55, 0.4, 0.2])[kinds]
    warm = temp[day] + swing[day] * np.cos(2.0 * np.pi * (clock - 15 * 60) / DAY)
    return clear * np.clip(kc, 0.05, 1.1), warm


def _days(days, share, chance):  # type: ignore[no-untyped-def]
    """0 bright, 1 mixed, 2 dull; a day is like the one before in a third of all cases."""
    kinds = np.zeros(days, dtype=int)
    for n in range(days):
        if n and chance.random() < 0.3:
            kinds[n] = kinds[n - 1]
        else:
            kinds[n] = chance.choice(3, p=(share, 0.6 * (1 - share), 0.4 * (1 - share)))
    return kinds


def _wander(count, memory, spread, chance):  # type: ignore[no-untyped-def]
    found = np.zeros(count)
    for n in range(count):
        found[n] = (
            memory * (found[n - 1] if n else 0.0)
            + spread * np.sqrt(1 - memory**2) * chance.normal()
        )
    return found


def _panels(case, ghi, sine, temp, driving):  # type: ignore[no-untyped-def]
    """Watts into the battery from flat panels behind their controller."""
    # An inch above the roof, 56 deg C where it has 45 on a rack (M. K. Fuentes' installed NOCT,
    # from memory).
    cell = temp + np.where(driving, 0.020, 0.045) * ghi
    # Glass turns light away that comes in low: ASHRAE's 0.05, for the two thirds that are beam.
    low = np.clip(1.0 / np.maximum(sine, 0.05) - 1.0, 0.0, 10.0)
    glass = 1.0 - 0.67 * np.clip(0.05 * low, 0.0, 1.0)
    watts = case.panels * 170.0 * ghi / 1000.0 * glass * (1.0 - 0.0036 * (cell - 25.0))
    return 0.96 * 0.97 * 0.98**3 * np.clip(watts, 0.0, None)


def _loads(case, temp, clock, day, sine, chance):  # type: ignore[no-untyped-def]
    """Watts of all appliances, as people use them; figures of the job's shelf."""
    days = int(day[-1]) + 1
    # Nobody heats: the shell follows the weather by some hours, warmer for people and sun.
    slow = np.convolve(np.pad(temp, (90, 89), "edge"), np.ones(180) / 180, "valid")
    cabin = 0.5 * (temp + slow) + 4.0
    fridge = 420.0 / 24.0 * np.clip((cabin - 5.0) / 20.0, 0.1, None) * chance.normal(1.0, 0.05)
    # It runs or is off; half an hour of it is one cycle.
    phase = (np.arange(len(clock)) % 30) / 30.0
    load = np.where(phase < np.clip(fridge / 50.0, 0, 1), 50.0, 0.0)
    load = load + 1.2
    many = chance.normal(1.0, 0.06)

    def used(watts, begin, end, late_min):  # type: ignore[no-untyped-def]
        moved = clock - chance.normal(0.0, late_min, size=days)[day]
        much = many * chance.lognormal(-0.01, 0.15, size=days)[day]
        return watts * much * ((moved >= begin * 60) & (moved < end * 60))

    load = (
        load
        + used(56.0, 9, 12, 30)
        + used(56.0, 13, 17, 30)
        + used(DISH_W if case.is_large else 9.0, 7, 22.5, 10)
    )
    dark = sine < -0.02
    return load + used(18.0, 6.5, 22.5, 15) * dark


# Open-circuit volts of the battery over its charge.
_KNEE_SOC = (0.0, 0.05, 0.1, 0.2, 0.5, 0.9, 0.97, 1.0)
_KNEE_VOLTS = (10.5, 12.2, 12.8, 13.0, 13.15, 13.3, 13.4, 13.6)


def _battery(case, solar, loads, engine_a, capacity):  # type: ignore[no-untyped-def]
    """A count of ampere-hours behind a resistance: charge, current, volts and sun taken."""
    size = 200.0 * case.batteries * capacity
    ohm = 0.004 / case.batteries
    soc = 0.9
    shown: list[tuple[float, ...]] = []
    # Numbers of Python's own: minute after minute, they are much quicker than arrays.
    for sun, wanted, engine in zip(solar.tolist(), loads.tolist(), engine_a.tolist(), strict=True):
        knee = bisect_right(_KNEE_SOC, soc, 1, len(_KNEE_SOC) - 1)
        low, high = _KNEE_VOLTS[knee - 1 : knee + 1]
        slope = (high - low) / (_KNEE_SOC[knee] - _KNEE_SOC[knee - 1])
        inner = slope * (soc - _KNEE_SOC[knee - 1]) + low
        load = wanted if soc > 0.03 else 0.0
        offer = sun / 13.4 + engine - load / 13.1
        limit = 0.5 * size * min(1.0, max(1.0 - soc, 0.0) / 0.05 + 0.004)
        amps = min(offer, limit)
        taken = sun
        if offer > limit:
            taken = max(sun - (offer - limit) * 13.4, 0.0)
        volts = inner + amps * ohm + (0.6 if offer > limit else 0.0)
        shown.append((soc, amps, volts, taken))
        soc = min(max(soc + amps * (0.99 if amps > 0 else 1.0) / 60.0 / size, 0.0), 1.0)
    return np.array(shown).T


def _log(case, truth, bank, unix, offset, faulty, chance):  # type: ignore[no-untyped-def]
    """What the monitor writes: rounded, by its own clock, with its own errors."""
    soc, amps, volts, solar = bank
    if truth.drift_day:
        wrong = np.zeros(len(soc))
        for n in range(1, len(soc)):
            full = soc[n] >= 0.995
            wrong[n] = 0.0 if full or not faulty[n] else wrong[n - 1] + truth.drift_day / DAY
        soc = np.clip(soc + wrong, 0.0, 1.0)
    every = case.every_min
    count = len(soc) // every

    def mean(values):  # type: ignore[no-untyped-def]
        return values[: count * every].reshape(count, every).mean(axis=1)

    amps = mean(amps) + chance.normal(0.0, 0.05, size=count)
    volts, sun = mean(volts) + chance.normal(0.0, 0.01, size=count), mean(solar)
    ahead = 0.0 if case.fault == UTC else offset[: count * every : every] * 60.0
    stamps = (unix[: count * every : every] + ahead).astype("int64").astype("datetime64[s]")
    found = Written(case, truth)
    found.heads = "Time,State of charge (%),Battery current (A),Battery voltage (V)"
    found.heads += ",Solar power (W)" if case.has_solar else ""
    for n, stamp in enumerate(stamps.astype(str).tolist()):
        row = f"{stamp[:16].replace('T', ' ')},{100 * soc[n * every]:.0f},{amps[n]:.1f}"
        row += f",{volts[n]:.2f}" + (f",{sun[n]:.0f}" if case.has_solar else "")
        found.rows.append(row)
    return found


DEMO = Case(
    site=SITES[0],
    depart=dt.date(2026, 2, 2),
    nights=(6, 7, 6, 7, 6),
    drive_hours=(0.0, 3.0, 2.0, 4.0, 3.0),
    panels=2,
    strings=2,
    batteries=1,
    every_min=30,
    has_solar=True,
    fault=MORNING_SHADE,
    since=14,
    seed=20260202,
)
DEMO_FAULT = (
    "# No van wrote this log: it was made by the test suite's own van (tests/fit/other_van.py).\n"
    "# Stated fault: from 16 February on a wall to the east takes the morning sun.\n"
)


def demo_texts() -> dict[str, str]:
    """The demo's job file and log, as they lie in `profiles/logs/`."""
    job = job_text(DEMO).replace("Case 20260202", "Two panels in New Mexico")
    job = job.replace('name = "Case"', 'name = "February on the mesas"')
    return {"demo.toml": DEMO_FAULT + "\n" + job, "demo.csv": DEMO_FAULT + written(DEMO).csv}


if __name__ == "__main__":
    import sys
    from pathlib import Path

    for name, text in demo_texts().items():
        (Path(sys.argv[1]) / name).write_text(text, "utf-8", newline="\n")
