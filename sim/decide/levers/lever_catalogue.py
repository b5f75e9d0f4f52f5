"""The changes that are tried by themselves: to the build, and to the way of travelling."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TypeVar

from sim.decide.levers.to_propane import SMALL_TANK_L, is_electric_heat, on_propane
from sim.decide.panels.roof import MOST_PANELS, counted_group, panel_name, roof_fit
from sim.job import shelf
from sim.job.model.appliances import Appliance, ColdBox
from sim.job.model.job import Job, Prices, Stop, Trip
from sim.job.model.power import Alternator
from sim.job.overrides import overridden
from sim.trip.cabin import walls_u_w_m2k
from sim.trip.kinds.table import kind_of
from sim.trip.sources import controller_amps

# DC-DC chargers are sold in about these sizes (common practice, no source). [A]
DCDC_SIZES_A = (10, 20, 30, 40, 50, 60, 80, 100, 120, 160, 200)
MORE_DRIVING_HOURS = 0.5
PLUG_EVERY_NIGHTS = 5
# What good work on the shell brings: a third less heat lost (common practice, no source).
BETTER_SHELL = 0.67
LEAST_U_W_M2K = 0.2
WHITE_ABSORPTANCE = 0.3  # fresh white paint (common practice, no source)
# Flat enough to raise by hand, steep enough for a winter sun (common practice, no source).
TILT_DEG = 45.0
FRIDGE = "fridge-dc"
MOST_BATTERIES = 40  # as many as a job may hold

_A = TypeVar("_A")


class NotApplicable(Exception):
    """A lever has no place in this job; says why."""


@dataclass(frozen=True)
class Lever:
    """One change.

    Attributes
    ----------
    name : str
    change : callable
        From a job to the job with the change made.
    price : float or None
        None when not known.
    weight_kg : float or None
        What it adds to the van; None when not known.
    is_own : bool
        From the job file.
    """

    name: str
    change: Callable[[Job], Job]
    price: float | None = None
    weight_kg: float | None = None
    is_own: bool = False


def lever_list(job: Job) -> tuple[list[Lever], list[tuple[str, str]]]:
    """The levers of a job, its own last, and those that have no place in it with the reason.

    Parameters
    ----------
    job : Job

    Returns
    -------
    levers : list of Lever
    left : list of (name, why)
    """
    levers: list[Lever] = []
    left: list[tuple[str, str]] = []
    for name, make in _MAKERS:
        try:
            levers += make(job)
        except NotApplicable as why:
            left.append((name, str(why)))
    for entry in job.levers:

        def change(job: Job, changes: dict[str, object] = entry.set) -> Job:
            return overridden(job, changes)

        levers.append(Lever(entry.name, change, entry.price, entry.weight_kg, is_own=True))
    return levers, left


def _prices(job: Job) -> Prices:
    return job.prices or Prices()


def _one_panel(job: Job) -> Iterator[Lever]:
    if not job.panels:
        raise NotApplicable("the job has no panels")
    index = counted_group(job)
    # Panels in series come by the string.
    step = job.panels[index].series
    if job.panels[index].count + step > MOST_PANELS:
        raise NotApplicable("the job holds as many as it may")
    most = roof_fit(job).most
    if most is not None and job.panels[index].count + step > most:
        raise NotApplicable("the roof has no room for it")

    def change(job: Job) -> Job:
        group = job.panels[index]
        count = group.count + step
        amps = controller_amps(group, count, job.battery.charging_v)
        update = {"count": count, "controller_amps": amps}
        return job.model_copy(
            update={"panels": _replaced(job.panels, index, group.model_copy(update=update))}
        )

    group = job.panels[index]
    what = "panel" if step == 1 else f"string of {step} panels"
    price, weight = _prices(job).panel, group.weight_kg
    yield Lever(
        f"One more {what} ({group.count + step} of {panel_name(group)})",
        change,
        None if price is None else step * price,
        None if weight is None else step * weight,
    )


def _battery(job: Job) -> Iterator[Lever]:
    if job.battery.count >= MOST_BATTERIES:
        raise NotApplicable("the job holds as many as it may")

    def change(job: Job) -> Job:
        bank = job.battery.model_copy(update={"count": job.battery.count + 1})
        return job.model_copy(update={"battery": bank})

    bank = job.battery
    name = f"One more battery ({bank.count + 1} of {bank.capacity_ah:g} Ah)"
    yield Lever(name, change, _prices(job).battery, bank.weight_kg)


def _dcdc(job: Job) -> Iterator[Lever]:
    source = job.alternator
    if source is not None and source.dcdc_amps >= DCDC_SIZES_A[-1]:
        raise NotApplicable("it is the largest already")
    size = DCDC_SIZES_A[2] if source is None else _next_size(source.dcdc_amps)

    def change(job: Job) -> Job:
        if job.alternator is None:
            made = Alternator(dcdc_amps=float(size))
        else:
            amps = float(_next_size(job.alternator.dcdc_amps))
            made = job.alternator.model_copy(update={"dcdc_amps": amps})
        return job.model_copy(update={"alternator": made})

    what = "A DC-DC charger" if source is None else "A larger DC-DC charger"
    yield Lever(f"{what} ({size} A)", change, _prices(job).dcdc)


def _next_size(amps: float) -> int:
    return next((size for size in DCDC_SIZES_A if size > amps), DCDC_SIZES_A[-1])


def _driving(job: Job) -> Iterator[Lever]:
    if job.alternator is None:
        raise NotApplicable("the job has no [alternator] to charge from")

    def longer(stop: Stop) -> Stop:
        if stop.nights == 0:
            return stop
        hours = min(stop.local_drive_hours + MORE_DRIVING_HOURS, 16.0)
        return stop.model_copy(update={"local_drive_hours": hours})

    yield Lever("Half an hour more driving a day", lambda job: _with_stops(job, longer))


def _plug_nights(job: Job) -> Iterator[Lever]:
    if job.shore is None:
        raise NotApplicable("the job has no [shore]: no plug to charge from")
    most = max(sum(len(nights) for nights in _plugged(trip)) for trip in job.trips)
    if most == 0:
        raise NotApplicable("no trip is long enough")

    def change(job: Job) -> Job:
        trips = tuple(_with_plug(trip) for trip in job.trips)
        return job.model_copy(update={"trips": trips})

    price = _prices(job).plug_night
    yield Lever("One night in five on a plug", change, None if price is None else most * price, 0.0)


def _plugged(trip: Trip) -> list[list[int]]:
    """For each stop the nights of its stay that become nights on the plug: the third of every
    five of the trip that are not on one already."""
    night, found = 0, []
    for stop in trip.stops:
        nights = range(night, night + stop.nights)
        night += stop.nights
        middle = [n - nights.start for n in nights if n % PLUG_EVERY_NIGHTS == 2]
        found.append(middle if stop.plug_in == "never" else [])
    return found


def _with_plug(trip: Trip) -> Trip:
    stops: list[Stop] = []
    for stop, nights in zip(trip.stops, _plugged(trip), strict=True):
        done = 0
        for night in nights:
            for count, plug in ((night - done, "never"), (1, "nights")):
                if count:
                    stops.append(_part_of(stop, count, plug, is_first=done == 0))
                    done += count
        if stop.nights - done or not nights:
            stops.append(_part_of(stop, stop.nights - done, stop.plug_in, is_first=done == 0))
    return trip.model_copy(update={"stops": tuple(stops)})


def _part_of(stop: Stop, nights: int, plug_in: str, *, is_first: bool) -> Stop:
    update = {"nights": nights, "plug_in": plug_in}
    return stop.model_copy(update=update if is_first else {**update, "drive_hours": 0.0})


def _propane(job: Job) -> Iterator[Lever]:
    names = [item.name for item in job.appliances if is_electric_heat(item)]
    if not names:
        raise NotApplicable("nothing aboard makes heat from electricity")
    price = _prices(job).propane
    tank = "" if job.propane is not None else f", with a tank of {SMALL_TANK_L:g} litres"
    yield Lever(
        f"Propane instead of electricity: {', '.join(names)}{tank}",
        on_propane,
        None if price is None else price * len(names),
    )


def _dc_fridge(job: Job) -> Iterator[Lever]:
    def is_ac(item: Appliance) -> bool:
        return isinstance(item, ColdBox) and item.supply == "ac" and item.count > 0

    if not any(is_ac(item) for item in job.appliances):
        raise NotApplicable("no refrigerator runs on AC")
    values = shelf.profile("appliances", FRIDGE).values

    def change(job: Job) -> Job:
        def swapped(item: Appliance) -> Appliance:
            if not is_ac(item):
                return item
            kept = {key: getattr(item, key) for key in ("name", "count", "priority", "runs")}
            return ColdBox(**{**values, **kept})

        return job.model_copy(update={"appliances": tuple(map(swapped, job.appliances))})

    yield Lever("A 12 V refrigerator instead of AC", change, _prices(job).fridge)


def _inverter(job: Job) -> Iterator[Lever]:
    if job.inverter is None:
        raise NotApplicable("the job has no inverter")
    if job.inverter.runs == "when needed":
        raise NotApplicable("it is so already")

    def change(job: Job) -> Job:
        assert job.inverter is not None
        inverter = job.inverter.model_copy(update={"runs": "when needed"})
        return job.model_copy(update={"inverter": inverter})

    yield Lever("Inverter on only when needed", change, 0.0, 0.0)


def _insulation(job: Job) -> Iterator[Lever]:
    now = walls_u_w_m2k(job.van)
    if now <= LEAST_U_W_M2K:
        raise NotApplicable("the shell could not be better")
    if not any(kind_of(item).by_cabin is not None for item in job.appliances):
        raise NotApplicable("nothing aboard depends on the cabin's warmth")

    def change(job: Job) -> Job:
        better = max(BETTER_SHELL * now, LEAST_U_W_M2K)
        van = job.van.model_copy(update={"shell_u_w_m2k": better, "insulation_m": None})
        return job.model_copy(update={"van": van})

    yield Lever("Insulation: a third less heat lost", change, _prices(job).insulation)


def _white_roof(job: Job) -> Iterator[Lever]:
    if job.van.skin_absorptance <= WHITE_ABSORPTANCE:
        raise NotApplicable("it is white already")

    def change(job: Job) -> Job:
        van = job.van.model_copy(update={"skin_absorptance": WHITE_ABSORPTANCE})
        return job.model_copy(update={"van": van})

    yield Lever("A white roof", change, _prices(job).white_roof)


def _clean(job: Job) -> Iterator[Lever]:
    if not any(group.count and group.soiling_pct > 0 for group in job.panels):
        raise NotApplicable("the job counts no dirt on panels")

    def change(job: Job) -> Job:
        groups = tuple(g.model_copy(update={"soiling_pct": 0.0}) for g in job.panels)
        return job.model_copy(update={"panels": groups})

    yield Lever("Panels kept clean", change, 0.0, 0.0)


def _snow(job: Job) -> Iterator[Lever]:
    if not any(group.count and group.mount != "portable" for group in job.panels):
        raise NotApplicable("no panel stays on the roof")
    if job.living.clear_snow == "each morning":
        raise NotApplicable("it is a habit already")

    def change(job: Job) -> Job:
        living = job.living.model_copy(update={"clear_snow": "each morning"})
        return job.model_copy(update={"living": living})

    yield Lever("Snow swept off the panels each morning", change, 0.0, 0.0)


def _tilt(job: Job) -> Iterator[Lever]:
    flat = [group for group in job.panels if group.mount == "flat" and group.count]
    if not flat:
        raise NotApplicable("no panel lies flat")

    def change(job: Job) -> Job:
        update = {"mount": "tilted", "tilt_deg": TILT_DEG}
        groups = tuple(
            group.model_copy(update=update) if group.mount == "flat" else group
            for group in job.panels
        )
        return job.model_copy(update={"panels": groups})

    name = f"Panels tilted {TILT_DEG:g}° towards the noon sun when parked"
    yield Lever(name, change, _prices(job).tilt_mount)


def _extras(job: Job) -> Iterator[Lever]:
    extras = [item for item in job.appliances if item.priority == "extra" and item.count > 0]
    if not extras:
        raise NotApplicable("the job has no extras")
    for extra in extras:

        def change(job: Job, name: str = extra.name) -> Job:
            return _without(job, lambda item: item.name == name)

        yield Lever(f"Left at home: {extra.name}", change, 0.0, 0.0)


def _without(job: Job, which: Callable[[Appliance], bool]) -> Job:
    kept = tuple(
        item.model_copy(update={"count": 0}) if which(item) else item for item in job.appliances
    )
    return job.model_copy(update={"appliances": kept})


def _with_stops(job: Job, change: Callable[[Stop], Stop]) -> Job:
    trips = tuple(
        trip.model_copy(update={"stops": tuple(change(stop) for stop in trip.stops)})
        for trip in job.trips
    )
    return job.model_copy(update={"trips": trips})


def _replaced(items: tuple[_A, ...], index: int, item: _A) -> tuple[_A, ...]:
    return (*items[:index], item, *items[index + 1 :])


_MAKERS: tuple[tuple[str, Callable[[Job], Iterator[Lever]]], ...] = (
    ("One more panel", _one_panel),
    ("One more battery", _battery),
    ("A larger DC-DC charger", _dcdc),
    ("Half an hour more driving a day", _driving),
    ("One night in five on a plug", _plug_nights),
    ("Propane instead of electricity", _propane),
    ("A 12 V refrigerator instead of AC", _dc_fridge),
    ("Inverter on only when needed", _inverter),
    ("Insulation", _insulation),
    ("A white roof", _white_roof),
    ("Panels kept clean", _clean),
    ("Snow swept off each morning", _snow),
    ("Panels tilted when parked", _tilt),
    ("An extra left at home", _extras),
)
