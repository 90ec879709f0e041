"""Levels for clusters too large for the exact recursion: simulated orders of jobs, whole recipes, then swaps.

A single job in an interval is counted exactly; two or more are drawn, given how many there are.
"""

from dataclasses import dataclass

import numpy as np

from .demand import largest_count, pooled_pmf
from .values import all_levels

DRAWS_TO_SEARCH = 400
DRAWS_TO_REPORT = 4000
LONGEST_ORDER = 150
FEW_LEVELS = 300
TRIED_AT_ONCE, SWAPPED_IN = 16, 12
PRICES = (0.0, 0.5, 1.5, 4.0, 10.0, 30.0)


@dataclass(frozen=True)
class Arrivals:
    """Orders of jobs in an interval. kinds: (orders, longest), job numbers, −1 after the last. chance: (orders,)."""

    kinds: np.ndarray
    chance: np.ndarray


@dataclass(frozen=True)
class Searched:
    """Like Values, for one van and a list of promising levels; others up to `most` are simulated when asked about."""

    levels: np.ndarray
    worth: np.ndarray
    done: np.ndarray
    recipes: np.ndarray
    costs: np.ndarray
    arrivals: Arrivals
    most: np.ndarray

    def at(self, van, levels):
        worth, done = simulated(np.asarray(levels)[None], self.recipes, self.costs, self.arrivals)
        return float(worth[0]), float(done[0])


def searched_values(problem, cluster, least, most, demands, rng) -> Searched:
    """Promising levels of a large cluster in one van, with simulated worth and done.

    least, most: (parts,). demands: [job] lists of Demand. rng: numpy Generator.
    """
    draw = _drawing(demands, rng)
    recipes, costs = _recipe_table(cluster), np.array([job.cost for job in cluster.jobs])
    draft = draw(DRAWS_TO_SEARCH)
    pieces = np.array([_per_piece(problem.parts[p]) for p in cluster.parts])
    yearly, holding = problem.intervals_per_year, problem.money.holding_per_year
    known: dict[tuple[int, ...], float] = {}

    def worth_of(levels):
        worth = simulated(levels, recipes, costs, draft)[0]
        known.update(zip(map(tuple, levels.tolist()), worth, strict=True))
        return worth

    few = np.prod(np.subtract(most, least) + 1.0) <= FEW_LEVELS
    for thing in () if few else range(3):
        for price in PRICES if pieces[:, thing].any() else ():
            dear = pieces[:, 0] * holding + pieces[:, thing] * price * pieces[:, 0].sum() / pieces[:, thing].sum()
            _climb(lambda levels, dear=dear: worth_of(levels) * yearly - levels @ dear, least, most, recipes, dear)
    levels = least + all_levels(np.subtract(most, least)) if few else _promising(known, pieces, least)
    final = draw(DRAWS_TO_REPORT)
    worth, done = (
        np.concatenate(x)
        for x in zip(
            *(simulated(part, recipes, costs, final) for part in np.array_split(levels, 1 + len(levels) // 16)),
            strict=True,
        )
    )
    return Searched(levels, worth[None], done[None], recipes, costs, final, np.asarray(most))


def _drawing(demands, rng):
    """A function of the number of draws that gives Arrivals, by the way that suits how many jobs there are."""
    top = max(1, largest_count([d for job in demands for d in job], 1e-6))
    if top > LONGEST_ORDER:
        return lambda draws: many_arrivals(demands, draws // 4, rng)
    pmfs = np.array([pooled_pmf([d.pmf(top) for d in job]) for job in demands])
    return lambda draws: arrivals_of(pmfs, draws, rng)


def many_arrivals(demands, draws, rng) -> Arrivals:
    """The first LONGEST_ORDER jobs of drawn intervals, where there are so many that no van can serve them all."""
    counts = np.zeros((draws, len(demands)))
    for j, job in enumerate(demands):
        for d in job:
            part = rng.choice(len(d.weights), size=draws, p=d.weights)
            rate = rng.gamma(d.failures[part], d.per_interval[part] / d.exposure[part])
            counts[:, j] += rng.poisson(np.minimum(rate, 1e15))
    total = counts.sum(axis=1)
    share = np.cumsum(counts, axis=1) / np.maximum(total, 1)[:, None]
    kinds = (rng.random((draws, LONGEST_ORDER))[..., None] > share[:, None, :]).sum(axis=2)
    kinds[np.arange(LONGEST_ORDER) >= total[:, None]] = -1
    return Arrivals(kinds, np.full(draws, 1 / draws))


def _per_piece(part):
    return part.price, part.litres, part.kilograms


def _recipe_table(cluster):
    """Pieces of each part, (jobs, most recipes, parts); a recipe that does not exist wants more than there can be."""
    most = max(len(job.recipes) for job in cluster.jobs)
    table = np.full((len(cluster.jobs), most, len(cluster.parts)), 30_000, np.int16)
    for j, job in enumerate(cluster.jobs):
        for r, recipe in enumerate(job.recipes):
            table[j, r] = 0
            for part, pieces in recipe:
                table[j, r, part] = pieces
    return table


def arrivals_of(pmfs, draws, rng) -> Arrivals:
    """Single jobs with their exact chance, then `draws` orders of two or more. pmfs: (jobs, top + 1)."""
    jobs, top = pmfs.shape[0], pmfs.shape[1] - 1
    sums = [np.eye(1, top + 1)[0]]
    for pmf in pmfs:
        sums.append(np.convolve(sums[-1], pmf)[: top + 1])
    only = np.array([np.prod(np.where(np.arange(jobs) == j, pmfs[:, min(1, top)], pmfs[:, 0])) for j in range(jobs)])
    single = np.full((jobs, max(top, 1)), -1)
    single[:, 0] = np.arange(jobs)
    several = sums[-1].copy()
    several[:2] = 0
    if several.sum() <= 0:
        return Arrivals(single, only)
    totals = np.sort(rng.choice(top + 1, size=draws, p=several / several.sum()))[::-1]
    counts = _split(totals, pmfs, sums, rng)
    kinds = _shuffled(counts, top, rng)
    chance = np.full(draws, several.sum() / draws)
    return Arrivals(np.vstack([kinds, single]), np.append(chance, only))


def _split(totals, pmfs, sums, rng):
    """Counts of each kind that add up to the totals, drawn from their joint distribution, (draws, jobs)."""
    left, counts = totals.copy(), np.zeros((len(totals), len(pmfs)), int)
    for j in range(len(pmfs) - 1, -1, -1):
        for n in np.unique(left):
            rows = np.flatnonzero(left == n)
            odds = pmfs[j, : n + 1] * sums[j][n::-1][: n + 1]
            counts[rows, j] = rng.choice(n + 1, size=len(rows), p=odds / odds.sum())
        left = left - counts[:, j]
    return counts


def _shuffled(counts, top, rng):
    kinds = np.full((len(counts), top), -1)
    for i, row in enumerate(counts):
        order = rng.permutation(np.repeat(np.arange(len(row)), row))
        kinds[i, : len(order)] = order
    return kinds


def simulated(levels, recipes, costs, arrivals):
    """(worth, done) per interval of each level vector, both (options,). levels: (options, parts)."""
    stock = np.repeat(levels[:, None, :].astype(np.int16), len(arrivals.chance), axis=1)
    worth, done = np.zeros(len(levels)), np.zeros(len(levels))
    for step, kinds in enumerate(arrivals.kinds.T):
        rows = np.flatnonzero(kinds >= 0)
        if not len(rows) or (step % 8 == 7 and not _any_left(stock, recipes)):
            break
        kind, here = kinds[rows], stock[:, rows]
        waiting = np.ones(here.shape[:2], bool)
        for r in range(recipes.shape[1]):
            takes = waiting & (here >= recipes[kind, r]).all(axis=2)
            here -= takes[..., None] * recipes[kind, r]
            waiting &= ~takes
        served = ~waiting * arrivals.chance[rows]
        worth += served @ costs[kind]
        done += served.sum(axis=1)
        stock[:, rows] = here
    return worth, done


def _promising(known, pieces, least):
    """Of all levels tried, those that no other beats for as little cash, litres or kilograms; the least first."""
    levels, worth = np.array(list(known)), np.array(list(known.values()))
    kept = {tuple(int(n) for n in least)}
    for use in (levels @ pieces).T:
        order = np.lexsort((-worth, use))
        before = np.maximum.accumulate(np.append(-np.inf, worth[order]))[:-1]
        kept |= {tuple(row) for row in levels[order[worth[order] > before + 1e-9]].tolist()}
    return np.array(sorted(kept))


def _any_left(stock, recipes):
    """Whether there is a recipe that is still on board anywhere."""
    return any((stock >= recipe).all(axis=2).any() for recipe in recipes.reshape(-1, recipes.shape[2]))


def _climb(net, least, most, recipes, dear):
    """The whole recipe that pays best, again and again, then exchanges, until nothing gains."""
    wanted = np.unique(recipes.reshape(-1, recipes.shape[2]), axis=0)
    wanted = wanted[wanted.max(axis=1) < 30_000]
    at, scores = _added(net, np.asarray(least).copy(), least, most, wanted, dear)
    best, likely = float(net(at[None])[0]), wanted[np.argsort(-scores)[:SWAPPED_IN]]
    for _ in range(15):
        trials = _exchanges(at, likely, least, most)
        gains = net(trials) - best if len(trials) else np.zeros(1)
        top = int(gains.argmax())
        if gains[top] <= 1e-9:
            break
        at, best = trials[top], best + gains[top]


def _added(net, at, least, most, wanted, dear):
    """(levels, score of each recipe when last tried): whole recipes added while one pays, best per cost first.

    What a recipe scored before is taken as the most that it may score now, so that only the likely ones are tried.
    """
    scores, best = np.full(len(wanted), np.inf), float(net(at[None])[0])
    for _ in range(60):
        fresh, found = np.zeros(len(wanted), bool), None
        while found is None or scores[~fresh].max(initial=-np.inf) > found[0]:
            few = np.flatnonzero(~fresh)[np.argsort(-scores[~fresh], kind="stable")[:TRIED_AT_ONCE]]
            if not len(few) or scores[few].max() <= 0:
                break
            trials = np.vstack([np.maximum(at, wanted[few]), at + wanted[few]])
            fine, gains = _allowed(trials, at, least, most), np.full(len(trials), -np.inf)
            gains[fine] = net(trials[fine]) - best if fine.any() else 0.0
            score = np.where(gains > 1e-9, gains / np.maximum((trials - at) @ dear, 1e-9), -np.inf)
            scores[few], fresh[few] = score.reshape(2, -1).max(axis=0), True
            top = int(score.argmax())
            if found is None or score[top] > found[0]:
                found = score[top], trials[top], gains[top]
        if found is None or not np.isfinite(found[0]):
            break
        at, best = found[1], best + found[2]
    return at, scores


def _exchanges(at, wanted, least, most):
    """Level vectors with a recipe more, or a piece fewer with or without a recipe instead."""
    fewer = at - np.eye(len(at), dtype=int)
    fewer = fewer[(fewer >= least).all(axis=1)]
    swaps = (fewer[:, None, :] + wanted).reshape(-1, len(at)) if len(fewer) else fewer
    trials = np.unique(np.vstack([np.maximum(at, wanted), at + wanted, fewer, swaps]), axis=0)
    return trials[_allowed(trials, at, least, most)]


def _allowed(trials, at, least, most):
    return (trials <= most).all(axis=1) & (trials >= least).all(axis=1) & (trials != at).any(axis=1)
