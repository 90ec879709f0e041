"""The lines of one van's proposal: every part carried, carried now, or of use to a job in its area."""

from dataclasses import dataclass

import numpy as np
from scipy import stats

from .explain import Numbers, Window, reason
from .problem import Problem


@dataclass(frozen=True)
class Line:
    """One part in one van. Visits and money are per year: of what is on board, and of one more (null: no more).

    gain_per_year: what the change from now to level gains, holding counted.
    """

    part: str
    level: int
    reason: str
    now: int
    price: float
    spend: float
    wanted_per_year: float
    saves_per_year: float
    worth_per_year: float
    next_saves_per_year: float | None
    next_worth_per_year: float | None
    gain_per_year: float
    barred: str


@dataclass(frozen=True)
class Marginal:
    """Jobs and money per interval: of the pieces on board against none, and against as many as now; next_*: of one
    more with `extra`, None where no more can be carried.
    """

    saves: float
    worth: float
    change: float
    next_saves: float | None
    next_worth: float | None
    extra: dict[int, int]


def lines_of(problem: Problem, table, picked, window: Window, currency: str, later=frozenset()) -> tuple[Line, ...]:
    """Every line in the order of problem.parts. picked: one option of the table per cluster.

    later: parts of which more would pay, only not now.
    """
    levels = {c: table.levels[c][option - table.first[c]] for c, option in enumerate(picked)}
    place = {p: (c, i) for c, cluster in enumerate(table.clusters) for i, p in enumerate(cluster.parts)}
    shown = [p for p, part in enumerate(problem.parts) if p in place or table.van.now.get(part.part)]
    wanted = _wanted(problem, table, place, shown, window)
    left = table.limits() - table.use[picked].sum(axis=0)
    found = []
    for k, p in enumerate(shown):
        c, i = place.get(p, (None, 0))
        level = int(levels[c][i]) if c is not None else 0
        margin = Marginal(0.0, 0.0, 0.0, 0.0, 0.0, {}) if c is None else _marginal(problem, table, c, levels[c], i)
        numbers = _numbers(problem, table, p, level, margin, wanted[k], left, window, later)
        found.append(_line(problem, numbers, margin, wanted[k][0] / window.intervals, p, window, currency))
    return tuple(found)


def _wanted(problem, table, place, shown, window):
    """Per part (mean, low, high, in area, no other part would do) of the jobs over the window that could take it."""
    rows = []
    for p in shown:
        c, i = place.get(p, (None, 0))
        jobs = table.clusters[c].jobs if c is not None else ()
        jobs = [job for job in jobs if any(q == i for recipe in job.recipes for q, _ in recipe)]
        needs = [problem.needs[n] for job in jobs for n in job.needs]
        season = [need.demand[table.van.van].over(window.intervals) for need in needs]
        area = sum(need.in_area.get(table.van.van, _exposed(problem, need, table.van.van)) for need in needs)
        only = all(len(job.recipes) == 1 for job in jobs)
        rows.append((sum(d.mean for d in season), sum(d.variance for d in season), area, only))
    mean, variance, area, only = np.array(rows).reshape(-1, 4).T
    p = np.clip(mean / np.maximum(variance, mean * (1 + 1e-9) + 1e-300), 1e-12, 1 - 1e-12)
    shape = np.maximum(mean * p / (1 - p), 1e-12)
    low, high = (np.where(mean > 0, stats.nbinom.ppf(q, shape, p), 0) for q in (0.05, 0.95))
    return [
        (float(m), int(a), int(b), float(n), bool(o)) for m, a, b, n, o in zip(mean, low, high, area, only, strict=True)
    ]


def _exposed(problem, need, van):
    demand = need.demand[van]
    return float(demand.weights @ demand.per_interval) * problem.intervals_per_year


def _marginal(problem, table, c, levels, i):
    def at(i_levels):
        return table.values[c].at(table.row[c], i_levels)

    def instead(pieces):
        changed = levels.copy()
        changed[i] = min(pieces, table.values[c].most[i])
        return at(changed)

    here_worth, here_done = at(levels)
    less_worth, less_done = instead(0)
    now = table.van.now.get(problem.parts[table.clusters[c].parts[i]].part, 0)
    saved = here_done - less_done, here_worth - less_worth, here_worth - instead(now)[0]
    if levels[i] >= table.values[c].most[i]:
        return Marginal(*saved, None, None, {})
    step = np.zeros_like(levels)
    step[i] = 1
    more_worth, more_done = at(levels + step)
    if more_done - here_done < 1e-9:
        most = _most(problem, table, c)
        step, (more_worth, more_done) = _with_the_rest(table.clusters[c], levels, i, most, at, step, at(levels + step))
    extra = {table.clusters[c].parts[j]: int(n) for j, n in enumerate(step) if n and j != i}
    return Marginal(*saved, more_done - here_done, more_worth - here_worth, extra)


def _most(problem, table, c):
    """Most pieces of each part that may be carried and whose worth is known."""
    allowed = [table.van.pins.get(problem.parts[p].part, (0, problem.max_per_part))[1] for p in table.clusters[c].parts]
    return np.minimum(allowed, table.values[c].most)


def _with_the_rest(cluster, levels, i, most, at, step, found):
    """The step that completes a recipe with part i, where one piece alone does nothing."""
    for job in cluster.jobs:
        for recipe in (r for r in job.recipes if any(p == i for p, _ in r)):
            whole = np.zeros_like(levels)
            whole[[p for p, _ in recipe]] = [n for _, n in recipe]
            missing = np.maximum(whole - levels, 0)
            if missing[i] and (levels + missing <= most).all() and at(levels + missing)[1] > found[1] + 1e-9:
                return missing, at(levels + missing)
    return step, found


def _numbers(problem, table, p, level, margin, wanted, left, window, later):
    part, share = problem.parts[p], window.intervals / problem.intervals_per_year
    more = {p: 1, **margin.extra}
    use = sum(
        n * np.array([problem.parts[q].price, problem.parts[q].litres, problem.parts[q].kilograms])
        for q, n in more.items()
    )
    pin = table.van.pins.get(part.part)
    return Numbers(
        part=part.part,
        level=level,
        now=table.van.now.get(part.part, 0) if table.van.now else None,
        wanted=wanted[0],
        low=wanted[1],
        high=wanted[2],
        in_area=wanted[3],
        saves=margin.saves * window.intervals,
        saves_money=margin.worth * window.intervals,
        next_saves=None if margin.next_saves is None else margin.next_saves * window.intervals,
        next_money=(margin.next_worth or 0.0) * window.intervals,
        next_cost=float(use[0]),
        next_with=" and ".join(f"{n} {problem.parts[q].part}" for q, n in margin.extra.items()),
        holding=float(use[0]) * problem.money.holding_per_year * share,
        barred="later" if part.part in later else _barred(problem, pin, level, use, left),
        fixed=pin,
        only=wanted[4],
    )


def _barred(problem, pin, level, use, left):
    if pin and level >= pin[1]:
        return "fixed"
    if not pin and level >= problem.max_per_part:
        return "most"
    over = np.flatnonzero(use > left + 1e-9)
    return ("cash", "litres", "kilograms")[over[0]] if len(over) else ""


def _line(problem, n, margin, wanted_per_interval, p, window, currency):
    yearly, price = problem.intervals_per_year, problem.parts[p].price
    return Line(
        part=n.part,
        level=n.level,
        reason=reason(n, window, currency),
        now=n.now or 0,
        price=price,
        spend=price * n.level,
        wanted_per_year=wanted_per_interval * yearly,
        saves_per_year=margin.saves * yearly,
        worth_per_year=margin.worth * yearly,
        next_saves_per_year=None if margin.next_saves is None else margin.next_saves * yearly,
        next_worth_per_year=None if margin.next_worth is None else margin.next_worth * yearly,
        gain_per_year=margin.change * yearly - problem.money.holding_per_year * price * (n.level - (n.now or 0)),
        barred=n.barred,
    )
