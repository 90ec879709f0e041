"""How a van's load would look under other assumptions: another cost of a second visit, fewer fixed levels."""

from dataclasses import replace

import numpy as np

from .problem import Problem
from .van_load import best_levels, net_of

FACTORS = (0.5, 2.0)


def at_other_costs(problem: Problem, usual, factors=FACTORS) -> dict[str, dict[float, int]]:
    """Part to {factor: level} where its level is another when a second visit costs that many times as much.

    problem: of one van. usual: part to its level as things cost.
    """
    found: dict[str, dict[float, int]] = {}
    for factor in factors:
        money = replace(problem.money, second_visit=factor * problem.money.second_visit)
        [other] = best_levels(replace(problem, money=money)).values()
        for part in usual.keys() | other.keys():
            if usual.get(part, 0) != other.get(part, 0):
                found.setdefault(part, {})[factor] = other.get(part, 0)
    return found


def cost_of_fixing(problem: Problem) -> tuple[float, dict[str, float]]:
    """(what all fixed levels of the one van lose in a year against the best load without them, the same of each).

    Worth less holding, under the van's limits. Of each: against the best load with only that level free.
    """
    [van] = problem.vans
    if not van.pins:
        return 0.0, {}
    fixed = net_of(problem)

    def lost(kept):
        return max(0.0, net_of(replace(problem, vans=(replace(van, pins=kept),))) - fixed)

    each = {part: lost({p: pin for p, pin in van.pins.items() if p != part}) for part in van.pins}
    return (lost({}) if len(van.pins) > 1 else float(np.sum(list(each.values())))), each
