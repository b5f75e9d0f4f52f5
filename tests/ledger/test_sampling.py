"""Intervals of shares against published ones."""

from __future__ import annotations

import pytest

from sim.ledger.sampling import even_interval, paired_error, share_interval, wilson

# R. G. Newcombe, Statistics in Medicine 17 (1998) 857-872, table I, method 3 (score method
# without continuity correction), 95 %. Tolerance: its four decimals.
NEWCOMBE = (
    (81, 263, 0.2553, 0.3662),
    (15, 148, 0.0624, 0.1605),
    (0, 20, 0.0000, 0.1611),
    (1, 29, 0.0061, 0.1718),
)


@pytest.mark.parametrize(("successes", "draws", "low", "high"), NEWCOMBE)
def test_wilson_as_published(successes: int, draws: int, low: float, high: float) -> None:
    found = wilson(successes, draws)
    assert found.low == pytest.approx(low, abs=5e-5)
    assert found.high == pytest.approx(high, abs=5e-5)
    other = wilson(draws - successes, draws)
    assert (1.0 - other.high, 1.0 - other.low) == pytest.approx((found.low, found.high))


def test_the_ends_are_their_own_bounds() -> None:
    assert wilson(0, 7).low == 0.0
    assert wilson(7, 7).high == 1.0
    assert wilson(190, 200).holds(0.95)
    assert not wilson(200, 200).holds(0.95)


def test_a_paired_difference_is_surer_than_two_shares() -> None:
    """Twenty of 200 draws gained and none lost is a sure gain; one is none."""
    assert paired_error(20, 0, 200) < 20 / 200
    assert paired_error(1, 0, 200) > 1 / 200
    assert paired_error(30, 30, 200) > paired_error(30, 0, 200) / 2
    assert paired_error(0, 0, 200) > 0.0


def test_even_draws_are_surer_than_dice_but_not_at_the_ends() -> None:
    """0.9 of the half-width in the middle; none and all of the draws stay bounds themselves."""
    dice, even = wilson(120, 200), even_interval(120, 200)
    assert (even.high - even.low) / (dice.high - dice.low) == pytest.approx(0.90, abs=0.01)
    assert share_interval(120, 200, years=False) == even
    assert share_interval(120, 200, years=True) == dice
    assert even.holds(0.6)
    assert even_interval(0, 200).low == 0.0
    assert even_interval(200, 200).high == 1.0
    assert even_interval(200, 200).low < 0.99
