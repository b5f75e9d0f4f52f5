"""Where the Earth is in its orbit, computed once for the same moments.

Half of the work for the sun's position hangs on the time alone, and hundreds of tests look at the
same few weeks. pvlib's series for it are remembered here, to the last bit as pvlib gives them.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable
from typing import Any

import numpy as np
import pvlib

from sim.arrays import Floats

_MOST = 100  # sets of moments
_LONGEST = 10_000  # moments of a set; longer ones are not kept
_SERIES = ("heliocentric_longitude", "heliocentric_latitude", "heliocentric_radius_vector")


class Known:
    """What a series gave for the sets of moments that were asked for last."""

    def __init__(self) -> None:
        self._found: OrderedDict[bytes, Floats] = OrderedDict()

    def of(self, moments: Any, compute: Callable[[], Floats]) -> Floats:
        if np.size(moments) > _LONGEST:
            return compute()
        key = np.asarray(moments).tobytes()
        if key not in self._found:
            self._found[key] = compute()
            while len(self._found) > _MOST:
                self._found.popitem(last=False)
        self._found.move_to_end(key)
        return np.array(self._found[key])


def remember() -> None:
    """Let pvlib remember what its slowest series gave."""
    for name in _SERIES:
        setattr(pvlib.spa, name, _remembering(getattr(pvlib.spa, name)))
    series, known = pvlib.spa.longitude_obliquity_nutation, Known()

    def nutation(moments: Floats, *rest: Floats) -> None:
        """The one series that fills an array given to it, the last of the rest."""

        def compute() -> Floats:
            series(moments, *rest)
            return rest[-1].copy()

        rest[-1][...] = known.of(moments, compute)

    pvlib.spa.longitude_obliquity_nutation = nutation


def _remembering(series: Callable[[Any], Floats]) -> Callable[[Any], Floats]:
    known = Known()
    return lambda moments: known.of(moments, lambda: series(moments))
