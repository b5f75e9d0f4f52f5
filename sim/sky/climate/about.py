"""What the report says of drawn weather: where it comes from, and how sure it is here."""

from __future__ import annotations

import numpy as np

from sim.arrays import Floats
from sim.sky.climate.corrections import as_share, doubt_of_years
from sim.sky.climate.days import LocalDays
from sim.sky.climate.islands import CELLS_ALONE_KM, clearness_doubt
from sim.sky.climate.tables import PointClimate, brightest_clearness

# A weather file is worth a word when it would take off this share of the doubt.
_WORTH_A_FILE = 0.25


def about_draws(
    days: LocalDays, climate: PointClimate, draws: int, seed: int, prudent: bool
) -> tuple[str, ...]:
    """Sentences on the drawn weather of a track.

    Parameters
    ----------
    days : LocalDays
        Of the track.
    climate : PointClimate
        Of its places.
    draws, seed : int
    prudent : bool
    """
    lines = [
        f"The weather of {draws:,} simulated trips is drawn with seed {seed} from the built-in "
        "world climate: daily sunshine of the MERRA-2 reanalysis 2011 to 2015, corrected against "
        "weather stations, and monthly temperatures of ITU-R P.1510-1.",
        how_sure(*season_doubt(days, climate)),
        "A month's mean temperature is good to 1.5 K and its daily temperature range to 2 K.",
    ]
    far = climate.cell_km > CELLS_ALONE_KM
    if far.any():
        doubt = clearness_doubt(days.latitude, climate.cell_km)[far]
        lines.append(
            f"Up to {climate.cell_km.max():.0f} km from the nearest land with data, sunshine is "
            "estimated: by the warmth of the sea around and what island stations measured, in the "
            "far north by the shores of the Arctic. There a month's mean is good to about "
            f"{100 * doubt.max():.0f} %, and one side of an island can be far duller than the "
            "other."
        )
    if np.abs(days.latitude).max() > 60.0:
        lines.append("Beyond 60 degrees of latitude few stations were there to try it on.")
    if prudent:
        lines.append("The spread between bright and dark days is widened by a tenth (prudent).")
    return tuple(lines)


def season_doubt(days: LocalDays, climate: PointClimate) -> tuple[Floats, Floats]:
    """How unsure the sunshine of a track's months is, one standard deviation of a month's mean.

    Returns
    -------
    as_it_is, with_file : ndarray
        Share of the mean, one number for each place and month that the track sees: as the draws
        have it, and with a weather file of the place, which leaves the difference between years.
    """
    brightest = brightest_clearness(days.altitude_m)
    mean = climate.clearness_mean
    years = doubt_of_years(len(brightest)).total
    month = days.pair_day.astype("datetime64[D]").astype("datetime64[M]").astype(np.int64) % 12
    seen = np.unique(np.stack([days.pair_place, month]), axis=1)
    now, then = (as_share(sd, mean, brightest) for sd in (climate.doubt.total, years))
    return now[seen[0], seen[1]], then[seen[0], seen[1]]


def how_sure(as_it_is: Floats, with_file: Floats) -> str:
    """The sentence on `season_doubt`."""
    now, then = 100.0 * as_it_is, 100.0 * with_file
    text = (
        f"How bright a whole month is here is known to within {_span(now)} (one standard "
        "deviation: the place and the year together); every draw has a season of its own within "
        "that."
    )
    if then.mean() > (1.0 - _WORTH_A_FILE) * now.mean():
        return f"{text} A weather file would hardly make it surer."
    return f"{text} A weather file of a station nearby would leave {_span(then)}."


def _span(percent: Floats) -> str:
    low, high = round(float(percent.min())), round(float(percent.max()))
    return f"about {low} %" if low == high else f"{low} to {high} %"
