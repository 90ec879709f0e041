"""What a van's stock of today does, on the same demand as its proposal."""

from dataclasses import dataclass

import numpy as np

from .problem import Problem
from .tables import tables_of


@dataclass(frozen=True)
class Standing:
    """spend: cash in what the van carries now. worth_per_year: visits that it saves, in money."""

    van: str
    spend: float
    first_visit_fix_rate: float | None
    worth_per_year: float


def carried_now(problem: Problem, *, rng=None) -> tuple[Standing, ...]:
    """Each van as it is; pieces beyond what could be of use count in the spend only. rng: as for `plan`."""
    tables = tables_of(problem, np.random.default_rng(1) if rng is None else rng)
    return tuple(_standing(problem, table) for table in tables)


def _standing(problem, table):
    worth = done = 0.0
    for c, cluster in enumerate(table.clusters):
        now = np.array([table.van.now.get(problem.parts[p].part, 0) for p in cluster.parts])
        found = table.values[c].at(table.row[c], np.minimum(now, table.values[c].most))
        worth, done = worth + found[0], done + found[1]
    demanded = sum(need.demand[table.van.van].mean for need in problem.needs if table.van.van in need.demand)
    price = {p.part: p.price for p in problem.parts}
    return Standing(
        table.van.van,
        float(sum(price[p] * n for p, n in table.van.now.items())),
        min(1.0, done / demanded) if demanded > 0 else None,
        worth * problem.intervals_per_year,
    )
