"""Needs that share parts stand together in a cluster; clusters know nothing of each other but cash and room."""

from dataclasses import dataclass

from .problem import Problem


@dataclass(frozen=True)
class Job:
    """Needs with the same recipes, which therefore pool their demand.

    needs: positions in problem.needs. recipes: in order, each ((local part, pieces), …). cost: c₂ of one job.
    """

    needs: tuple[int, ...]
    recipes: tuple[tuple[tuple[int, int], ...], ...]
    cost: float


@dataclass(frozen=True)
class Cluster:
    """parts: positions in problem.parts, ascending; jobs count them from 0."""

    parts: tuple[int, ...]
    jobs: tuple[Job, ...]


def clusters_of(problem: Problem, van: str, pinned=()) -> tuple[Cluster, ...]:
    """The clusters of one van: needs with demand there, joined by the parts of their recipes.

    pinned: names of parts that are carried whatever happens; one that no need uses is a cluster without jobs.
    """
    number = {p.part: i for i, p in enumerate(problem.parts)}
    needs = [i for i, need in enumerate(problem.needs) if van in need.demand and need.recipes]
    recipes = {i: tuple({number[p]: n for p, n in r.items()} for r in problem.needs[i].recipes) for i in needs}
    groups = _connected({i: {p for r in recipes[i] for p in r} for i in needs})
    used = {p for parts, _ in groups for p in parts}
    clusters = [_cluster(problem, sorted(parts), members, recipes) for parts, members in groups]
    clusters += [Cluster((number[p],), ()) for p in pinned if number[p] not in used]
    return tuple(sorted(clusters, key=lambda c: c.parts))


def _connected(parts_of):
    """[(parts, needs)] of each connected component. parts_of: need to its set of parts."""
    home: dict[int, list] = {}
    for need, parts in parts_of.items():
        together = {id(home[p]): home[p] for p in parts if p in home}.values()
        merged = [set(parts).union(*(g[0] for g in together)), [n for g in together for n in g[1]] + [need]]
        for part in merged[0]:
            home[part] = merged
    return [(parts, needs) for parts, needs in {id(g): g for g in home.values()}.values()]


def _cluster(problem, parts, members, recipes):
    local = {p: i for i, p in enumerate(parts)}
    pooled: dict[tuple, list[int]] = {}
    for need in sorted(members):
        key = tuple(tuple(sorted((local[p], n) for p, n in r.items())) for r in recipes[need])
        pooled.setdefault(key, []).append(need)
    jobs = (Job(tuple(n), key, problem.cost_of_missing(problem.needs[n[0]])) for key, n in pooled.items())
    return Cluster(tuple(parts), tuple(jobs))
