"""Every van's options, cluster by cluster: what each level is worth, does, costs and takes of the van's room."""

from collections import defaultdict
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from .clusters import Cluster, clusters_of
from .demand import pooled_pmf
from .options import Options
from .problem import Problem, Van
from .search import Searched, searched_values
from .values import Values, count_depth, exact_values

CASH, LITRES, KILOGRAMS = range(3)
LIMITS = ("cash", "litres", "kilograms")
THRIFT = 1e-9
FEW_LEVELS = 1000


@dataclass(frozen=True)
class VanTable:
    """One van's options. cluster: (n,). levels: one array (options, parts) per cluster, joined as `levels[c]`.

    worth: money per interval, (n,). done: jobs per interval, (n,). use: cash, litres, kilograms, (n, 3).
    pieces: (n,). values and row: where `Values.at` of each cluster is asked about this van.
    """

    van: Van
    clusters: tuple[Cluster, ...]
    values: tuple[Values | Searched, ...]
    row: tuple[int, ...]
    levels: tuple[np.ndarray, ...]
    cluster: np.ndarray
    worth: np.ndarray
    done: np.ndarray
    use: np.ndarray
    pieces: np.ndarray
    searched: bool

    @cached_property
    def first(self):
        """The number of each cluster's first option, its pinned least."""
        return np.flatnonzero(np.diff(self.cluster, prepend=-1))

    @property
    def least_use(self):
        return self.use[self.first].sum(axis=0)

    def limits(self):
        """Cash, litres, kilograms, (3,); what is pinned beats them, so nothing else may use what is left."""
        return np.maximum(_limits(self.van), self.least_use)

    def options(self, value):
        """As Options by that value, with a trifle for thrift, so that of equals the cheaper and lighter is taken."""
        trifle = THRIFT * (self.use.sum(axis=1) + self.pieces)
        return Options(self.cluster, value - trifle, self.use)

    def chosen_levels(self, picked):
        """Part position to level, of one option per cluster, zeros left out."""
        found = {}
        for c, option in enumerate(picked):
            levels = self.levels[c][option - self.first[c]]
            found.update({p: int(n) for p, n in zip(self.clusters[c].parts, levels, strict=True) if n})
        return found


def tables_of(problem: Problem, rng) -> list[VanTable]:
    """The options of every van; the same cluster in several vans is solved once."""
    pinned = [[p for p, (least, _) in van.pins.items() if least] for van in problem.vans]
    clusters = [clusters_of(problem, van.van, p) for van, p in zip(problem.vans, pinned, strict=True)]
    where = defaultdict(list)
    for v, of_van in enumerate(clusters):
        for cluster in of_van:
            where[cluster].append(v)
    found: dict[tuple[int, Cluster], tuple[Values | Searched, int]] = {}
    for cluster, vans in where.items():
        found.update(_solved(problem, cluster, vans, rng))
    return [_table(problem, v, of_van, found) for v, of_van in enumerate(clusters)]


def _solved(problem, cluster, vans, rng):
    bounds = [_bounds(problem, problem.vans[v], cluster) for v in vans]
    demands = [
        [[problem.needs[n].demand[problem.vans[v].van] for n in job.needs] for job in cluster.jobs] for v in vans
    ]
    upper = np.max([most for _, most in bounds], axis=0)
    if np.prod(upper + 1.0) > FEW_LEVELS:
        trimmed = [_worth_having(problem, cluster, *b, d) for b, d in zip(bounds, demands, strict=True)]
        upper = np.max(trimmed, axis=0)
    depth = count_depth(cluster, upper, demands)
    if depth is not None:
        values = exact_values(cluster, upper, demands, depth)
        return {(v, cluster): (values, i) for i, v in enumerate(vans)}
    return {
        (v, cluster): (searched_values(problem, cluster, *bounds[i], demands[i], rng, _limits(problem.vans[v])), 0)
        for i, v in enumerate(vans)
    }


def _limits(van):
    return np.array([np.inf if x is None else x for x in (van.budget, van.litres, van.kilograms)])


def _worth_having(problem, cluster, least, most, demands):
    """Most pieces of each part that can pay for their holding, but one at least, (parts,).

    The k-th piece changes nothing unless jobs want k pieces, and then at most all jobs of the cluster: so it gains
    less than c₂ · E[jobs; k pieces wanted].
    """
    best = max(job.cost for job in cluster.jobs) * problem.intervals_per_year
    found = np.maximum(least, np.minimum(most, 1))
    for i, p in enumerate(cluster.parts):
        pieces = [max((n for r in job.recipes for part, n in r if part == i), default=0) for job in cluster.jobs]
        using = [d for job, n in zip(demands, pieces, strict=True) if n for d in job]
        others = sum(d.mean for job, n in zip(demands, pieces, strict=True) if not n for d in job)
        pmf = pooled_pmf([d.pmf(int(most[i])) for d in using])
        mean = sum(d.mean for d in using)
        for k in range(found[i] + 1, most[i] + 1):
            jobs = np.arange(-(-k // max(pieces)))
            gain = mean - jobs @ pmf[jobs] + others * max(0.0, 1 - pmf[jobs].sum())
            if best * gain <= problem.money.holding_per_year * problem.parts[p].price:
                break
            found[i] = k
    return found


def _bounds(problem, van, cluster):
    """(least, most) levels of the cluster's parts in that van, each (parts,)."""
    pins = [van.pins.get(problem.parts[p].part, (0, problem.max_per_part)) for p in cluster.parts]
    least, most = zip(*pins, strict=True)
    return np.array(least), np.array(most)


def _table(problem, v, clusters, found):
    per_piece = np.array([(p.price, p.litres, p.kilograms) for p in problem.parts]).reshape(-1, 3)
    values, row, levels, worth, done, use = [], [], [], [], [], []
    for cluster in clusters:
        value, i = found[v, cluster]
        least, most = _bounds(problem, problem.vans[v], cluster)
        kept = np.flatnonzero(((value.levels >= least) & (value.levels <= most)).all(axis=1))
        values.append(value)
        row.append(i)
        levels.append(value.levels[kept])
        worth.append(value.worth[i, kept])
        done.append(value.done[i, kept])
        use.append(value.levels[kept] @ per_piece[list(cluster.parts)])
    sizes = [len(x) for x in levels]
    return VanTable(
        problem.vans[v],
        clusters,
        tuple(values),
        tuple(row),
        tuple(levels),
        cluster=np.repeat(np.arange(len(clusters)), sizes),
        worth=_joined(worth),
        done=_joined(done),
        use=np.concatenate([np.zeros((0, 3)), *use]),
        pieces=_joined([x.sum(axis=1) for x in levels]),
        searched=any(isinstance(x, Searched) for x in values),
    )


def _joined(arrays):
    return np.concatenate([np.zeros(0), *arrays])
