"""Which changes of a proposal are worth the bother this week, and why the others wait."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from .problem import Problem
from .tables import tables_of

HANDLING, NEW, ENOUGH, NO_ROOM = "handling", "new", "enough", "no-room"
ALL_SUBSETS = 4


@dataclass(frozen=True)
class Damping:
    """handling: money per line changed, which its yearly net gain must beat. stays_weeks: of a new line.

    most_changes: lines per van and week, None at a change of season. Common practice, no source.
    """

    handling: float = 5.0
    stays_weeks: float = 8.0
    most_changes: int | None = 5


@dataclass(frozen=True)
class Waiting:
    """A change that is not made now. best: the level it would have. gain: net, in a year. why: HANDLING, NEW (the
    line is), ENOUGH (changes this week) or NO_ROOM.
    """

    best: int
    gain: float
    why: str


@dataclass(frozen=True)
class Damped:
    """levels: part to pieces, today's with the changes that deserve to be made now. waiting: by part."""

    levels: dict[str, int]
    waiting: dict[str, Waiting]


def damped(problem: Problem, best: Mapping[str, int], rules: Damping, weeks_carried: Mapping[str, float]) -> Damped:
    """Today's levels of the one van of `problem`, changed towards `best` where that pays its handling.

    weeks_carried: part to weeks since its line was new; a part that is absent has been carried for long. Changes
    that only pay together (pairs, one part for another) are made together; the best per line come first, and what
    is taken off to make room comes with them. Limits are kept, or not further exceeded; fixed levels always hold.
    """
    [van] = problem.vans
    here = _Van(problem, best)
    young = {p for p, weeks in weeks_carried.items() if weeks < rules.stays_weeks}
    new = {p for p in young if best.get(p, 0) < here.levels.get(p, 0)}
    free = {p for p, n in here.levels.items() if n != best.get(p, 0) and p not in van.pins} - new
    left = len(free) if rules.most_changes is None else rules.most_changes
    while left > 0 and (move := here.best_move(free, left, rules.handling)):
        here.make(move)
        free -= move
        left -= len(move)
    waiting = {p: here.waiting(p, NEW) for p in new}
    waiting |= {p: here.waiting(p, here.why(p, free, rules, left)) for p in free}
    return Damped({p: n for p, n in here.levels.items() if n}, waiting)


class _Van:
    """The levels as they stand, and what changes of them gain."""

    def __init__(self, problem, best):
        [van] = problem.vans
        roomy = {p: (0, max(n, best.get(p, 0), problem.max_per_part)) for p, n in {**van.now, **best}.items()}
        [self.table] = tables_of(replace(problem, vans=(replace(van, pins=roomy),)), np.random.default_rng(1))
        self.problem, self.van, self.best = problem, van, best
        self.levels = {p: van.now.get(p, 0) for p in {**van.now, **best, **van.pins}}
        self.levels |= {p: int(np.clip(self.levels[p], least, most)) for p, (least, most) in van.pins.items()}
        self.piece = {p.part: np.array([p.price, p.litres, p.kilograms]) for p in problem.parts}
        self.limits = np.array([np.inf if x is None else x for x in (van.budget, van.litres, van.kilograms)])
        self.cluster_of = {problem.parts[p].part: c for c, x in enumerate(self.table.clusters) for p in x.parts}

    def gain(self, parts):
        """Net, in a year, of bringing these parts, all of one cluster, to their best levels."""
        return self._net(parts, {**self.levels, **{p: self.best.get(p, 0) for p in parts}}) - self._net(
            parts, self.levels
        )

    def _net(self, parts, levels):
        worth, c = 0.0, self.cluster_of.get(next(iter(parts)))
        if c is not None:
            names = [self.problem.parts[p].part for p in self.table.clusters[c].parts]
            at = np.minimum([levels.get(name, 0) for name in names], self.table.values[c].most)
            worth = self.table.values[c].at(self.table.row[c], at)[0]
        held = sum(levels.get(p, 0) * self.piece[p][0] for p in parts)
        return worth * self.problem.intervals_per_year - self.problem.money.holding_per_year * held

    def moves(self, free):
        """Sets of parts that may change together, each within a cluster, with what they gain."""
        groups: dict = {}
        for part in sorted(free):
            groups.setdefault(self.cluster_of.get(part, part), []).append(part)
        for parts in groups.values():
            sizes = range(1, len(parts) + 1) if len(parts) <= ALL_SUBSETS else (1, 2, len(parts))
            for size in sizes:
                for chosen in combinations(parts, size):
                    yield frozenset(chosen), self.gain(chosen)

    def best_move(self, free, left, handling):
        """The set of changes that gains most per line beyond its handling and fits, or None."""
        found = [(gain / len(move), move) for move, gain in self.moves(free) if len(move) <= left]
        found = sorted((x for x in found if x[0] > handling), key=lambda x: (-x[0], sorted(x[1])))
        for _, move in found:
            whole = self._with_room(move, free)
            if whole and len(whole) <= left and self._gain_of_all(whole) > handling * len(whole):
                return whole
        return None

    def _with_room(self, move, free):
        """The move with what must be taken off for it, or None where that is not enough."""
        given_up = sorted(
            (p for p in free - move if self.best.get(p, 0) < self.levels[p]), key=lambda p: -self.gain((p,))
        )
        whole = set(move)
        while not self._fits(whole):
            if not given_up:
                return None
            whole.add(given_up.pop(0))
        return frozenset(whole)

    def _gain_of_all(self, parts):
        groups: dict = {}
        for part in parts:
            groups.setdefault(self.cluster_of.get(part, part), []).append(part)
        return sum(self.gain(tuple(group)) for group in groups.values())

    def _fits(self, parts):
        was = sum((n * self.piece[p] for p, n in self.levels.items()), np.zeros(3))
        change = sum(((self.best.get(p, 0) - self.levels[p]) * self.piece[p] for p in parts), np.zeros(3))
        return bool((was + change <= np.maximum(self.limits, was) + 1e-9).all())

    def make(self, parts):
        self.levels |= {p: self.best.get(p, 0) for p in parts}

    def waiting(self, part, why):
        return Waiting(self.best.get(part, 0), float(self.gain((part,))), why)

    def why(self, part, free, rules, left):
        """Of the sets that hold this part, the best says why it waits."""
        best = max((gain / len(move), len(move)) for move, gain in self.moves(free) if part in move)
        if best[0] <= rules.handling:
            return HANDLING
        return ENOUGH if left < best[1] else NO_ROOM


def change_of_season(factors, month: int) -> bool:
    """Whether the half of the year with the most failures begins or ends in that month (1 to 12).

    factors: of the months, January first, (12,); where all are equal there are no seasons.
    """
    factors = np.asarray(factors, float)
    halves = [np.take(factors, range(first, first + 6), mode="wrap").sum() for first in range(12)]
    if max(halves) - min(halves) < 1e-9:
        return False
    return (month - 1 - int(np.argmax(halves))) % 6 == 0
