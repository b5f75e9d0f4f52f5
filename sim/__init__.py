"""Nightledger: the energy ledger of every night of a trip.

import sim

job = sim.load_job("job.toml")
result = sim.simulate(job)
result.trips[0].verdict
sim.decide.panels(job).recommended
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from sim import decide as decide
    from sim.job.reading.load import load_job as load_job
    from sim.ledger.simulate import simulate as simulate

__version__ = "0.1.0"
__all__ = ["decide", "load_job", "simulate"]

_HOME = {"load_job": "sim.job.reading.load", "simulate": "sim.ledger.simulate"}


def __getattr__(name: str) -> Any:
    """The public functions, imported when first asked for: `import sim` stays light."""
    from importlib import import_module

    if name == "decide":
        return import_module("sim.decide")
    if name in _HOME:
        return getattr(import_module(_HOME[name]), name)
    raise AttributeError(f"module 'sim' has no attribute {name!r}")
