"""Which van passes what to whom: pieces that are worth more elsewhere than the handling."""

from dataclasses import dataclass

import numpy as np

from .problem import Problem
from .tables import tables_of


@dataclass(frozen=True)
class Pass:
    """One piece. worth: money that it saves more there than here over the intervals counted, less handling."""

    part: str
    giver: str
    taker: str
    worth: float


def passes(problem: Problem, *, handling: float, intervals: float, most: int = 5, rng=None) -> tuple[Pass, ...]:
    """The best passes between vans as they now stand, one after the other, at most `most`: the Friday list.

    handling: money per piece passed. intervals: restocks over which a piece would otherwise stay where it is.
    Room and pins of both vans are kept; what several parts do together counts.
    """
    tables = tables_of(problem, np.random.default_rng(1) if rng is None else rng)
    stock = {t.van.van: dict(t.van.now) for t in tables}
    found: list[Pass] = []
    while len(found) < most:
        best = _best(problem, tables, stock, handling, intervals)
        if best is None or best.worth <= 0:
            break
        found.append(best)
        stock[best.giver][best.part] -= 1
        stock[best.taker][best.part] = stock[best.taker].get(best.part, 0) + 1
    return tuple(found)


def _best(problem, tables, stock, handling, intervals):
    gains = {t.van.van: _changes(problem, t, stock[t.van.van]) for t in tables}
    best = None
    for part in problem.parts:
        givers = [(loss[part.part][0], van) for van, loss in gains.items() if part.part in loss]
        takers = [(gain[part.part][1], van) for van, gain in gains.items() if part.part in gain]
        for (loss, giver), (gain, taker) in ((g, t) for g in givers for t in takers if g[1] != t[1]):
            worth = (gain - loss) * intervals - handling
            if np.isfinite(worth) and (best is None or worth > best.worth):
                best = Pass(part.part, giver, taker, float(worth))
    return best


def _changes(problem, table, stock):
    """Part to (what one piece fewer loses, what one more gains) per interval; inf and −inf where it cannot be."""
    found = {name: (0.0, -np.inf) for name, n in stock.items() if n > 0}
    room = table.limits() - sum((stock.get(p.part, 0) * _use(p) for p in problem.parts), np.zeros(3))
    for c, cluster in enumerate(table.clusters):
        held = [stock.get(problem.parts[p].part, 0) for p in cluster.parts]
        for i, p in enumerate(cluster.parts):
            found[problem.parts[p].part] = _change(problem, table, c, i, held, room)
    return found


def _change(problem, table, c, i, held, room):
    part, values, row = problem.parts[table.clusters[c].parts[i]], table.values[c], table.row[c]
    least, most = table.van.pins.get(part.part, (0, problem.max_per_part))
    levels = np.minimum(held, values.most)
    here, step = values.at(row, levels)[0], np.eye(len(levels), dtype=int)[i]
    fewer, more = np.inf, -np.inf
    if held[i] > least:
        fewer = here - values.at(row, levels - step)[0] if held[i] == levels[i] else 0.0
    if held[i] < min(most, values.most[i]) and (_use(part)[1:] <= room[1:] + 1e-9).all():
        more = values.at(row, levels + step)[0] - here
    return fewer, more


def _use(part):
    return np.array([part.price, part.litres, part.kilograms])
