"""Imports without a search for garbage: what is imported stays, and the search through it takes a
tenth of the time that a run needs to begin."""

from __future__ import annotations

import gc
import sys
from collections.abc import Iterator
from contextlib import contextmanager

from sim import stopping


@contextmanager
def importing() -> Iterator[None]:
    """Around many imports: no garbage is looked for meanwhile, nor afterwards in what they brought.

    Inside another program nothing is done: what that one leaves lying is not ours to keep.
    """
    if not (stopping.listens() and gc.isenabled()):
        yield
        return
    gc.disable()
    known = len(sys.modules)
    try:
        yield
    finally:
        if len(sys.modules) > known:
            gc.freeze()
        gc.enable()
