"""The exact worth of every level of a small cluster: jobs arrive in random order, each takes its first recipe.

Given how many jobs of each kind come, every order is equally likely, so the next job is of kind j with
probability n_j / n. Expected jobs done from levels x with counts n to come are therefore
f(x, n) = Σ_j n_j/n · [served_j(x) + f(x after j, n − e_j)], solved for all levels and counts at once.
"""

from dataclasses import dataclass
from math import comb

import numpy as np

from .clusters import Cluster
from .demand import expected_min, largest_count, pmfs_of, pooled_pmf

FEW_CELLS, CELLS = 3_000_000, 30_000_000
LEVELS = 200_000


@dataclass(frozen=True)
class Values:
    """levels: every vector of the box, last part fastest, (options, parts). worth: money per interval,
    (vans, options). done: jobs per interval, likewise.
    """

    levels: np.ndarray
    worth: np.ndarray
    done: np.ndarray

    @property
    def most(self):
        """The most pieces of each part whose worth is known, (parts,)."""
        return self.levels[-1]

    def at(self, van, levels):
        """(worth, done) of one van at one level vector, which must lie in the box."""
        row = int(np.ravel_multi_index(levels, self.most + 1))
        return float(self.worth[van, row]), float(self.done[van, row])


def all_levels(upper):
    """Every level vector from 0 to upper, last part fastest, (options, parts)."""
    return np.indices([u + 1 for u in upper]).reshape(len(upper), -1).T


def count_depth(cluster, upper, demands):
    """Largest total count to follow, or None where the exact recursion would be too large.

    demands: [van][job] list of Demand (the job's needs).
    """
    options = np.prod([u + 1.0 for u in upper])
    if options > LEVELS:
        return None
    if len(cluster.jobs) <= 1:
        return 0
    for tail, cells in ((1e-10, FEW_CELLS), (1e-8, CELLS)):
        depth = max(largest_count([d for job in van for d in job], tail) for van in demands)
        if comb(depth + len(cluster.jobs), depth) * options <= cells:
            return depth
    return None


def exact_values(cluster: Cluster, upper, demands, depth) -> Values:
    """Worth and done of every level up to `upper`, for all vans at once. depth: from count_depth."""
    levels = all_levels(upper)
    steps = [_after_one_job(levels, upper, job.recipes) for job in cluster.jobs]
    if not steps:
        done = np.zeros((len(demands), len(levels)))
        return Values(levels, done, done)
    if len(steps) == 1:
        done = _one_kind(steps[0], demands)
        return Values(levels, done * cluster.jobs[0].cost, done)
    costs = np.array([job.cost for job in cluster.jobs])
    pmfs = np.array([[pooled_pmf([d.pmf(depth) for d in job]) for job in van] for van in demands])
    worth, done = _random_order(steps, costs, pmfs, depth)
    return Values(levels, worth, done)


def _after_one_job(levels, upper, recipes):
    """(option number after the job, 1 if it was served), both (options,)."""
    strides = np.cumprod([1] + [u + 1 for u in upper[:0:-1]])[::-1]
    after, served = np.arange(len(levels)), np.zeros(len(levels), bool)
    for recipe in recipes:
        parts, pieces = np.array(recipe).T
        takes = ~served & (levels[:, parts] >= pieces).all(axis=1)
        after[takes] -= int(pieces @ strides[parts])
        served |= takes
    return after, served.astype(float)


def _one_kind(step, demands):
    """E min(N, jobs that the stock can serve), exact for one kind of job."""
    after, served = step
    capacity, at = np.zeros(len(after), int), np.arange(len(after))
    while served[at].any():
        capacity += served[at].astype(int)
        at = after[at]
    top = max(1, capacity.max())
    pooled = (pmfs_of([van[0][i] for van in demands], top) for i in range(len(demands[0][0])))
    total = next(pooled)
    for pmf in pooled:
        total = np.array([pooled_pmf(pair) for pair in zip(total, pmf, strict=True)])
    return np.array([expected_min(pmf, capacity) for pmf in total])


def _random_order(steps, costs, pmfs, depth):
    """Worth and done, each (vans, options). pmfs: (vans, jobs, depth + 1)."""
    base = (depth + 1) ** np.arange(len(steps), dtype=np.int64)
    served = np.array([s for _, s in steps])
    same = np.ptp(costs) == 0  # then worth is cost times done, and one number does for both
    rewards = served[..., None] if same else np.stack([costs[:, None] * served, served], axis=-1)
    expected = np.zeros((len(pmfs), *rewards.shape[1:]))
    keys, counts = np.zeros(1, np.int64), np.zeros((1, len(steps)), np.int64)
    value = np.zeros((1, *rewards.shape[1:]))
    for total in range(1, depth + 1):
        before = keys
        grown = (before[:, None] + base).ravel()
        keys, first = np.unique(grown, return_index=True)
        counts = (counts[:, None, :] + np.eye(len(steps), dtype=np.int64)).reshape(-1, len(steps))[first]
        value = _one_more_job(value, before, keys, counts / total, base, steps, rewards)
        chance = np.prod([pmfs[:, j, counts[:, j]] for j in range(len(steps))], axis=0)
        expected += np.tensordot(chance, value, axes=1)
    return (costs[0] * expected[..., 0], expected[..., 0]) if same else (expected[..., 0], expected[..., 1])


def _one_more_job(value, before, keys, shares, base, steps, rewards):
    """f of every count vector with one job more than `before` (keys sorted). shares: n_j / n, (counts, jobs).

    Those that hold a job of kind j are `before` with one more of it, in the same order.
    """
    grown = np.zeros((len(keys), *value.shape[1:]))
    for j, (after, _) in enumerate(steps):
        rows = np.searchsorted(keys, before + base[j])
        rest = value.take(after, axis=1)
        rest += rewards[j]
        rest *= shares[rows, j, None, None]
        grown[rows] += rest
    return grown
