"""Controllers, the engine and snow against published values; what is from memory says so."""

from __future__ import annotations

import numpy as np
import pytest

import sim
from sim.job.model.changes import with_values
from sim.job.model.job import Trip
from sim.job.model.power import Alternator
from sim.resources import profiles_dir
from sim.trip.one_panel import panel_watts, snow_on
from sim.trip.prepare import Skies
from sim.trip.timeline import build_timeline
from sim.van import chargers

# T. Murphy, Blow-by-blow PV system efficiency, dothemath.ucsd.edu/2012/09: a controller measured
# over 30 months has the efficiency 0.991 - 13.5 W / P, by which 500 W keep 0.964.
MEASURED_MPPT = [(500.0, 0.964), (179.0, 0.9156), (13.6, 0.0)]


@pytest.mark.parametrize(("watts", "efficiency"), MEASURED_MPPT)
def test_a_measured_controller(watts: float, efficiency: float) -> None:
    """Tolerance: the digits printed; the second and third from the formula."""
    given, clipped = chargers.solar_controller_watts(
        np.array([[watts]]), efficiency=0.991, amps=60.0, charging_v=27.6, standby_watts=13.5
    )
    assert given[0, 0] / watts == pytest.approx(efficiency, abs=5e-4)
    assert clipped[0, 0] == 0.0


def test_a_controller_at_its_limit() -> None:
    """Common practice, no source: amps times the bank's voltage is all that comes out."""
    given, clipped = chargers.solar_controller_watts(
        np.array([[600.0]]), efficiency=0.98, amps=30.0, charging_v=13.6
    )
    assert given[0, 0] == pytest.approx(408.0)
    assert clipped[0, 0] == pytest.approx(588.0 - 408.0)


def test_an_alternator_at_idle() -> None:
    """One of 35 A gives 12 A at idle, 34 % (practical-sailor.com, issues/25_8); modern ones a
    third to a half of their rating (from memory, medium sure). The default lies between."""
    default = Alternator(dcdc_amps=60.0)
    assert default.idle_output_pct == pytest.approx(100.0 * 12.0 / 35.0, abs=16.0)
    watts = chargers.dcdc_watts(
        dcdc_amps=60.0,
        charging_v=13.5,
        efficiency=1.0,
        alternator=chargers.AlternatorOutput(35.0, 13.5, idle_output=12.0 / 35.0),
        idle_share=1.0,
    )
    assert watts / 13.5 == pytest.approx(12.0)


# B. Marion, R. Schaefer, H. Caine, G. Sanchez, Solar Energy 97 (2013) 112-121: snow took 1 to
# 12 % of a year's energy from tilted systems in Colorado and Wisconsin, and up to 90 % of a
# month's (from memory, fairly sure).
YEARLY_LOSS = (0.01, 0.12)


@pytest.mark.parametrize("place", ["43.07, -89.40", "40.01, -105.25, 1655 m"])
def test_a_year_of_snow_in_wisconsin_and_in_colorado(place: str) -> None:
    """A panel tilted by 35 degrees that nobody sweeps; 12 drawn years. Our snowfall is guessed
    from dull cold days, so the published range of systems is the tolerance."""
    job = sim.load_job(profiles_dir() / "jobs" / "demo.toml")
    job = with_values(job, {"settings": with_values(job.settings, {"draws": 12})})
    stop = {"place": place, "nights": 364}
    trip = Trip.model_validate({"name": "Year", "depart": "2027-07-01", "stops": (stop,)})
    timeline = build_timeline(job, trip)
    above = Skies().over(job, trip, timeline)
    tilted = with_values(job.panels[0], {"mount": "tilted", "tilt_deg": 35.0})
    cover = snow_on(tilted, job, timeline, above.weather, above.sun)
    assert cover is not None
    light = panel_watts(tilted, timeline, above.weather, above.sun)
    assert YEARLY_LOSS[0] <= float((cover * light).sum() / light.sum()) <= YEARLY_LOSS[1]
    month = timeline.start_utc.astype("datetime64[M]").astype(np.int64) % 12
    lost = np.array(
        [(cover * light)[month == m].sum() / light[month == m].sum() for m in range(12)]
    )
    assert 0.05 < lost.max() < 0.9
    assert lost[5:8].max() < 0.01
