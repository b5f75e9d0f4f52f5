"""What aboard makes heat from electricity, and the same job with propane in its place."""

from __future__ import annotations

from sim.job import shelf
from sim.job.model.appliances import Appliance, Cooking, Heater, HotWater, Timed
from sim.job.model.changes import with_values
from sim.job.model.job import Job
from sim.job.model.tanks import Propane

# A timed AC appliance that draws as much makes heat: kettle, coffee maker, toaster (common
# practice, no source).
HEAT_FROM_WATTS = 700.0
# The tank that a job without one gets: about that of two small cylinders. [L]
SMALL_TANK_L = 20.0
STOVE, FURNACE = "propane-stove", "furnace-propane"
TANK_HEATER, FLOW_HEATER = "hot-water-propane", "hot-water-propane-instant"


def is_electric_heat(item: Appliance) -> bool:
    """Whether propane could make heat that an appliance takes from the battery, or water hot
    that it heats on the plug alone."""
    if item.count == 0 or (item.runs == "plugged" and not isinstance(item, HotWater)):
        return False
    match item:
        case Timed():
            return item.supply == "ac" and item.watts >= HEAT_FROM_WATTS
        case Cooking() | Heater():
            return item.fuel == "electricity"
        case HotWater():
            return item.source == "electricity"
        case _:
            return False


def on_propane(job: Job) -> Job:
    """The job with its electric heat made from propane.

    What cooks, heats water or heats the cabin becomes its like from the shelf, with the habits
    and the set points it had. What boils by the clock goes to the stove: its electricity is
    gone, the little gas that takes is not counted. A job without propane gets a small tank.

    Parameters
    ----------
    job : Job
    """
    items = tuple(_swapped(x) if is_electric_heat(x) else x for x in job.appliances)
    tank = job.propane or Propane(tank_l=SMALL_TANK_L)
    return with_values(job, {"appliances": items, "propane": tank})


def _swapped(item: Appliance) -> Appliance:
    match item:
        case Cooking():
            return _like(item, STOVE, "fuel", "watts", "meal_wh_person", "cabin_pct")
        case HotWater():
            name = TANK_HEATER if item.tank_l > 0.0 else FLOW_HEATER
            lit = with_values(item, {"runs": "always"}) if item.runs == "plugged" else item
            return _like(lit, name, "source", "watts", "heat_watts", "efficiency_pct")
        case Heater():
            return _like(item, FURNACE, "fuel", "blower_watts", "heat_watts", "efficiency_pct")
        case _:
            return with_values(item, {"count": 0})


def _like(item: Appliance, name: str, *keys: str) -> Appliance:
    """The appliance with some values of a profile, on the 12 V side, one of it."""
    values = shelf.profile("appliances", name).values
    update = {key: values[key] for key in keys}
    return with_values(item, {**update, "supply": "dc", "count": 1, "above_soc": None})
