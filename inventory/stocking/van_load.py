"""What each van should carry: the most worth per year under cash, litres and kilograms, vans together or alone."""

from dataclasses import dataclass, replace

import numpy as np

from .choose import Choice, best_choice
from .explain import Window
from .frontier import Point, frontier_of
from .lines import Line, lines_of
from .problem import Problem
from .shared_budget import under_shared_budget
from .tables import CASH, KILOGRAMS, LIMITS, LITRES, VanTable, tables_of

NO_LIMIT = "none"
TOO_NEAR = 0.01  # bounds nearer to each other than this do not tell which limit gains most


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


def net_of(problem: Problem, *, rng=None) -> float:
    """The greatest worth less holding in a year that all vans together can have."""
    _, nets, _, together = _solved(problem, rng)
    return float(sum(net[picked].sum() for net, picked in zip(nets, together, strict=True)))


def load_of(
    problem: Problem, levels, *, binding=NO_LIMIT, later=frozenset(), rng=None, window=None, currency="£"
) -> Load:
    """What these levels do on the one van of `problem`, with the reasons for every line.

    levels: part to pieces, beyond any limit if so given. binding: to be told as the limit that binds. later: parts of
    which more would pay, only not now.
    """
    [van] = problem.vans
    most = {p: max(levels.get(p, 0), van.pins.get(p, (0, problem.max_per_part))[1]) for p in {**levels, **van.pins}}
    floor = replace(van, pins={p: (levels.get(p, 0), n) for p, n in most.items()})
    [table] = tables_of(replace(problem, vans=(floor,)), np.random.default_rng(1) if rng is None else rng)
    window = window or Window.year(problem.intervals_per_year)
    return _told(problem, replace(table, van=van), table.first, binding, window, currency, later)


def _solved(problem, rng):
    """(tables, net worth of their options, each van's choice on its own, each van's under the shared budget)."""
    tables = tables_of(problem, np.random.default_rng(1) if rng is None else rng)
    nets = [_net(problem, table) for table in tables]
    alone = [best_choice(t.options(n), t.limits()) if len(n) else _nothing() for t, n in zip(tables, nets, strict=True)]
    return tables, nets, alone, under_shared_budget(problem.money.budget, tables, nets, alone)


def _levels(problem, table, picked):
    return {problem.parts[p].part: n for p, n in sorted(table.chosen_levels(picked).items())}


def _net(problem, table):
    return table.worth * problem.intervals_per_year - problem.money.holding_per_year * table.use[:, CASH]


def _nothing():
    return Choice(np.zeros(0, int), 0.0, np.zeros(3), 0.0)


def _load(problem, table, net, alone, picked, *, window, currency):
    return _told(problem, table, picked, _binding(table, net, alone, picked), window, currency)


def _told(problem, table, picked, binding, window, currency, later=frozenset()):
    """The Load of these options, one per cluster, in numbers and words."""
    used = table.use[picked].sum(axis=0)
    done = float(table.done[picked].sum())
    demanded = sum(need.demand[table.van.van].mean for need in problem.needs if table.van.van in need.demand)
    return Load(
        van=table.van.van,
        levels=_levels(problem, table, picked),
        spend=float(used[CASH]),
        litres=float(used[LITRES]),
        kilograms=float(used[KILOGRAMS]),
        expected_done_per_interval=done,
        first_visit_fix_rate=min(1.0, done / demanded) if demanded > 0 else None,
        worth_per_year=float(table.worth[picked].sum()) * problem.intervals_per_year,
        binding=binding,
        lines=lines_of(problem, table, picked, window, currency, later),
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
    lifted = [np.where(np.arange(3) == i, np.inf, limits) for i in over]
    gains = np.array([best_choice(options, x, close=1.0).bound for x in lifted])
    near = gains >= gains.max() * (1 - TOO_NEAR)
    if near.sum() > 1:
        gains[near] = [best_choice(options, x).value for x, close in zip(lifted, near, strict=True) if close]
    return LIMITS[over[int(np.argmax(np.where(near, gains, -np.inf)))]]


def _method(tables):
    exact = (
        "Negative binomial demand per interval; jobs arrive in random order and take the first listed recipe on "
        "board; the best levels under all limits by shadow prices and an exact list of near choices, or HiGHS."
    )
    if any(t.searched for t in tables):
        return exact + " Large groups of needs that share parts: simulated, whole recipes added, then swaps."
    return exact


def _warnings(problem: Problem, tables: list[VanTable]):
    found = list(problem.warnings)
    if not tables:
        found.append("there are no vans, so there is nothing to plan and no frontier")
    for table in tables:
        van, least = table.van, table.least_use
        for i, limit in enumerate((van.budget, van.litres, van.kilograms)):
            if limit is not None and least[i] > limit:
                taken = f"{least[i]:g} {LIMITS[i]}"
                found.append(f"{van.van}: the fixed levels alone take {taken}, more than {limit:g}")
        found += [
            f"{van.van}: {part} is fixed at {least_most[0]} to {least_most[1]}, beyond the most of "
            f"{problem.max_per_part} per part"
            for part, least_most in van.pins.items()
            if least_most[1] > problem.max_per_part
        ]
    shared = sum(t.least_use[CASH] for t in tables)
    if problem.money.budget is not None and shared > problem.money.budget:
        found.append(f"the fixed levels alone cost {shared:g}, more than the budget of {problem.money.budget:g}")
    searched = [table.van.van for table in tables if table.searched]
    if searched:
        found.append(
            "some needs share too many parts for the exact answer, theirs was searched: vans " + ", ".join(searched)
        )
    return tuple(found)
