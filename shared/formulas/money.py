"""Money over the years: what equipment is still worth on the books, and what to set aside for the next one.

Amounts are decimal and are rounded once, to the cent, at the end. Book life says nothing of service life.
"""

from collections.abc import Sequence
from decimal import ROUND_HALF_UP, Decimal
from typing import Final, NamedTuple

import numpy as np

from shared.formulas._ranges import whole

Amount = Decimal | int | float

_CENT: Final = Decimal("0.01")
_ONE: Final = Decimal(1)
# More is a slip of the pen, and would not leave room for cents.
_MOST: Final = Decimal(10) ** 12
# Interest under this is none: the closed form would divide nothing by nothing.
_NO_INTEREST: Final = Decimal("1e-9")


class Depreciation(NamedTuple):
    """What is written off in a whole year, what has been written off so far, and what is left on the books."""

    annual: Decimal
    accumulated: Decimal
    book: Decimal


class CompositeRate(NamedTuple):
    """Share of the cost that is written off each year for a mixed account: of all of it, and less salvage."""

    rate: Decimal
    net_of_salvage: Decimal


class Replacement(NamedTuple):
    """What the next one will cost, and what to set aside at the end of each year until then."""

    future_cost: Decimal
    annual_deposit: Decimal


def straight_line(cost: Amount, salvage: Amount, life_months: int, months_elapsed: int) -> Depreciation:
    """Depreciation in equal amounts, by whole months in service; it stops at the salvage value.

    Args:
        cost: acquisition cost, 0 to 10^12. [$]
        salvage: value expected at the end of its life, 0 to cost. [$]
        life_months: depreciable life, at least 1. [month]
        months_elapsed: whole months in service, >= 0. [month]

    Returns:
        A whole year's amount, all written off so far, and the book value, to the cent. [$]

    Raises:
        ValueError: an argument is out of range.

    Source: 26 CFR 1.167(b)-1 (read); none after the depreciable life, 2 CFR 200.436(d)(4) (read).
    """
    paid = _within("cost", cost, Decimal(0), _MOST, "$")
    left = _within("salvage", salvage, Decimal(0), paid, "$")
    life = whole("life_months", life_months, 1)
    served = min(whole("months_elapsed", months_elapsed, 0), life)
    accumulated = _cents((paid - left) * served / life)
    return Depreciation(_cents((paid - left) * 12 / life), accumulated, _cents(paid) - accumulated)


def composite_rate(costs: Sequence[Amount], lives_years: Sequence[Amount], salvage: Amount = 0) -> CompositeRate:
    """One straight-line rate for an account of things with unlike lives.

    Args:
        costs: acquisition costs, shape (n,), each > 0 and at most 10^12. [$]
        lives_years: depreciable lives, shape (n,), each > 0. [year]
        salvage: share of the cost that is left at the end, 0 to 1. [ratio]

    Returns:
        Rate of the whole cost, and rate less salvage; not rounded. [ratio/year]

    Raises:
        ValueError: an argument is out of range, or the two lists do not match.

    Source: 26 CFR 1.167(b)-1(b), example 2 (read): one year's depreciation of each, over the cost of all.
    """
    if not costs or len(costs) != len(lives_years):
        raise ValueError(
            f"costs must hold at least one cost and lives_years as many, got {costs!r} and {lives_years!r}"
        )
    paid = [_within("costs", cost, Decimal(0), _MOST, "$", above=True) for cost in costs]
    lives = [_within("lives_years", life, Decimal(0), None, "year", above=True) for life in lives_years]
    kept = _within("salvage", salvage, Decimal(0), _ONE, "ratio")
    rate = sum((cost / life for cost, life in zip(paid, lives, strict=True)), Decimal(0)) / sum(paid)
    return CompositeRate(rate, rate * (_ONE - kept))


def replacement(cost_now: Amount, inflation: Amount, years: Amount, interest: Amount, saved: Amount = 0) -> Replacement:
    """Cost of a replacement in years to come, and the level deposit that meets it.

    Args:
        cost_now: what the same would cost today, 0 to 10^12. [$]
        inflation: rise of its price, above -1 and at most 1. [ratio/year]
        years: until it is replaced, > 0 and at most 100. [year]
        interest: that the deposits earn, above -1 and at most 1; at 0 the cost is shared evenly. [ratio/year]
        saved: set aside already, 0 to 10^12; it earns too. [$]

    Returns:
        Cost then, and the deposit at the end of each year, 0 where enough is saved; to the cent. [$]

    Raises:
        ValueError: an argument is out of range.

    Source: compound escalation C (1 + i)^n and sinking fund F r / ((1 + r)^n - 1), engineering economics (read).
    """
    cost = _within("cost_now", cost_now, Decimal(0), _MOST, "$")
    rise = _within("inflation", inflation, -_ONE, _ONE, "ratio/year", above=True)
    span = _within("years", years, Decimal(0), Decimal(100), "year", above=True)
    earns = _within("interest", interest, -_ONE, _ONE, "ratio/year", above=True)
    kept = _within("saved", saved, Decimal(0), _MOST, "$")
    future = cost * (_ONE + rise) ** span
    grown = (_ONE + earns) ** span
    wanted = max(future - kept * grown, Decimal(0))
    deposit = wanted / span if abs(earns) < _NO_INTEREST else wanted * earns / (grown - _ONE)
    return Replacement(_cents(future), _cents(deposit))


def _cents(amount: Decimal) -> Decimal:
    return amount.quantize(_CENT, rounding=ROUND_HALF_UP)


def _within(name: str, value: Amount, low: Decimal, high: Decimal | None, unit: str, *, above: bool = False) -> Decimal:
    """Give a number as the decimal that its shortest writing says; refuse one that is not finite or out of range."""
    most = "" if high is None else f" and at most {high:f}"
    said = f"{name} must be {'above' if above else 'at least'} {low:f}{most} {unit}, got {value!r}"
    if isinstance(value, bool) or not isinstance(value, (Decimal, int, float, np.number)):
        raise TypeError(said)
    given = value if isinstance(value, Decimal) else Decimal(str(value))
    met = given.is_finite() and (given > low if above else given >= low) and (high is None or given <= high)
    if not met:
        raise ValueError(said)
    return given
