"""Choose one option per cluster: the most value under several limits, exactly.

A multiple-choice knapsack. Shadow prices of the limits give an upper bound, and every option a loss against it;
all choices within a small total loss are listed, the loss widened until a feasible one is among them: that one
is the best. Where the list grows too long, HiGHS decides among the options that the bound does not rule out.
"""

from dataclasses import dataclass

import numpy as np
from scipy import sparse
from scipy.optimize import Bounds, LinearConstraint, milp

from .near_choices import listed
from .options import SLACK, Options, fits, losses
from .shadow_prices import bound_at, shadow_prices

MOST_CHANGES = 200
CLOSE = 1e-5


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
        bound = bound_at(small, caps, prices)
    picked = _good_choice(small, caps, prices) if close else None
    if picked is None or bound - options.value[picked].sum() > close * abs(bound):
        picked, deficit, complete = listed(small, caps, prices, bound, close)
        if not complete and deficit > close * abs(bound):
            picked = _by_highs(small, caps, prices, bound, picked, max(close, CLOSE))
    full = np.zeros(len(limits))
    full[finite] = prices / scale
    return Choice(picked, float(options.value[picked].sum()), full, bound)


def _by_highs(options, caps, prices, bound, near, gap):
    """The same by HiGHS, over what the bound does not rule out against a choice that is good and fits."""
    known = [c for c in (near, _good_choice(options, caps, prices)) if c is not None]
    picked = max(known, key=lambda c: options.value[c].sum())
    _, lost = losses(options, prices)
    keep = np.flatnonzero(lost <= bound - options.value[picked].sum() + 1e-9 * max(1.0, abs(bound)))
    clusters = len(picked)
    one_each = sparse.csr_array(
        (np.ones(len(keep)), (options.cluster[keep], np.arange(len(keep)))), shape=(clusters, len(keep))
    )
    scale = max(np.ptp(options.value[keep]), 1e-12) / 1e3
    for tightened in (0.0, 2e-6):
        answer = milp(
            -options.value[keep] / scale,
            integrality=np.ones(len(keep)),
            bounds=Bounds(0, 1),
            constraints=[
                LinearConstraint(one_each, 1, 1),
                LinearConstraint(options.use[keep].T, -np.inf, caps - tightened),
            ],
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
    for _ in range(MOST_CHANGES):
        left = caps - options.use[picked].sum(axis=0)
        gain = options.value - options.value[picked][options.cluster]
        gain[(options.use - options.use[picked][options.cluster] > left + SLACK).any(axis=1)] = -np.inf
        best = int(gain.argmax())
        if gain[best] <= 1e-12:
            break
        picked[options.cluster[best]] = best
    return picked
