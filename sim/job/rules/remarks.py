"""What is legal in a job but odd: worth a second look before anybody relies on the answer.

A fault keeps a job from being run; a remark does not. Bounds are common practice, no source,
where nothing else is said.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from sim.errors import join_or, shown
from sim.job.model.appliances import Appliance, Cooking, Heater, Steady
from sim.job.model.fields import DAY_MINUTES, minutes_of
from sim.job.model.job import Job
from sim.job.model.power import HOUSE_V, STEP_DOWN, Inverter
from sim.job.model.tanks import DRAINS
from sim.job.reading.toml_lines import Path
from sim.job.rules.string_volts import StringVolts, cold_open_v, coldest_of, string_volts
from sim.job.rules.tanks import drain_runs
from sim.job.weights import load_of
from sim.places.lookup import distance_km
from sim.units import KG_PER_POUND, KM_PER_MILE

# Larger vans are lorries or trailers.
LONGEST_VAN_M = 9.0
# Two stops farther apart than this are more often a wrong town of the same name than a drive.
FAR_KM = 900.0
# A bank that a charger does not fill in this time is seldom full on the road.
FULL_WITHIN_H = 24.0
# Whom the payload must carry beside the build: what the European Union's rules on the mass of
# vehicles count for a driver (Regulation (EU) 1230/2012; from memory).
PERSON_KG = 75.0
_FEW_DRAWS = 100
_BOOST = ': controller = "boost"'


@dataclass(frozen=True)
class Remark:
    """One thing that is odd.

    Attributes
    ----------
    path : tuple
        Section, positions and key, as in a job file; positions count from 0.
    value : object
        What is set there; None where it is not worth showing.
    says : str
        What is odd about it, as a sentence behind the key.
    alone : str
        The same where no key stands before it, for who has never seen a job file; empty where
        it is what `says` says.
    """

    path: Path
    value: Any
    says: str
    alone: str = ""

    def __str__(self) -> str:
        where = ""
        for step in self.path:
            where += f"[{step + 1}]" if isinstance(step, int) else f".{step}" if where else step
        if self.value is not None:
            where += f" = {shown(self.value)}"
        return f"{where}: {self.says}" if where else self.says

    @property
    def sentence(self) -> str:
        """Without the key, from its capital letter to its full stop."""
        text = self.alone or self.says
        return text[:1].upper() + text[1:] + ("" if text.endswith(("?", ".")) else ".")


def remarks(job: Job, today: dt.date | None = None) -> tuple[Remark, ...]:
    """What is legal but odd in a job.

    Parameters
    ----------
    job : Job
        In order by all rules.
    today : date, optional
        To find trips that lie in the past; left out: they are not looked for.
    """
    found = [remark for look in _LOOKS for remark in look(job)]
    if today is not None:
        found += _past(job, today)
    return tuple(found)


def _van(job: Job) -> Iterator[Remark]:
    if job.van.length_m > LONGEST_VAN_M:
        says = f"a van {job.van.length_m:g} m long; is this the length inside, and in metres?"
        yield Remark(("van", "length_m"), job.van.length_m, says)
    roof = job.roof
    sized = [g for g in job.panels if g.mount != "portable" and g.length_m and g.width_m]
    if roof is not None and sized:
        panels_m2 = sum(g.count * (g.length_m or 0.0) * (g.width_m or 0.0) for g in sized)
        free_m2 = roof.length_m * roof.width_m
        free_m2 -= sum(item.length_m * item.width_m for item in roof.obstacles)
        if panels_m2 > free_m2:
            says = (
                f"the panels cover {panels_m2:.1f} square metres, the roof has {free_m2:.1f} free"
            )
            yield Remark(("panels",), None, says)


def _weight(job: Job) -> Iterator[Remark]:
    """A build heavier than the van, or panels heavier than the roof, may carry."""
    load = load_of(job, job)
    if load.payload_kg is not None and load.left_kg is not None:
        known = f"panels, battery, full tanks and weighed items are {_kg(load.known_kg)}"
        people = f"{job.living.people} {'person' if job.living.people == 1 else 'people'}"
        says = ""
        if load.left_kg < 0.0:
            says = f"{known}, {_kg(-load.left_kg)} more than the van may carry"
        elif load.left_kg < PERSON_KG * job.living.people:
            says = f"{known}, which leaves {_kg(load.left_kg)} for {people} and all they bring"
        if says:
            yield Remark(("van", "payload_kg"), load.payload_kg, says)
    if job.roof is not None and job.roof.carries_kg is not None:
        on_roof = [group for group in job.panels if group.mount != "portable"]
        panels_kg = sum(group.count * (group.weight_kg or 0.0) for group in on_roof)
        if panels_kg > job.roof.carries_kg:
            says = f"the panels on it weigh {_kg(panels_kg)}, their racks not counted"
            alone = f"the roof carries {_kg(job.roof.carries_kg)}, and {says}"
            yield Remark(("roof", "carries_kg"), job.roof.carries_kg, says, alone)


def _kg(kilograms: float) -> str:
    return f"{kilograms:,.0f} kg ({kilograms / KG_PER_POUND:,.0f} lb)"


def _panels(job: Job) -> Iterator[Remark]:
    """Strings beside the bank and their controller."""
    coldest_c, unknown = coldest_of(job.wiring), False
    for index, group in enumerate(job.panels):
        if group.count == 0:
            continue
        if group.controller != "pwm":
            found = string_volts(group, job.battery, coldest_c)
            if found is not None and found.fit != "fits":
                says = _beside_bank(found)
                alone = says.removesuffix(_BOOST)
                yield Remark(("panels", index, "vmp_v"), group.vmp_v, says, alone)
            if found is None and not unknown:
                unknown = True
                says = (
                    "not given, so nothing checks whether the panels reach the voltage of the "
                    "bank; take it from their data sheet"
                )
                alone = f"the voltage of the panels is {says}"
                yield Remark(("panels", index, "vmp_v"), None, says, alone)
        open_v, most_v = cold_open_v(group, coldest_c), group.controller_max_v
        if open_v is not None and most_v is not None and open_v > most_v:
            says = (
                f"the open string reaches {open_v:.1f} V at {coldest_c:g} degrees C, which "
                "destroys the controller"
            )
            yield Remark(("panels", index, "controller_max_v"), most_v, says)


def _beside_bank(found: StringVolts) -> str:
    at = f"{found.string_v:.1f} V at {found.cell_c:g} degrees C"
    if found.fit == "above":
        return f"the string has {at}, a boost controller wants less than {found.limit_v:.1f} V"
    change = f"put {found.series} panels in series, or take one that steps up{_BOOST}"
    if found.fit == "never":
        return (
            f"the open string reaches {at}, and the controller starts at {found.limit_v:.1f} V on "
            f"this bank: the panels give nothing; {change}"
        )
    return (
        f"the string has {at} when hot, and the controller needs {found.limit_v:.1f} V on this "
        f"bank: hot panels give less or nothing; {change}"
    )


def _inverter(job: Job) -> Iterator[Remark]:
    if job.inverter is None:
        return
    bank = job.battery
    can_w = bank.count * bank.capacity_ah * bank.nominal_v * bank.max_discharge_c
    if job.inverter.watts > can_w:
        says = f"the bank gives at most {can_w:,.0f} watts; the inverter would trip it"
        yield Remark(("inverter", "watts"), job.inverter.watts, says)
    if job.inverter.runs == "by hand":
        yield from _without_inverter(job, job.inverter)


def _without_inverter(job: Job, inverter: Inverter) -> Iterator[Remark]:
    """What would run on AC while the inverter is switched off by hand."""
    live = minutes_of(inverter.at)
    for index, item in enumerate(job.appliances):
        if not item.on_inverter:
            continue
        path: Path = ("appliances", index)
        windows = item.windows(job.living)
        if windows is not None and not minutes_of(windows) <= live:
            says = f"{item.name} runs on AC at times at which the inverter is off, and is dark then"
            yield Remark(path, None, says)
        elif windows is None and item.waits == "always" and len(live) < DAY_MINUTES:
            says = f"{item.name} needs AC day and night, and is dark while the inverter is off"
            yield Remark(path, None, says)


def _converter(job: Job) -> Iterator[Remark]:
    bank_v = job.battery.nominal_v
    has_dc = any(item.supply == "dc" and item.count > 0 for item in job.appliances)
    if job.converter is None and has_dc and bank_v >= STEP_DOWN * HOUSE_V:
        says = (
            f"the DC appliances are taken to run on the bank's {bank_v:g} V; if they want 12 V, "
            "add a [converter]"
        )
        alone = says.replace("add a [converter]", "they need a converter")
        yield Remark(("battery", "nominal_v"), bank_v, says, alone)


def _charging(job: Job) -> Iterator[Remark]:
    bank_ah = job.battery.count * job.battery.capacity_ah
    chargers = (
        ("shore", "charger_amps", sum(x.charger_amps for x in job.shore), "on the plug"),
        ("alternator", "dcdc_amps", sum(x.dcdc_amps for x in job.alternator), "of driving"),
    )
    for section, key, amps, when in chargers:
        if amps and bank_ah / amps > FULL_WITHIN_H:
            says = (
                f"the bank of {bank_ah:g} Ah would take {bank_ah / amps:.0f} hours {when} to fill"
            )
            yield Remark((section, key), amps, says)
    if not (job.alternator or job.shore or job.generator) and not any(
        group.count for group in job.panels
    ):
        says = "nothing charges it: no panels, no engine, no plug"
        yield Remark(("battery",), None, says, says.replace("it", "the battery", 1))


def _cooking(job: Job) -> Iterator[Remark]:
    cookers = [x for x in job.appliances if isinstance(x, Cooking) and x.count > 0]
    shares = sum(item.meals_pct for item in cookers)
    if len(cookers) > 1 and shares > 100.0:
        names = " and ".join(item.name for item in cookers)
        alone = f"{names} cook {shares:g} % of the meals together"
        yield Remark(("appliances",), None, f"{alone}; share them with meals_pct", alone)


def _alarm(job: Job) -> Iterator[Remark]:
    flames = [item.name for item in job.appliances if item.count > 0 and burns(item)]
    named = [x.name.lower() for x in job.appliances if isinstance(x, Steady)]
    if flames and not any("alarm" in name or "detector" in name for name in named):
        alone = (
            f"{flames[0]} burns fuel aboard, and no carbon monoxide alarm is in the job; fit one"
        )
        says = f"{alone}, and name it here for what it draws"
        yield Remark(("appliances",), None, says, alone)


def burns(item: Appliance) -> bool:
    """Whether an appliance has a flame."""
    return item.heat_from in ("propane", "diesel", "petrol")


def _tanks(job: Job) -> Iterator[Remark]:
    """Stores that somebody uses and the job does not have: said once, not followed."""
    users = [item for item in job.appliances if item.count > 0]
    propane = [item.name for item in users if item.heat_from == "propane"]
    if job.propane is None and propane:
        needs, then = f"{_named(propane)} propane", "its tank is not followed"
        yield Remark((), None, f"{needs}; without [propane] {then}", f"{needs}; {then}")
    wet = [item.name for item in users if item.needs_water]
    if job.water is None and wet:
        needs, then = f"{_named(wet)} water", "its tanks are not followed"
        yield Remark((), None, f"{needs}; without [water] {then}", f"{needs}; {then}")
    if job.water is not None:
        taken = {drain for tank in job.water.grey for drain in tank.takes}
        taken |= set(job.water.open_drains)
        loose = [drain for drain in DRAINS if drain not in taken and drain_runs(job, drain)]
        if loose:
            alone = (
                f"no tank takes what runs down the {' and the '.join(loose)} drain: it is taken to "
                "run to the ground, which many places forbid"
            )
            says = f"{alone}; name it in takes of a [[water.grey]] tank"
            yield Remark(("water",), None, says, alone)
    has = {
        "water": job.water,
        "dump": job.water,
        "propane": job.propane,
        "fuel": job.generator,
    }
    offered = {name for trip in job.trips for stop in trip.stops for name in stop.services}
    idle = sorted(name for name in offered if has[name] is None)
    if idle:
        says = f"stops offer {join_or(idle)}, and the job has no such tank"
        yield Remark(("trips",), None, says)


def _named(names: list[str]) -> str:
    some = f"{names[0]} and {len(names) - 1} more" if len(names) > 2 else " and ".join(names)
    return f"{some} {'need' if len(names) > 1 else 'needs'}"


def _ways(job: Job) -> Iterator[Remark]:
    """A stop far from the one before it is often a namesake."""
    for index, trip in enumerate(job.trips):
        before = trip.start
        for number, stop in enumerate(trip.stops):
            if before is not None and (km := distance_km(before, stop.place)) > FAR_KM:
                says = (
                    f"{km:,.0f} km ({km / KM_PER_MILE:,.0f} miles) in a straight line from "
                    f"{before.label}; is the right place of this name meant?"
                )
                place = stop.place.label
                alone = f"{place} is {says}"
                yield Remark(("trips", index, "stops", number, "place"), place, says, alone)
            before = stop.place


def _cold(job: Job) -> Iterator[Remark]:
    """Nights below freezing without a heater."""
    if any(isinstance(item, Heater) and item.count > 0 for item in job.appliances):
        return
    # numpy and a small table: read only where it may matter.
    from sim.sky.climate.monthly import usual_night_c

    for index, trip in enumerate(job.trips):
        day = trip.depart
        for number, stop in enumerate(trip.stops):
            nights = [day + dt.timedelta(days=night) for night in range(stop.nights)]
            day += dt.timedelta(days=stop.nights)
            months = dict.fromkeys(night.month for night in nights)
            known = [usual_night_c(stop.place, month) for month in months]
            night_c = min((x for x in known if x is not None), default=None)
            if night_c is not None and night_c < 0.0:
                says = (
                    f"nights near {night_c:.0f} degrees C ({night_c * 1.8 + 32:.0f} degrees F) are "
                    f"usual in {trip.name}, and the job has no heater"
                )
                place = stop.place.label
                alone = f"at {place} {says}"
                yield Remark(("trips", index, "stops", number, "place"), place, says, alone)
                return


def _settings(job: Job) -> Iterator[Remark]:
    if job.settings.first_draws < _FEW_DRAWS and job.settings.weather == "climate":
        says = f"so few simulated trips give rough odds; {_FEW_DRAWS} or more are better"
        alone = says.replace("so few", str(job.settings.first_draws))
        yield Remark(("settings", "draws"), job.settings.first_draws, says, alone)


def _past(job: Job, today: dt.date) -> list[Remark]:
    return [
        Remark(
            ("trips", index, "depart"),
            trip.depart,
            "this date lies in the past",
            f"the departure of {trip.name} lies in the past",
        )
        for index, trip in enumerate(job.trips)
        if trip.depart < today
    ]


_LOOKS = (
    _van,
    _weight,
    _panels,
    _converter,
    _inverter,
    _charging,
    _cooking,
    _alarm,
    _tanks,
    _ways,
    _cold,
    _settings,
)
