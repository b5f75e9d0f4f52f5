"""Banks and offers for the battery's tests, from a few words."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from sim.van.bank.lanes import Bank
from sim.van.bank.offers import Offers
from sim.van.bank.sources import Source

# 100 Ah at 12.8 V with every loss and limit a bank can have.
BANK = Bank(
    capacity_wh=1280.0,
    charge_limit_w=640.0,
    discharge_limit_w=1280.0,
    taper_from_soc=0.9,
    tail_share=0.1,
    charge_efficiency=0.99,
    resistance_per_w=3e-5,
    self_discharge_per_h=4e-5,
    floors=(0.05, 0.15, 0.25),
    reconnect_above=0.05,
)
# Nothing is lost and nothing tapers until the bank is all but full.
IDEAL = replace(
    BANK,
    charge_limit_w=1e6,
    discharge_limit_w=1e6,
    taper_from_soc=0.999,
    tail_share=0.9,
    charge_efficiency=1.0,
    resistance_per_w=0.0,
    self_discharge_per_h=0.0,
)


@pytest.fixture
def bank() -> Callable[..., Bank]:
    """A real bank, with what the test changes."""
    return lambda **changes: replace(BANK, **changes)


@pytest.fixture
def ideal() -> Callable[..., Bank]:
    """A bank without losses or limits, with what the test changes."""
    return lambda **changes: replace(IDEAL, **changes)


@pytest.fixture
def offers() -> Callable[..., Offers]:
    """Offers over so many steps from numbers, rows of steps, or arrays of (steps, lanes)."""

    def column(value: Any, steps: int) -> np.ndarray:
        array = np.asarray(value, dtype=np.float64)
        if array.ndim < 2:
            array = np.broadcast_to(array, (steps,))[:, None]
        return array

    def build(
        steps: int,
        *,
        essential: Any = 0.0,
        comfort: Any = 0.0,
        extra: Any = 0.0,
        sun: Any = 0.0,
        drive: Any = 0.0,
        shore: Any = 0.0,
        allowed: Any = 1.0,
    ) -> Offers:
        groups = [column(value, steps) for value in (essential, comfort, extra)]
        return Offers(
            wanted_w=np.stack(np.broadcast_arrays(*groups)),
            sources=tuple(
                Source(kind, kind, column(watts, steps))
                for kind, watts in (("sun", sun), ("drive", drive), ("shore", shore))
            ),
            charge_allowed=column(allowed, steps),
        )

    return build
