"""What each van should carry: the most worth per year under cash, litres and kilograms, vans together or alone."""

from dataclasses import dataclass

import numpy as np

from .choose import Choice, Options, best_choice, fits, shadow_prices
from .explain import Window
from .frontier import Point, frontier_of
from .lines import Line, lines_of
from .problem import Problem
from .tables import CASH, KILOGRAMS, LIMITS, LITRES, VanTable, tables_of

NO_LIMIT = "none"
MANY, CLOSE = 3000, 1e-4


@dataclass(frozen=True)
class Load:
    """One van's proposal. levels: part to pieces. worth_per_year: visits saved in money, before holding.

    binding: the limit that costs most: cash, litres, kilograms, or none. optimum_gap: 0 where proven exact.
    """

    van: str
    levels: dict[str, int]
    spend: float
    litres: float
    kilograms: float
    expected_done_per_interval: float
    first_visit_fix_rate: float | None
    worth_per_year: float
    binding: str
    lines: tuple[Line, ...]


@dataclass(frozen=True)
class Plan:
    vans: tuple[Load, ...]
    frontier: tuple[Point, ...]
    method: str
    warnings: tuple[str, ...]


def plan(problem: Problem, *, rng=None, window: Window | None = None, currency: str = "£") -> Plan:
    """The best levels of every van, why, and the frontier of cash against first-visit fix rate.

    Maximises Σ c₂ · intervals · E[jobs done] − holding · Σ price · level under each van's limits and the shared
    budget; exact but for clusters too large to list, which `method` and `warnings` then say.
    rng: for those clusters only, numpy Generator. window: what the words count over, a year by default.
    """
    tables, nets, alone, together = _solved(problem, rng)
    window = window or Window.year(problem.intervals_per_year)
    loads = tuple(
        _load(problem, *found, window=window, currency=currency)
        for found in zip(tables, nets, alone, together, strict=True)
    )
    return Plan(loads, frontier_of(problem, tables), _method(tables), _warnings(problem, tables))


def best_levels(problem: Problem, *, rng=None) -> dict[str, dict[str, int]]:
    """Van to part to level, as `plan` has them, without reasons or frontier."""
    tables, _, _, together = _solved(problem, rng)
    return {t.van.van: _levels(problem, t, picked) for t, picked in zip(tables, together, strict=True)}


def _solved(problem, rng):
    """(tables, net worth of their options, each van's choice on its own, each van's under the shared budget)."""
    tables = tables_of(problem, np.random.default_rng(1) if rng is None else rng)
    nets = [_net(problem, table) for table in tables]
    alone = [best_choice(t.options(n), t.limits()) if len(n) else _nothing() for t, n in zip(tables, nets, strict=True)]
    return tables, nets, alone, _together(problem, tables, nets, alone)


def _levels(problem, table, picked):
    return {problem.parts[p].part: n for p, n in sorted(table.chosen_levels(picked).items())}


def _net(problem, table):
    return table.worth * problem.intervals_per_year - problem.money.holding_per_year * table.use[:, CASH]


def _nothing():
    return Choice(np.zeros(0, int), 0.0, np.zeros(3), 0.0)


def _together(problem, tables, nets, alone):
    """The choices under the shared budget: its shadow price first, then exactly."""
    spend = sum(t.use[c.picked, CASH].sum() for t, c in zip(tables, alone, strict=True))
    budget = _shared_budget(problem, tables)
    if spend <= budget * (1 + 1e-12) + 1e-9:
        return [c.picked for c in alone]
    price, shadows = _price_of_cash(tables, nets, alone, budget)
    if sum(len(n) for n in nets) > MANY:
        return _van_by_van(tables, nets, budget, price)
    return _joint_choice(tables, nets, budget, price, shadows)


def _shared_budget(problem, tables):
    if problem.money.budget is None:
        return np.inf
    return max(problem.money.budget, sum(t.least_use[CASH] for t in tables))


def _price_of_cash(tables, nets, alone, budget):
    """(yearly worth of one more unit of shared cash, each van's own shadow prices), by bisection."""
    def spent_at(price):
        found = [_at_price(t, n, price) for t, n in zip(tables, nets, strict=True)]
        return [shadow for shadow, _ in found], sum(cash for _, cash in found)

    low, high = 0.0, 1.0
    while spent_at(high)[1] > budget and high < 1e15:
        low, high = high, 4 * high
    while high - low > 1e-6 * high:
        middle = (low + high) / 2
        low, high = (middle, high) if spent_at(middle)[1] > budget else (low, middle)
    return high, spent_at(high)[0]


def _at_price(table, net, price):
    """(shadow prices of the van's own limits, cash spent) when cash costs `price` more per unit and year."""
    options, limits = table.options(net - price * table.use[:, CASH]), table.limits()
    picked = options.best(options.value) if len(net) else np.zeros(0, int)
    if fits(options, picked, limits):
        return np.zeros(3), float(table.use[picked, CASH].sum())
    finite = np.flatnonzero(np.isfinite(limits) & (limits > 0))
    scaled = Options(options.cluster, options.value, options.use[:, finite] / limits[finite])
    prices, _ = shadow_prices(scaled, np.ones(len(finite)))
    shadow = np.zeros(3)
    shadow[finite] = prices / limits[finite]
    picked = options.best(options.value - options.use @ shadow)
    return shadow, float(table.use[picked, CASH].sum())


def _van_by_van(tables, nets, budget, price):
    """Each van exactly at the shared price of cash; what is then left over, or too much, goes to the one van where
    it gains most, or loses least. Short of the optimum by at most price · (cash left over).
    """
    for dearer in 1 + 1e-4 * 8.0 ** np.arange(20):
        cost = price * dearer
        picked = [_choice(t, n - cost * t.use[:, CASH], t.limits()) for t, n in zip(tables, nets, strict=True)]
        left = budget - sum(t.use[p, CASH].sum() for t, p in zip(tables, picked, strict=True))
        room = [t.use[p, CASH].sum() + left >= t.least_use[CASH] for t, p in zip(tables, picked, strict=True)]
        if left >= 0 or any(room):
            break
    trials = [_choice(t, n, _with_cash(t, p, left)) if fine else p
              for t, n, p, fine in zip(tables, nets, picked, room, strict=True)]
    gains = [n[new].sum() - n[old].sum() if fine else -np.inf
             for n, new, old, fine in zip(nets, trials, picked, room, strict=True)]
    best = int(np.argmax(gains))
    if left < 0 or gains[best] > 0:
        picked[best] = trials[best]
    return picked


def _choice(table, value, limits):
    return best_choice(table.options(value), limits, close=CLOSE).picked if len(value) else np.zeros(0, int)


def _with_cash(table, picked, left):
    limits = table.limits()
    return np.minimum(limits, [table.use[picked, CASH].sum() + left, np.inf, np.inf])


def _joint_choice(tables, nets, budget, price, shadows):
    """One choice over all vans: the shared budget beside every van's own limits."""
    clusters = np.cumsum([0] + [len(t.clusters) for t in tables])
    sizes = [len(n) for n in nets]
    use = np.zeros((sum(sizes), 1 + 3 * len(tables)))
    limits, guess = np.full(use.shape[1], np.inf), np.zeros(use.shape[1])
    limits[0], guess[0], start = budget, price, 0
    for v, table in enumerate(tables):
        rows, own = slice(start, start + sizes[v]), slice(1 + 3 * v, 4 + 3 * v)
        use[rows, 0], use[rows, own] = table.use[:, CASH], table.use
        limits[own], guess[own], start = table.limits(), shadows[v], start + sizes[v]
    together = Options(
        np.concatenate([t.cluster + c for t, c in zip(tables, clusters, strict=False)]),
        np.concatenate([t.options(n).value for t, n in zip(tables, nets, strict=True)]), use,
    )
    picked = best_choice(together, limits, guess).picked
    starts = np.cumsum([0, *sizes])
    return [picked[a:b] - s for a, b, s in zip(clusters, clusters[1:], starts, strict=False)]


def _load(problem, table, net, alone, picked, *, window, currency):
    used = table.use[picked].sum(axis=0)
    done = float(table.done[picked].sum())
    demanded = sum(need.demand[table.van.van].mean for need in problem.needs if table.van.van in need.demand)
    return Load(
        van=table.van.van,
        levels=_levels(problem, table, picked),
        spend=float(used[CASH]), litres=float(used[LITRES]), kilograms=float(used[KILOGRAMS]),
        expected_done_per_interval=done,
        first_visit_fix_rate=min(1.0, done / demanded) if demanded > 0 else None,
        worth_per_year=float(table.worth[picked].sum()) * problem.intervals_per_year,
        binding=_binding(table, net, alone, picked),
        lines=lines_of(problem, table, picked, window, currency),
    )


def _binding(table, net, alone, picked):
    """The limit whose lifting alone would gain most; the shared budget counts as cash; none where all are slack."""
    if not len(net):
        return NO_LIMIT
    options, limits = table.options(net), table.limits()
    if options.value[picked].sum() < alone.value - 1e-9 * max(1.0, abs(alone.value)):
        return LIMITS[CASH]
    free = options.use[options.best(options.value)].sum(axis=0)
    over = np.flatnonzero(free > limits + 1e-9 * np.maximum(1, limits))
    if len(over) < 2:
        return LIMITS[over[0]] if len(over) else NO_LIMIT
    gains = [best_choice(options, np.where(np.arange(3) == i, np.inf, limits)).value for i in over]
    return LIMITS[over[int(np.argmax(gains))]]


def _method(tables):
    exact = ("Negative binomial demand per interval; jobs arrive in random order and take the first listed recipe on "
             "board; the best levels under all limits by shadow prices and an exact list of near choices, or HiGHS.")
    if any(t.searched for t in tables):
        return exact + " Large groups of needs that share parts: simulated, whole recipes added, then swaps."
    return exact


def _warnings(problem: Problem, tables: list[VanTable]):
    found = list(problem.warnings)
    for table in tables:
        van, least = table.van, table.least_use
        for i, limit in enumerate((van.budget, van.litres, van.kilograms)):
            if limit is not None and least[i] > limit:
                taken = f"{least[i]:g} {LIMITS[i]}"
                found.append(f"{van.van}: the fixed levels alone take {taken}, more than {limit:g}")
        found += [
            f"{van.van}: {part} is fixed at {least_most[0]} to {least_most[1]}, beyond the most of "
            f"{problem.max_per_part} per part"
            for part, least_most in van.pins.items() if least_most[1] > problem.max_per_part
        ]
    shared = sum(t.least_use[CASH] for t in tables)
    if problem.money.budget is not None and shared > problem.money.budget:
        found.append(f"the fixed levels alone cost {shared:g}, more than the budget of {problem.money.budget:g}")
    searched = [table.van.van for table in tables if table.searched]
    if searched:
        found.append("some needs share too many parts for the exact answer, theirs was searched: vans "
                     + ", ".join(searched))
    return tuple(found)
