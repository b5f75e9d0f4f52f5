"""The sun of a place in a sentence."""

from __future__ import annotations

from sim.ledger.almanac import Almanac
from sim.report.words.numbers import month_name


def sky_sentence(climate: Almanac) -> str:
    """What 100 W of panels bring in the best and in the darkest month."""
    best, least = int(climate.panel_wh_day.argmax()), int(climate.panel_wh_day.argmin())
    darkest = climate.panel_wh_day[least]
    brings = "nothing" if darkest < 0.5 else f"{darkest:.0f} Wh"
    return (
        f"One flat 100 W panel puts about {climate.panel_wh_day[best]:.0f} Wh a day into the "
        f"battery in {month_name(best + 1)} and {brings} in {month_name(least + 1)}."
    )
