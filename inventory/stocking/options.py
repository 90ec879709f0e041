"""Options of clusters, one of which is to be chosen from each, and what limits them together."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

SLACK = 1e-9


@dataclass(frozen=True)
class Options:
    """Options in order of their cluster. cluster: (n,), 0 … m−1, each at least once. value: (n,).

    use: what an option takes of each limited thing, (n, limits).
    """

    cluster: np.ndarray
    value: np.ndarray
    use: np.ndarray

    @cached_property
    def first(self):
        """The number of each cluster's first option, (m,)."""
        return np.flatnonzero(np.diff(self.cluster, prepend=-1))

    @cached_property
    def _of_each(self):
        """How many options every cluster has, 0 where they differ."""
        sizes = np.diff(self.first, append=len(self.cluster))
        return int(sizes[0]) if len(sizes) and (sizes == sizes[0]).all() else 0

    def best(self, scores):
        """Per cluster the number of its best option by those scores, the first of equals, (m,)."""
        if self._of_each:
            return self.first + scores.reshape(-1, self._of_each).argmax(axis=1)
        top = np.flatnonzero(scores >= np.maximum.reduceat(scores, self.first)[self.cluster])
        return top[np.flatnonzero(np.diff(self.cluster[top], prepend=-1))]


def fits(options, picked, limits):
    used = options.use[picked].sum(axis=0)
    return bool((used <= limits + SLACK * np.maximum(1, np.abs(limits))).all())


def losses(options, prices):
    """(best option per cluster at those prices, what each option loses against its cluster's best)."""
    reduced = options.value - options.use @ prices
    best = options.best(reduced)
    return best, reduced[best][options.cluster] - reduced
