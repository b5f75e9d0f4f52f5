"""Inverters as measured: the parabola of three data-sheet figures against the tested ones.

The list is that of the California Energy Commission as pvlib ships it (2019): test results of
accredited laboratories as parameters of the Sandia model (King et al., SAND2007-5036). Taken are
those of a battery's voltage, whatever their make.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pvlib
import pytest

from sim.van.inverter import loss_curve

BATTERY_V = 60.0
LOADS = (0.1, 0.2, 0.3, 0.5, 0.75)


@pytest.fixture(scope="module")
def tested() -> pd.DataFrame:
    every = pvlib.pvsystem.retrieve_sam("CECInverter").T
    numbers = every.drop(columns=["Vac", "CEC_Date", "CEC_Type"]).astype(float)
    return numbers[numbers["Vdco"] < BATTERY_V].drop_duplicates()


def efficiency_at(inverter: pd.Series, load: np.ndarray) -> np.ndarray:
    """By the Sandia model at its reference voltage."""
    into = np.linspace(1e-3, 1.0, 20_001) * inverter["Pdco"]
    out = pvlib.inverter.sandia(np.full_like(into, inverter["Vdco"]), into, inverter)
    return load * inverter["Paco"] / np.interp(load * inverter["Paco"], out, into)


def test_nine_in_ten_within_one_point(tested: pd.DataFrame) -> None:
    """From idle draw, best and full-load efficiency alone, at a tenth to three quarters of the
    load; a data sheet rounds to one point."""
    assert len(tested) >= 10
    worst = []
    for _, inverter in tested.iterrows():
        over_load = efficiency_at(inverter, np.linspace(0.02, 1.0, 99))
        curve = loss_curve(
            watts=inverter["Paco"],
            idle_watts=inverter["Pso"],
            efficiency=over_load.max(),
            full_load_efficiency=over_load[-1],
        )
        load = np.array(LOADS)
        ours = load * inverter["Paco"] / curve.input_w(load * inverter["Paco"])
        worst.append(np.abs(ours - efficiency_at(inverter, load)).max())
    assert np.median(worst) < 0.001
    assert np.mean(np.array(worst) < 0.01) > 0.9
    # A few of them lose most at a middling load, or nearly nothing but their idle draw.
    assert max(worst) < 0.045
