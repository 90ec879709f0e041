"""Pieces that are worth more elsewhere than where they lie: from van to van, and back to the store."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from .problem import Problem
from .tables import tables_of


@dataclass(frozen=True)
class Worth:
    """Of one piece over one interval: money and jobs."""

    money: float
    jobs: float


NOTHING = Worth(0.0, 0.0)


@dataclass(frozen=True)
class Pass:
    """One piece. worth: money that it saves more there than here over the intervals counted, less handling.

    here: what the giver loses, there: what the taker gains, per interval.
    """

    part: str
    giver: str
    taker: str
    worth: float
    here: Worth = NOTHING
    there: Worth = NOTHING


class Stocks:
    """What each van holds, and what a piece fewer or more would change; pieces move one by one."""

    def __init__(self, problem: Problem, rng=None):
        self.problem = problem
        self.tables = {t.van.van: t for t in tables_of(problem, np.random.default_rng(1) if rng is None else rng)}
        self.held = {van: dict(t.van.now) for van, t in self.tables.items()}
        self.used = {p.part: np.array([p.price, p.litres, p.kilograms]) for p in problem.parts}
        self.changes = {van: self._changes(van) for van in self.tables}

    def give(self, part, giver, taker=None):
        """Move one piece; without a taker it leaves the vans."""
        self.held[giver][part] -= 1
        self.changes[giver] = self._changes(giver)
        if taker is not None:
            self.held[taker][part] = self.held[taker].get(part, 0) + 1
            self.changes[taker] = self._changes(taker)

    def _changes(self, van):
        """Part to (what one piece fewer loses, what one more gains); None where it cannot be."""
        table, held = self.tables[van], self.held[van]
        found: dict[str, tuple[Worth | None, Worth | None]] = {
            name: (NOTHING, None) for name, n in held.items() if n > table.van.pins.get(name, (0, 0))[0]
        }
        room = table.limits() - sum((n * self.used[p] for p, n in held.items()), np.zeros(3))
        for c, cluster in enumerate(table.clusters):
            names = [self.problem.parts[p].part for p in cluster.parts]
            at = [held.get(name, 0) for name in names]
            if cluster.jobs:
                for i, name in enumerate(names):
                    found[name] = self._change(table, c, i, name, at, room)
        return found

    def _change(self, table, c, i, name, held, room):
        values, row = table.values[c], table.row[c]
        least, most = table.van.pins.get(name, (0, self.problem.max_per_part))
        levels = np.minimum(held, values.most)
        here, step = values.at(row, levels), np.eye(len(levels), dtype=int)[i]
        fewer = more = None
        if held[i] > least:
            fewer = _less(here, values.at(row, levels - step)) if held[i] == levels[i] else NOTHING
        if held[i] < min(most, values.most[i]) and (self.used[name][1:] <= room[1:] + 1e-9).all():
            more = _less(values.at(row, levels + step), here)
        return fewer, more


def _less(one, other):
    return Worth(float(one[0] - other[0]), float(one[1] - other[1]))


def passes(problem: Problem, *, handling: float, intervals: float, most: int = 5, rng=None) -> tuple[Pass, ...]:
    """The best passes between vans as they now stand, one piece after the other, in at most `most` lines.

    A line is a part, a giver and a taker. handling: money per piece passed. intervals: restocks over which a piece
    would otherwise stay where it is. Room and pins of both vans are kept; what parts do together counts.
    """
    stocks = Stocks(problem, rng)
    found: list[Pass] = []
    while (best := _best(stocks, handling, intervals)) is not None and best.worth > 0:
        lines = {(p.part, p.giver, p.taker) for p in (*found, best)}
        if len(lines) > most:
            break
        found.append(best)
        stocks.give(best.part, best.giver, best.taker)
    return tuple(found)


def _best(stocks, handling, intervals):
    best = None
    for part in stocks.used:
        ends = [(van, changes[part]) for van, changes in stocks.changes.items() if part in changes]
        givers = [(van, fewer) for van, (fewer, _) in ends if fewer is not None]
        takers = [(van, more) for van, (_, more) in ends if more is not None]
        for giver, here in givers:
            for taker, there in takers:
                worth = (there.money - here.money) * intervals - handling
                if giver != taker and (best is None or worth > best.worth):
                    best = Pass(part, giver, taker, float(worth), here, there)
    return best


def returns(
    problem: Problem, *, handling: float, wanted: Mapping[str, float], in_store: Mapping[str, float], rng=None
) -> tuple[Pass, ...]:
    """Pieces that the store should have back, van by van, those that free most first; taker is "".

    wanted: part to pieces that the firm uses in a year, in_store: to pieces free there. A piece goes back where its
    worth on board in a year is less than the holding that it saves as the store's next one, less handling: only while
    the store would hand it out within the year.
    """
    stocks, yearly = Stocks(problem, rng), problem.intervals_per_year
    found: list[Pass] = []
    there = dict(in_store)
    saved = {p.part: problem.money.holding_per_year * p.price for p in problem.parts}
    while True:
        each = [
            Pass(part, van, "", saved[part] - fewer.money * yearly - handling, fewer)
            for van, changes in stocks.changes.items()
            for part, (fewer, _) in changes.items()
            if fewer is not None and wanted.get(part, 0) >= there.get(part, 0) + 1
        ]
        best = max(each, key=lambda p: p.worth, default=None)
        if best is None or best.worth <= 0:
            return tuple(found)
        found.append(best)
        stocks.give(best.part, best.giver)
        there[best.part] = there.get(best.part, 0) + 1
