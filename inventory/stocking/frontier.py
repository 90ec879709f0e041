"""Cash against first-visit fix rate, all vans together: the most first visits that each amount of cash can buy."""

from dataclasses import dataclass

import numpy as np

from .choose import best_choice
from .options import Options
from .problem import Problem
from .tables import CASH

POINTS = 12
SMALL = 300
NEAR = 1e-3


@dataclass(frozen=True)
class Point:
    """spend: cash in all vans' parts. first_visit_fix_rate: the best it allows, null without demand."""

    spend: float
    first_visit_fix_rate: float | None


def frontier_of(problem: Problem, tables) -> tuple[Point, ...]:
    """At least ten points of rising spend; room and pins are kept, the vans' and the shared cash limits lifted.

    Every point does the most jobs for its cash, whatever a job is worth. Where too few different spends exist,
    points in between say what their cash allows. Without vans there is nothing to tell: no point.
    """
    if not tables:
        return ()
    demanded = sum(d.mean for need in problem.needs for d in need.demand.values())
    tables = [t for t in tables if len(t.clusters)]
    least = sum(t.least_use[CASH] for t in tables)
    top = _top(problem, tables, least)
    found = _by_prices(tables, least, top) if tables else {}
    if tables and len(found) < 10 and sum(len(t.done) for t in tables) <= 10 * SMALL:
        found |= _by_budgets(tables, least, top)
    found = _filled(_rising(found), least)
    return tuple(Point(cash, min(1.0, done / demanded) if demanded > 0 else None) for cash, done in found)


def _room(table):
    limits = table.limits().copy()
    limits[CASH] = np.inf
    return limits


def _spent(table, value):
    """(cash, done) of the van's best choice by `value` within its room."""
    close = 0.0 if len(value) <= SMALL else NEAR
    choice = best_choice(table.options(value), _room(table), close=close)
    return table.use[choice.picked, CASH].sum(), table.done[choice.picked].sum()


def _top(problem, tables, least):
    """Where the curve ends: a quarter beyond what pays best without cash limits or what is carried now."""
    price = {p.part: p.price for p in problem.parts}
    now = sum(price[p] * n for van in problem.vans for p, n in van.now.items())
    yearly, holding = problem.intervals_per_year, problem.money.holding_per_year
    best = sum(_spent(t, t.worth * yearly - holding * t.use[:, CASH])[0] for t in tables)
    wanted = 1.25 * max(now, best)
    return wanted if wanted > least else sum(_spent(t, t.done)[0] for t in tables)


def _by_prices(tables, least, top):
    """{spend: done} along falling prices of cash: the corners of the curve."""
    found = {}
    prices = _prices(tables, _targets(least, top, POINTS))
    for price in prices:
        pairs = [_spent(t, t.done - price * t.use[:, CASH]) for t in tables]
        found[round(sum(p[0] for p in pairs), 6)] = sum(p[1] for p in pairs)
    return found


def _targets(least, top, points):
    """Rising spends, closer together at the lower end, where each pound does most."""
    return least + (top - least) * np.linspace(0, 1, points + 1)[1:] ** 2


def _prices(tables, targets):
    """Prices of cash in jobs per unit that, without room limits, would spend about each target."""

    def spend(price):
        total = 0.0
        for options, table in zip(plain, tables, strict=True):
            total += table.use[options.best(options.value - price * table.use[:, CASH]), CASH].sum()
        return total

    plain = [t.options(t.done) for t in tables]
    found, ceiling = [], 1e6
    for target in targets:
        low, high = 0.0, ceiling
        for _ in range(40):
            middle = np.sqrt(max(low, 1e-12) * high)
            low, high = (middle, high) if spend(middle) > target else (low, middle)
            if high <= max(low, 1e-12) * 1.0001:
                break
        ceiling = high
        found.append(high)
    return found


def _by_budgets(tables, least, top):
    """{spend: done} of the best choice within rising budgets, exactly; for few options."""
    clusters = np.cumsum([0] + [len(t.clusters) for t in tables])
    cluster = np.concatenate([t.cluster + c for t, c in zip(tables, clusters, strict=False)])
    use = np.zeros((len(cluster), 1 + 2 * len(tables)))
    limits, start = np.full(use.shape[1], np.inf), 0
    for v, table in enumerate(tables):
        rows = slice(start, start + len(table.done))
        use[rows, 0], use[rows, 1 + 2 * v : 3 + 2 * v] = table.use[:, CASH], table.use[:, 1:]
        limits[1 + 2 * v : 3 + 2 * v], start = table.limits()[1:], start + len(table.done)
    done = np.concatenate([t.done for t in tables])
    options = Options(cluster, np.concatenate([t.options(t.done).value for t in tables]), use)
    found = {}
    for budget in _targets(least, top, 2 * POINTS):
        limits[0] = budget
        picked = best_choice(options, limits).picked
        found[round(float(use[picked, 0].sum()), 6)] = float(done[picked].sum())
    return found


def _rising(found):
    """The pairs (spend, done) that do more than any cheaper one."""
    kept: list[tuple[float, float]] = []
    for cash, done in sorted(found.items()):
        if not kept or done > kept[-1][1]:
            kept.append((float(cash), float(done)))
    return kept


def _filled(points, least):
    """At least ten points: between two, more cash does no more than the lower one."""
    points = points or [(float(least), 0.0)]
    while len(points) < 10:
        gaps = [b[0] - a[0] for a, b in zip(points, points[1:], strict=False)]
        at = int(np.argmax(gaps)) if gaps else 0
        step = gaps[at] / 2 if gaps and gaps[at] > 1e-6 else max(1.0, points[-1][0] / 10)
        if not gaps or gaps[at] <= 1e-6:
            points.append((points[-1][0] + step, points[-1][1]))
        else:
            points.insert(at + 1, (points[at][0] + step, points[at][1]))
    return points
