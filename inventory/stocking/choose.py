"""Choose one option per cluster: the most value under several limits, exactly.

A multiple-choice knapsack. Shadow prices of the limits give an upper bound, and every option a loss against it;
all choices within a small total loss are listed, the loss widened until a feasible one is among them: that one
is the best. Where the list grows too long, HiGHS decides among the options that the bound does not rule out.
"""

from dataclasses import dataclass

import numpy as np
from scipy import sparse
from scipy.optimize import Bounds, LinearConstraint, milp

ROUNDS = 200
SLACK = 1e-9
LONGEST_LIST = 60_000
CLOSE = 1e-5


@dataclass(frozen=True)
class Options:
    """Options in order of their cluster. cluster: (n,), 0 … m−1, each at least once. value: (n,).

    use: what an option takes of each limited thing, (n, limits).
    """

    cluster: np.ndarray
    value: np.ndarray
    use: np.ndarray

    def best(self, scores):
        """Per cluster the number of its best option by those scores, the first of equals, (m,)."""
        starts = np.flatnonzero(np.diff(self.cluster, prepend=-1))
        top = np.flatnonzero(scores >= np.maximum.reduceat(scores, starts)[self.cluster])
        return top[np.flatnonzero(np.diff(self.cluster[top], prepend=-1))]


@dataclass(frozen=True)
class Choice:
    """picked: one option number per cluster. shadow: worth of one more unit of each limit. bound >= value."""

    picked: np.ndarray
    value: float
    shadow: np.ndarray
    bound: float


def best_choice(options: Options, limits, shadow=None, close=0.0) -> Choice:
    """The choice of greatest value whose uses keep within `limits`, (limits,), infinite where there is none.

    The choice of each cluster's first option must keep the limits. shadow: shadow prices known from elsewhere.
    close: a relative distance from the bound that is near enough.
    Exact, but for very long lists, where HiGHS may stop at a relative gap of 1e-5.
    Source: Sinha & Zoltners (1979), Operations Research 27(3), 503-515; Pisinger (1995), EJOR 83(2), 394-410.
    """
    limits = np.asarray(limits, float)
    free = options.best(options.value)
    if fits(options, free, limits):
        value = float(options.value[free].sum())
        return Choice(free, value, np.zeros(len(limits)), value)
    finite = np.flatnonzero(np.isfinite(limits) & (options.use.max(axis=0, initial=0) > 0))
    scale = np.maximum(limits[finite], options.use[:, finite].max(axis=0))
    small, caps = Options(options.cluster, options.value, options.use[:, finite] / scale), limits[finite] / scale
    if shadow is None:
        prices, bound = shadow_prices(small, caps)
    else:
        prices = np.asarray(shadow)[finite] * scale
        bound = _bound(small, caps, prices)
    picked = _good_choice(small, caps, prices) if close else None
    if picked is None or bound - options.value[picked].sum() > close * abs(bound):
        picked, deficit, complete = _listed(small, caps, prices, bound, close)
        if not complete and deficit > close * abs(bound):
            picked = _by_highs(small, caps, prices, bound, picked, max(close, CLOSE))
    full = np.zeros(len(limits))
    full[finite] = prices / scale
    return Choice(picked, float(options.value[picked].sum()), full, bound)


def fits(options, picked, limits):
    used = options.use[picked].sum(axis=0)
    return bool((used <= limits + SLACK * np.maximum(1, np.abs(limits))).all())


def shadow_prices(options: Options, caps):
    """(prices, bound): the prices that make the Lagrangian bound least, by cutting planes (Kelley 1960).

    bound(μ) = μ·caps + Σ over clusters of max(value − μ·use). The limits that the free choice breaks come first;
    the others join only where they are broken in turn.
    """
    prices = np.zeros(len(caps))
    active = np.zeros(len(caps), bool)
    while True:
        picked = options.best(options.value - options.use @ prices)
        broken = ~active & (options.use[picked].sum(axis=0) > caps + _one_option(options))
        if not active.any():
            broken = options.use[picked].sum(axis=0) > caps
        if not broken.any():
            return prices, _bound(options, caps, prices)
        active |= broken
        few = Options(options.cluster, options.value, options.use[:, active])
        prices[active] = _few_prices(few, caps[active])


def _one_option(options):
    """The largest use of a single option, per limit: to be over by less is for the list to mend."""
    return options.use.max(axis=0) / 2


def _few_prices(options, caps):
    """Cutting planes; the master problem, over whole choices found so far, by the revised simplex method."""
    first = np.flatnonzero(np.diff(options.cluster, prepend=-1))
    size = len(caps)
    columns = np.vstack([np.column_stack([-np.eye(size), np.zeros(size)]), _column(options, caps, first)[0]])
    worth, basis = np.append(np.zeros(size), options.value[first].sum()), np.arange(size + 1)
    best, best_prices = np.inf, np.zeros(size)
    for _ in range(ROUNDS):
        lower, prices, basis = _master(columns, worth, basis)
        picked = options.best(options.value - options.use @ prices)
        column, value = _column(options, caps, picked)
        bound = value + prices @ column[0, :size]
        if bound < best:
            best, best_prices = bound, prices
        if best - lower <= 1e-6 * max(1e-9, abs(best)):
            break
        columns, worth = np.vstack([columns, column]), np.append(worth, value)
    return best_prices


def _column(options, caps, picked):
    return np.append(caps - options.use[picked].sum(axis=0), 1.0)[None], options.value[picked].sum()


def _master(columns, worth, basis):
    """(value, prices, basis) of the best mixture of choices that keeps the caps on average."""
    for _ in range(ROUNDS):
        dual = np.linalg.solve(columns[basis], worth[basis])
        gain = worth - columns @ dual
        enter = int(gain.argmax())
        if gain[enter] <= 1e-10 * max(1.0, np.abs(worth).max()):
            break
        inverse = np.linalg.inv(columns[basis].T)
        amounts, step = inverse[:, -1], inverse @ columns[enter]
        ratio = np.full(len(basis), np.inf)
        falls = step > 1e-12
        ratio[falls] = np.maximum(amounts[falls], 0) / step[falls]
        basis = basis.copy()
        basis[int(ratio.argmin())] = enter
    return dual[-1], np.maximum(-dual[:-1], 0), basis


def _bound(options, caps, prices):
    scores = options.value - options.use @ prices
    return float(scores[options.best(scores)].sum() + prices @ caps)


def _losses(options, prices):
    """(best option per cluster at those prices, what each option loses against its cluster's best)."""
    reduced = options.value - options.use @ prices
    best = options.best(reduced)
    return best, reduced[best][options.cluster] - reduced


def _listed(options, caps, prices, bound, close):
    """(choice or None, its deficit against the bound, True where the list proves that none is better).

    Lists all choices within a growing total loss.
    """
    best, lost = _losses(options, prices)
    some = np.sort(lost[lost > 1e-12])[: 3 * max(1, (prices > 0).sum())]
    allowed = some.sum() + 1e-9 * max(1.0, abs(bound))
    longest = LONGEST_LIST // 8 if close else LONGEST_LIST
    for _ in range(60):
        picked, deficit, complete = _within(options, caps, prices, best, lost, allowed, longest)
        if not complete or deficit <= max(allowed, close * abs(bound)):
            return picked, deficit, complete
        allowed = min(2.5 * allowed, deficit * (1 + 1e-9))
    return picked, deficit, False


def _within(options, caps, prices, best, lost, allowed, longest):
    """The best feasible choice with total loss <= allowed: (choice or None, its deficit, False if cut short).

    `change` is what a rival of a cluster's best option sets free of each limit that can be reached at all.
    """
    rivals = np.setdiff1d(np.flatnonzero(lost <= allowed), best)
    start = caps - options.use[best].sum(axis=0)
    change = options.use[best][options.cluster[rivals]] - options.use[rivals]
    tight = (prices > 0) | (start < np.maximum(-change, 0).sum(axis=0))
    start, change, prices = start[tight], change[:, tight], prices[tight]
    groups = np.split(np.arange(len(rivals)), 1 + np.flatnonzero(np.diff(options.cluster[rivals])))
    groups = sorted((g for g in groups if len(g)), key=lambda g: -lost[rivals[g]].min())
    frees = np.array([np.maximum(change[g].max(axis=0), 0) for g in groups]).reshape(-1, len(start))
    takes = np.array([np.maximum(-change[g].min(axis=0), 0) for g in groups]).reshape(-1, len(start))
    later_frees, later_takes = (x[::-1].cumsum(axis=0)[::-1] - x for x in (frees, takes))
    loss, left = np.zeros(1), start[None]
    trail, complete = [], True
    for g, free, take in zip(groups, later_frees, later_takes, strict=True):
        loss, left, origin = _one_group(loss, left, lost[rivals[g]], change[g])
        deficit = loss + np.maximum(left - take, 0) @ prices
        hope = np.flatnonzero((left + free >= -SLACK).all(axis=1) & (deficit <= allowed * (1 + 1e-9)))
        alive = _distinct(loss, left, hope) if len(hope) > longest else hope
        if len(alive) > longest:
            alive, complete = alive[np.argsort(deficit[alive])[: longest // 8]], False
        loss, left = loss[alive], left[alive]
        trail.append(origin[:, alive])
    feasible = np.flatnonzero((left >= -SLACK).all(axis=1))
    if not len(feasible):
        return None, np.inf, complete
    deficits = loss[feasible] + np.maximum(left[feasible], 0) @ prices
    at = feasible[deficits.argmin()]
    return _retraced(best.copy(), at, trail, groups, rivals, options.cluster), float(deficits.min()), complete


def _one_group(loss, left, group_loss, group_change):
    """Every state with each rival of one cluster, or none. origin: (2, states): earlier state, rival + 1."""
    all_loss = (loss + np.append(0, group_loss)[:, None]).ravel()
    steps = np.vstack([np.zeros((1, left.shape[1])), group_change])
    all_left = (left + steps[:, None, :]).reshape(-1, left.shape[1])
    earlier = np.tile(np.arange(len(loss)), len(steps))
    return all_loss, all_left, np.stack([earlier, np.repeat(np.arange(len(steps)), len(loss))])


def _distinct(loss, left, alive):
    """Of very many states, those that leave the same once only, the one with the least loss."""
    order = alive[np.argsort(loss[alive])]
    mixed = np.round(left[order], 9) @ np.sqrt(np.arange(2, 2 + left.shape[1]))
    return order[np.unique(np.round(mixed, 10), return_index=True)[1]]


def _retraced(picked, at, trail, groups, rivals, cluster):
    for group, origin in zip(groups[::-1], trail[::-1], strict=True):
        earlier, rival = origin[:, at]
        if rival:
            option = rivals[group[rival - 1]]
            picked[cluster[option]] = option
        at = earlier
    return picked


def _by_highs(options, caps, prices, bound, listed, gap):
    """The same by HiGHS, over what the bound does not rule out against a choice that is good and fits."""
    known = [c for c in (listed, _good_choice(options, caps, prices)) if c is not None]
    picked = max(known, key=lambda c: options.value[c].sum())
    _, lost = _losses(options, prices)
    keep = np.flatnonzero(lost <= bound - options.value[picked].sum() + 1e-9 * max(1.0, abs(bound)))
    clusters = len(picked)
    one_each = sparse.csr_array((np.ones(len(keep)), (options.cluster[keep], np.arange(len(keep)))),
                                shape=(clusters, len(keep)))
    scale = max(np.ptp(options.value[keep]), 1e-12) / 1e3
    for tightened in (0.0, 2e-6):
        answer = milp(
            -options.value[keep] / scale, integrality=np.ones(len(keep)), bounds=Bounds(0, 1),
            constraints=[LinearConstraint(one_each, 1, 1),
                         LinearConstraint(options.use[keep].T, -np.inf, caps - tightened)],
            options={"mip_rel_gap": gap, "time_limit": 20.0},
        )
        chosen = keep[answer.x > 0.5] if answer.x is not None else keep[:0]
        if len(chosen) == clusters and fits(options, chosen, caps):
            return max((picked, chosen[np.argsort(options.cluster[chosen])]), key=lambda c: options.value[c].sum())
    return picked


def _good_choice(options, caps, prices):
    """Dearer shadow prices until the choice fits, then the best single changes that still fit."""
    dearer = prices * (1 + 1e-7 * 2.0 ** np.arange(50))[:, None]
    trials = (options.best(options.value - options.use @ price) for price in dearer)
    first = np.flatnonzero(np.diff(options.cluster, prepend=-1))
    picked = next((trial for trial in trials if fits(options, trial, caps)), first).copy()
    for _ in range(ROUNDS):
        left = caps - options.use[picked].sum(axis=0)
        gain = options.value - options.value[picked][options.cluster]
        gain[(options.use - options.use[picked][options.cluster] > left + SLACK).any(axis=1)] = -np.inf
        best = int(gain.argmax())
        if gain[best] <= 1e-12:
            break
        picked[options.cluster[best]] = best
    return picked
