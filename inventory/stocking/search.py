"""Levels for clusters too large for the exact recursion: simulated orders of jobs, whole recipes, then swaps.

A single job in an interval is counted exactly; two or more are drawn, given how many there are.
"""

from dataclasses import dataclass

import numpy as np

from .arrivals import LONGEST_ORDER, Arrivals, arrivals_of, many_arrivals
from .demand import largest_count, pooled_pmf
from .values import all_levels

DRAWS_TO_SEARCH = 400
DRAWS_TO_REPORT = 4000
FEW_LEVELS = 300
TRIED_AT_ONCE, SWAPPED_IN = 16, 12
PRICES = (0.0, 0.5, 1.5, 4.0, 10.0, 30.0)


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


def searched_values(problem, cluster, least, most, demands, rng, limits=(np.inf, np.inf, np.inf)) -> Searched:
    """Promising levels of a large cluster in one van, with simulated worth and done.

    least, most: (parts,). demands: [job] lists of Demand. rng: numpy Generator. limits: cash, litres and kilograms
    of the van, within which the last climb keeps.
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

    def in_box(trials, at):
        return (trials <= most).all(axis=1) & (trials >= least).all(axis=1) & (trials != at).any(axis=1)

    def in_room(trials, at):
        return in_box(trials, at) & (trials @ pieces <= np.asarray(limits) + 1e-9).all(axis=1)

    few = np.prod(np.subtract(most, least) + 1.0) <= FEW_LEVELS
    for thing in () if few else range(3):
        for price in PRICES if pieces[:, thing].any() else ():
            dear = pieces[:, 0] * holding + pieces[:, thing] * price * pieces[:, 0].sum() / pieces[:, thing].sum()
            _climb(lambda levels, dear=dear: worth_of(levels) * yearly - levels @ dear, least, in_box, recipes, dear)
    if not few and np.isfinite(limits).any():
        cost, tight = pieces[:, 0] * holding, pieces @ (1 / np.maximum(limits, 1e-9))
        _climb(lambda levels: worth_of(levels) * yearly - levels @ cost, least, in_room, recipes, tight + 1e-9)
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


def _climb(net, least, allowed, recipes, dear):
    """The whole recipe that pays best, again and again, then exchanges, until nothing gains."""
    wanted = np.unique(recipes.reshape(-1, recipes.shape[2]), axis=0)
    wanted = wanted[wanted.max(axis=1) < 30_000]
    at, scores = _added(net, np.asarray(least).copy(), allowed, wanted, dear)
    best, likely = float(net(at[None])[0]), wanted[np.argsort(-scores)[:SWAPPED_IN]]
    for _ in range(15):
        trials = _exchanges(at, likely, allowed)
        gains = net(trials) - best if len(trials) else np.zeros(1)
        top = int(gains.argmax())
        if gains[top] <= 1e-9:
            break
        at, best = trials[top], best + gains[top]


def _added(net, at, allowed, wanted, dear):
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
            fine, gains = allowed(trials, at), np.full(len(trials), -np.inf)
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


def _exchanges(at, wanted, allowed):
    """Level vectors with a recipe more, or a piece fewer with or without a recipe instead."""
    fewer = at - np.eye(len(at), dtype=int)
    fewer = fewer[(fewer >= 0).all(axis=1)]
    swaps = (fewer[:, None, :] + wanted).reshape(-1, len(at)) if len(fewer) else fewer
    trials = np.unique(np.vstack([np.maximum(at, wanted), at + wanted, fewer, swaps]), axis=0)
    return trials[allowed(trials, at)]
