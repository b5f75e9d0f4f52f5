"""Levers on what is built."""

from __future__ import annotations

from collections.abc import Iterator

from sim.decide.levers.lever import Lever, NotApplicable, prices_of, with_appliances
from sim.decide.levers.to_propane import SMALL_TANK_L, is_electric_heat, on_propane
from sim.decide.panels.roof import MOST_PANELS, counted_group, panel_name, roof_fit
from sim.job import shelf
from sim.job.model.appliances import Appliance, ColdBox
from sim.job.model.changes import with_values
from sim.job.model.fields import bounds, window_text
from sim.job.model.job import Job, Van
from sim.job.model.power import Alternator, Battery
from sim.job.rules.string_volts import cold_open_v, coldest_of, string_volts
from sim.trip.cabin import walls_u_w_m2k
from sim.trip.inverter import keeps_awake
from sim.trip.kinds.table import kind_of
from sim.trip.sources import controller_amps
from sim.units import LITRES_PER_GALLON

# DC-DC chargers are sold in about these sizes (common practice, no source). [A]
DCDC_SIZES_A = (10, 20, 30, 40, 50, 60, 80, 100, 120, 160, 200)
# What good work on the shell brings: a third less heat lost (common practice, no source).
BETTER_SHELL = 0.67
WHITE_ABSORPTANCE = 0.3  # fresh white paint (common practice, no source)
# Flat enough to raise by hand, steep enough for a winter sun (common practice, no source).
TILT_DEG = 45.0
FRIDGE = "fridge-dc"
_LEAST_U_W_M2K = bounds(Van, "shell_u_w_m2k")[0]
_MOST_BATTERIES = bounds(Battery, "count")[1]


def one_panel(job: Job) -> Iterator[Lever]:
    """A panel more, or a string of them."""
    if not job.panels:
        raise NotApplicable("no panels")
    index = counted_group(job)
    # Panels in series come by the string.
    step = job.panels[index].series
    if job.panels[index].count + step > MOST_PANELS:
        raise NotApplicable("as many as may be")
    most = roof_fit(job).most
    if most is not None and job.panels[index].count + step > most:
        raise NotApplicable("no room")

    def change(job: Job) -> Job:
        group = job.panels[index]
        # By the string, where another lever has wired them in series.
        count = group.count + max(step, group.series)
        amps = controller_amps(group, count, job.battery.charging_v)
        more = with_values(group, {"count": count, "controller_amps": amps})
        return with_values(job, {"panels": (*job.panels[:index], more, *job.panels[index + 1 :])})

    group = job.panels[index]
    what = "panel" if step == 1 else f"string of {step} panels"
    price, weight = prices_of(job).panel, group.weight_kg
    yield Lever(
        f"One more {what} ({group.count + step} of {panel_name(group)})",
        change,
        None if price is None else step * price,
        None if weight is None else step * weight,
    )


def longer_strings(job: Job) -> Iterator[Lever]:
    """Panels wired in series where their string does not reach the bank's voltage.

    A repair, offered only where it is needed and where the panels come out even.
    """
    coldest_c = coldest_of(job.wiring)
    lengths: dict[int, int] = {}
    for index, group in enumerate(job.panels):
        found = string_volts(group, job.battery, coldest_c) if group.count else None
        if found is None or found.fit not in ("never", "hot") or group.count % found.series:
            continue
        longer = with_values(group, {"series": found.series})
        open_v, most_v = cold_open_v(longer, coldest_c), group.controller_max_v
        if open_v is None or most_v is None or open_v <= most_v:
            lengths[index] = found.series
    if not lengths:
        return

    def change(job: Job) -> Job:
        # Beside another lever the panels may have become a number that makes no strings.
        groups = tuple(
            with_values(group, {"series": lengths[index]})
            if index in lengths and group.count % lengths[index] == 0
            else group
            for index, group in enumerate(job.panels)
        )
        return with_values(job, {"panels": groups})

    many = " and ".join(str(length) for length in sorted(set(lengths.values())))
    yield Lever(f"Panels wired {many} in series", change, 0.0, 0.0)


def battery(job: Job) -> Iterator[Lever]:
    """A unit more of the bank."""
    if job.battery.count >= _MOST_BATTERIES:
        raise NotApplicable("as many as may be")

    def change(job: Job) -> Job:
        bank = with_values(job.battery, {"count": job.battery.count + 1})
        return with_values(job, {"battery": bank})

    bank = job.battery
    name = f"One more battery ({bank.count + 1} of {bank.capacity_ah:g} Ah)"
    yield Lever(name, change, prices_of(job).battery, bank.weight_kg)


def dcdc(job: Job) -> Iterator[Lever]:
    """A DC-DC charger, or the next size."""
    # Of several the first.
    source = next(iter(job.alternator), None)
    if source is not None and source.dcdc_amps >= DCDC_SIZES_A[-1]:
        raise NotApplicable("largest")
    size = DCDC_SIZES_A[2] if source is None else _next_size(source.dcdc_amps)

    def change(job: Job) -> Job:
        if not job.alternator:
            return with_values(job, {"alternator": (Alternator(dcdc_amps=float(size)),)})
        first, *others = job.alternator
        made = with_values(first, {"dcdc_amps": float(_next_size(first.dcdc_amps))})
        return with_values(job, {"alternator": (made, *others)})

    what = "A DC-DC charger" if source is None else "A larger DC-DC charger"
    yield Lever(f"{what} ({size} A)", change, prices_of(job).dcdc)


def _next_size(amps: float) -> int:
    return next((size for size in DCDC_SIZES_A if size > amps), DCDC_SIZES_A[-1])


def propane(job: Job) -> Iterator[Lever]:
    """Heat from propane instead of electricity."""
    names = [item.name for item in job.appliances if is_electric_heat(item)]
    if not names:
        raise NotApplicable("no electric heat")
    price = prices_of(job).propane
    is_us = job.settings.units == "us"
    size = f"{SMALL_TANK_L / LITRES_PER_GALLON:.0f} gal" if is_us else f"{SMALL_TANK_L:g} litres"
    tank = "" if job.propane is not None else f", with a tank of {size}"
    yield Lever(
        f"Propane instead of electricity: {', '.join(names)}{tank}",
        on_propane,
        None if price is None else price * len(names),
    )


def dc_fridge(job: Job) -> Iterator[Lever]:
    """A 12 V refrigerator instead of an AC one."""

    def is_ac(item: Appliance) -> bool:
        return isinstance(item, ColdBox) and item.supply == "ac" and item.count > 0

    if not any(is_ac(item) for item in job.appliances):
        raise NotApplicable("no AC refrigerator")
    values = shelf.profile("appliances", FRIDGE).values

    def change(job: Job) -> Job:
        def swapped(item: Appliance) -> Appliance:
            if not is_ac(item):
                return item
            kept = {key: getattr(item, key) for key in ("name", "count", "priority", "runs")}
            at = tuple(window_text(window) for window in item.at)
            return ColdBox(**{**values, **kept, "at": at})

        return with_appliances(job, swapped)

    yield Lever("A 12 V refrigerator instead of AC", change, prices_of(job).fridge)


def inverter(job: Job) -> Iterator[Lever]:
    """An inverter that is on only when needed."""
    if job.inverter is None:
        raise NotApplicable("no inverter")
    if job.inverter.runs == "when needed":
        raise NotApplicable("so already")
    if job.inverter.runs != "always":
        raise NotApplicable("not always on")
    if keeps_awake(job):
        raise NotApplicable("needed on")

    def change(job: Job) -> Job:
        assert job.inverter is not None
        inverter = with_values(job.inverter, {"runs": "when needed"})
        return with_values(job, {"inverter": inverter})

    yield Lever("Inverter on only when needed", change, 0.0, 0.0)


def insulation(job: Job) -> Iterator[Lever]:
    """A better shell."""
    now = walls_u_w_m2k(job.van)
    if now <= _LEAST_U_W_M2K:
        raise NotApplicable("best shell")
    if not any(kind_of(item).by_cabin is not None for item in job.appliances):
        raise NotApplicable("no warmth")

    def change(job: Job) -> Job:
        better = max(BETTER_SHELL * now, _LEAST_U_W_M2K)
        van = with_values(job.van, {"shell_u_w_m2k": better, "insulation_m": None})
        return with_values(job, {"van": van})

    yield Lever("Insulation: a third less heat lost", change, prices_of(job).insulation)


def white_roof(job: Job) -> Iterator[Lever]:
    """Fresh white paint."""
    if job.van.skin_absorptance <= WHITE_ABSORPTANCE:
        raise NotApplicable("white")

    def change(job: Job) -> Job:
        van = with_values(job.van, {"skin_absorptance": WHITE_ABSORPTANCE})
        return with_values(job, {"van": van})

    yield Lever("A white roof", change, prices_of(job).white_roof)


def tilt(job: Job) -> Iterator[Lever]:
    """Panels that are raised when parked."""
    flat = [group for group in job.panels if group.mount == "flat" and group.count]
    if not flat:
        raise NotApplicable("none flat")

    def change(job: Job) -> Job:
        update = {"mount": "tilted", "tilt_deg": TILT_DEG}
        groups = tuple(
            with_values(group, update) if group.mount == "flat" else group for group in job.panels
        )
        return with_values(job, {"panels": groups})

    name = f"Panels tilted {TILT_DEG:g}° towards the noon sun when parked"
    yield Lever(name, change, prices_of(job).tilt_mount, may_be_left=True)
