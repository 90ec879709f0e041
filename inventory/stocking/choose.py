"""Choose one option per cluster: the most value under several limits, exactly.

A multiple-choice knapsack. Shadow prices of the limits give an upper bound, and every option a loss against it;
all choices within a small total loss are listed, the loss widened until a feasible one is among them: that one
is the best. Where the list grows too long, HiGHS decides among the options that the bound does not rule out.
"""

from dataclasses import dataclass

import numpy as np
from scipy import sparse
from scipy.optimize import Bounds, LinearConstraint, linprog, milp

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


def best_choice(options: Options, limits, shadow=None) -> Choice:
    """The choice of greatest value whose uses keep within `limits`, (limits,), infinite where there is none.

    The choice of each cluster's first option must keep the limits. shadow: shadow prices known from elsewhere.
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
        prices, bound = shadow_prices(small, caps, np.zeros(len(finite)))
    else:
        prices = np.asarray(shadow)[finite] * scale
        bound = _bound(small, caps, prices)
    picked = _listed(small, caps, prices, bound)
    if picked is None:
        picked = _by_highs(small, caps, prices, bound)
    full = np.zeros(len(limits))
    full[finite] = prices / scale
    return Choice(picked, float(options.value[picked].sum()), full, bound)


def fits(options, picked, limits):
    used = options.use[picked].sum(axis=0)
    return bool((used <= limits + SLACK * np.maximum(1, np.abs(limits))).all())


def shadow_prices(options: Options, caps, guess):
    """(prices, bound): the prices that make the Lagrangian bound least, by cutting planes (Kelley 1960).

    bound(μ) = μ·caps + Σ over clusters of max(value − μ·use).
    """
    prices, best, best_prices, cuts = guess, np.inf, guess, []
    for _ in range(ROUNDS):
        picked = options.best(options.value - options.use @ prices)
        value, left = options.value[picked].sum(), caps - options.use[picked].sum(axis=0)
        bound = value + prices @ left
        if bound < best:
            best, best_prices = bound, prices
        cuts.append(np.append(left, value))
        lower, prices = _lowest(np.array(cuts))
        if best - lower <= 1e-7 * max(1e-9, abs(best)):
            break
    return best_prices, best


def _bound(options, caps, prices):
    scores = options.value - options.use @ prices
    return float(scores[options.best(scores)].sum() + prices @ caps)


def _lowest(cuts):
    """(bound, prices) of the lowest point above all cuts: minimise z with z >= value + prices·left."""
    size = cuts.shape[1] - 1
    top = 1e3 * max(1e-9, np.abs(cuts[:, size]).max())
    if size == 1:
        return _lowest_of_lines(cuts[:, 0], cuts[:, 1], top)
    rows = np.column_stack([cuts[:, :size], -np.ones(len(cuts))])
    answer = linprog(np.append(np.zeros(size), 1), rows, -cuts[:, size],
                     bounds=[(0, top)] * size + [(None, None)], method="highs")
    return (answer.fun, answer.x[:size]) if answer.status == 0 else (np.inf, np.zeros(size))


def _lowest_of_lines(slope, height, top):
    """The same for one price: the lowest corner of the upper envelope of lines."""
    rising, falling = slope >= 0, slope < 0
    corners = [0.0, top]
    if rising.any() and falling.any():
        drop = slope[rising][:, None] - slope[falling]
        corners += list(np.clip((height[falling] - height[rising][:, None]) / drop, 0, top).ravel())
    corners = np.array(corners)
    envelope = (height + corners[:, None] * slope).max(axis=1)
    at = int(envelope.argmin())
    return envelope[at], corners[[at]]


def _losses(options, prices):
    """(best option per cluster at those prices, what each option loses against its cluster's best)."""
    reduced = options.value - options.use @ prices
    best = options.best(reduced)
    return best, reduced[best][options.cluster] - reduced


def _listed(options, caps, prices, bound):
    """The best choice by listing all within a growing total loss; None where the list grows too long."""
    best, lost = _losses(options, prices)
    some = np.sort(lost[lost > 1e-12])[:3]
    allowed = some.sum() + 1e-9 * max(1.0, abs(bound))
    for _ in range(60):
        picked, deficit = _within(options, caps, prices, best, lost, allowed)
        if picked is None:
            if deficit is None:
                return None
        elif deficit <= allowed:
            return picked
        allowed *= 2.5
    return None


def _within(options, caps, prices, best, lost, allowed):
    """(best feasible choice with total loss <= allowed or None, its deficit against the bound; None: too long)."""
    rivals = np.setdiff1d(np.flatnonzero(lost <= allowed), best)
    change = options.use[best][options.cluster[rivals]] - options.use[rivals]  # what the rival sets free
    groups = [np.flatnonzero(options.cluster[rivals] == c) for c in np.unique(options.cluster[rivals])]
    groups.sort(key=lambda g: -lost[rivals[g]].min())
    frees = np.array([np.maximum(change[g].max(axis=0), 0) for g in groups]).reshape(-1, len(caps))
    takes = np.array([np.maximum(-change[g].min(axis=0), 0) for g in groups]).reshape(-1, len(caps))
    later_frees, later_takes = (x[::-1].cumsum(axis=0)[::-1] - x for x in (frees, takes))
    loss, left = np.zeros(1), (caps - options.use[best].sum(axis=0))[None]
    trail = []
    for g, free, take in zip(groups, later_frees, later_takes, strict=True):
        loss, left, origin = _one_group(loss, left, lost[rivals[g]], change[g])
        hope = (left + free >= -SLACK).all(axis=1)
        hope &= loss + np.maximum(left - take, 0) @ prices <= allowed * (1 + 1e-9)
        alive = _distinct(loss, left, np.flatnonzero(hope))
        if len(alive) > LONGEST_LIST:
            return None, None
        loss, left = loss[alive], left[alive]
        trail.append(origin[:, alive])
    feasible = np.flatnonzero((left >= -SLACK).all(axis=1))
    if not len(feasible):
        return None, np.inf
    deficits = loss[feasible] + np.maximum(left[feasible], 0) @ prices
    at = feasible[deficits.argmin()]
    return _retraced(best.copy(), at, trail, groups, rivals, options.cluster), float(deficits.min())


def _one_group(loss, left, group_loss, group_change):
    """Every state with each rival of one cluster, or none. origin: (2, states): earlier state, rival + 1."""
    all_loss = (loss + np.append(0, group_loss)[:, None]).ravel()
    steps = np.vstack([np.zeros((1, left.shape[1])), group_change])
    all_left = (left + steps[:, None, :]).reshape(-1, left.shape[1])
    earlier = np.tile(np.arange(len(loss)), len(steps))
    return all_loss, all_left, np.stack([earlier, np.repeat(np.arange(len(steps)), len(loss))])


def _distinct(loss, left, alive):
    """Of many states that leave the same, the one with the least loss."""
    if len(alive) < 2000:
        return alive
    order = alive[np.argsort(loss[alive], kind="stable")]
    _, first = np.unique(np.round(left[order], 9), axis=0, return_index=True)
    return order[np.sort(first)]


def _retraced(picked, at, trail, groups, rivals, cluster):
    for group, origin in zip(groups[::-1], trail[::-1], strict=True):
        earlier, rival = origin[:, at]
        if rival:
            option = rivals[group[rival - 1]]
            picked[cluster[option]] = option
        at = earlier
    return picked


def _by_highs(options, caps, prices, bound):
    """The same by HiGHS, over what the bound does not rule out against a choice that is good and fits."""
    picked = _good_choice(options, caps, prices)
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
            options={"mip_rel_gap": CLOSE, "time_limit": 20.0},
        )
        chosen = keep[answer.x > 0.5] if answer.x is not None else keep[:0]
        if len(chosen) == clusters and fits(options, chosen, caps):
            return max((picked, chosen[np.argsort(options.cluster[chosen])]), key=lambda c: options.value[c].sum())
    return picked


def _good_choice(options, caps, prices):
    """Dearer shadow prices until the choice fits, then the best single changes that still fit."""
    trials = (options.best(options.value - options.use @ (prices * factor)) for factor in np.geomspace(1, 1e6, 200))
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
