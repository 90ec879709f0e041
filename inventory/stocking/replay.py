"""Past jobs replayed in order against a load: what would have been finished at the first visit."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class PastJob:
    """One job of one van. day: any day number. recipes: in order, each alone finishes it. cost: of a second visit."""

    day: int
    recipes: tuple[Mapping[str, int], ...]
    cost: float


@dataclass(frozen=True)
class Comparison:
    """Of one load against another. points: of first-visit fix rate. visits, money: saved. low, high: of the points.

    money_low, money_high: of the money, from the same draws.
    """

    points: float
    low: float
    high: float
    visits: float
    money: float
    jobs: int
    money_low: float = 0.0
    money_high: float = 0.0


def replay(levels: Mapping[str, int], jobs, restock_days: int, first_day: int):
    """Which jobs the load finishes at the first visit, bool (jobs,), in the order given, which is that of their days.

    The van is topped up to its levels on first_day and every restock_days after it, before that day's jobs. A job
    takes the first recipe wholly on board; one that finds none waits for its part and takes nothing.
    """
    finished = np.zeros(len(jobs), bool)
    stock, since = dict(levels), 0
    for i, job in enumerate(jobs):
        if (job.day - first_day) // restock_days > since:
            stock, since = dict(levels), (job.day - first_day) // restock_days
        recipe = next((r for r in job.recipes if all(stock.get(p, 0) >= n for p, n in r.items())), None)
        if recipe is not None:
            finished[i] = True
            for part, pieces in recipe.items():
                stock[part] -= pieces
    return finished


def simple_rule(own_use, firm_use, price, cash, most, limits=None):
    """Levels by the rule of thumb: own use last year per pound, then the firm's use, until the cash is spent.

    own_use, firm_use: part to pieces last year. price: part to money. most: pieces of one part.
    limits: [(part to use, limit)] of the van's room. Pieces are added one at a time, each judged by use over
    (pieces already there + 1).
    """
    levels: dict[str, int] = {}
    left, room = cash, [limit for _, limit in limits or ()]
    for use in (own_use, firm_use):
        while True:
            best = max(
                (
                    p
                    for p in use
                    if use[p] > 0
                    and p in price
                    and levels.get(p, 0) < most
                    and price[p] <= left + 1e-9
                    and all(taken.get(p, 0) <= r + 1e-9 for (taken, _), r in zip(limits or (), room, strict=True))
                    and levels.get(p, 0) < use[p]
                ),
                key=lambda p: (use[p] / (levels.get(p, 0) + 1) / max(price[p], 1e-9), p),
                default=None,
            )
            if best is None:
                break
            levels[best] = levels.get(best, 0) + 1
            left -= price[best]
            room = [r - taken.get(best, 0) for (taken, _), r in zip(limits or (), room, strict=True)]
    return levels


def compared(jobs, one, other, *, rng, level=0.90, draws=2000) -> Comparison:
    """How much more `one` finishes than `other`, both bool (jobs,), with an interval from paired weekly differences.

    Whole weeks are drawn again (bootstrap), so that what jobs of one week share is kept.
    Source: Efron & Tibshirani, An Introduction to the Bootstrap, 1993, ch. 8 and 13.
    """
    if not jobs:
        return Comparison(0.0, 0.0, 0.0, 0.0, 0.0, 0)
    difference = np.asarray(one, float) - np.asarray(other, float)
    _, week = np.unique([job.day // 7 for job in jobs], return_inverse=True)
    cost = np.array([job.cost for job in jobs], float)
    gained, count, saved = (np.bincount(week, weights) for weights in (difference, None, difference * cost))
    again = rng.integers(len(count), size=(draws, len(count)))
    points = 100 * gained[again].sum(axis=1) / count[again].sum(axis=1)
    ends = [(1 - level) / 2, (1 + level) / 2]
    low, high = map(float, np.quantile(points, ends))
    money_low, money_high = map(float, np.quantile(saved[again].sum(axis=1), ends))
    mean, visits, money = float(100 * difference.mean()), float(difference.sum()), float(saved.sum())
    return Comparison(mean, low, high, visits, money, len(jobs), money_low, money_high)
