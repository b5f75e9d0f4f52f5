"""Voltage and current that a circuit of panels must be built for, by the electrical code's rules.

The rules were read from copies and training texts, not from the code itself.
"""

from __future__ import annotations

from sim.errors import NightledgerError
from sim.van.conductors import CONTINUOUS

STANDARD_TEST_C = 25.0  # deg C, standard test conditions (IEC 61215)
# Sun brighter than the test's 1000 W/m2 (NEC 690.8(A)).
BRIGHT_SUN = 1.25

# Factor on the open-circuit voltage of crystalline silicon, down to that temperature of the air
# (NEC table 690.7(A), read from a copy).
_COLD_FACTORS: tuple[tuple[float, float], ...] = (
    (25, 1.0), (20, 1.02), (15, 1.04), (10, 1.06), (5, 1.08), (0, 1.10), (-5, 1.12), (-10, 1.14),
    (-15, 1.16), (-20, 1.18), (-25, 1.20), (-30, 1.21), (-35, 1.23), (-40, 1.25),
)  # fmt: skip
COLDEST_C = _COLD_FACTORS[-1][0]


def cold_voltage(voc_v: float, coldest_c: float, *, coeff_pct_c: float) -> float:
    """Open-circuit voltage in the cold by the panel's own coefficient. [V]

    Parameters
    ----------
    voc_v : float
        Of the string at 25 deg C. [V]
    coldest_c : float
        Lowest air temperature to expect. [deg C]
    coeff_pct_c : float
        Of the open-circuit voltage, negative. [%/deg C]

    References
    ----------
    NEC 690.7(A)(1).
    """
    return voc_v * (1.0 + coeff_pct_c / 100.0 * (coldest_c - STANDARD_TEST_C))


def cold_voltage_by_table(voc_v: float, coldest_c: float) -> float:
    """Open-circuit voltage in the cold by the table, for panels of unknown coefficient. [V]

    Raises
    ------
    NightledgerError
        Colder than the table.

    References
    ----------
    NEC table 690.7(A).
    """
    # Each row holds from its own temperature up to just below the row before.
    for down_to, factor in _COLD_FACTORS:
        if coldest_c >= down_to:
            return voc_v * factor
    raise NightledgerError(
        f"the table of cold-weather factors ends at {COLDEST_C:.0f} deg C; give the panel's own "
        "voltage coefficient"
    )


def longest_string(controller_v: float, cold_panel_v: float) -> int:
    """How many panels in series stay within a controller's highest voltage."""
    return int(controller_v / cold_panel_v + 1e-9)


def design_current(isc_a: float, strings: int = 1) -> float:
    """Largest current of a panel circuit in bright sun. [A]

    References
    ----------
    NEC 690.8(A): 125 % of the short-circuit current.
    """
    return BRIGHT_SUN * isc_a * strings


def rating_current(isc_a: float, strings: int = 1) -> float:
    """Current its fuse must be rated for. [A]

    References
    ----------
    NEC 690.8(B), 690.9(B): 125 % of `design_current`.
    """
    return CONTINUOUS * design_current(isc_a, strings)
