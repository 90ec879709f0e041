"""What the first piece of a part is worth on each van, for parts of which few vans should have one."""

from collections import defaultdict

import numpy as np

from .passing import Worth
from .problem import Problem
from .tables import tables_of

FirstPiece = Worth


def first_pieces(problem: Problem, levels, *, rng=None) -> dict[str, dict[str, FirstPiece]]:
    """Part to van to what one piece saves there in a year against none, the rest of the van being as in `levels`.

    levels: van to part to pieces. Vans without demand for a part are left out.
    """
    found: dict[str, dict[str, FirstPiece]] = defaultdict(dict)
    for table in tables_of(problem, np.random.default_rng(1) if rng is None else rng):
        own = levels.get(table.van.van, {})
        for c, cluster in enumerate(table.clusters):
            if not cluster.jobs:
                continue
            names, values = [problem.parts[p].part for p in cluster.parts], table.values[c]
            at = np.minimum([own.get(name, 0) for name in names], values.most)
            for i, name in enumerate(names):
                none, one = at.copy(), at.copy()
                none[i], one[i] = 0, min(1, values.most[i])
                less, more = values.at(table.row[c], none), values.at(table.row[c], one)
                money, jobs = (problem.intervals_per_year * (m - n) for m, n in zip(more, less, strict=True))
                found[name][table.van.van] = Worth(float(money), float(jobs))
    return dict(found)
