"""One budget of cash for all vans: its shadow price, then the exact choice under it."""

import numpy as np

from .choose import best_choice
from .options import Options, fits
from .shadow_prices import shadow_prices
from .tables import CASH

MANY, CLOSE = 3000, 1e-4


def under_shared_budget(budget, tables, nets, alone):
    """Each van's choice, option numbers, when all together may spend `budget` (None: no limit).

    nets: yearly net worth of each table's options. alone: each van's best Choice without the shared budget. The
    budget's shadow price is found first; then up to MANY options all vans together exactly, else van by van.
    """
    spend = sum(t.use[c.picked, CASH].sum() for t, c in zip(tables, alone, strict=True))
    budget = np.inf if budget is None else max(budget, sum(t.least_use[CASH] for t in tables))
    if spend <= budget * (1 + 1e-12) + 1e-9:
        return [c.picked for c in alone]
    price, shadows = _price_of_cash(tables, nets, alone, budget)
    if sum(len(n) for n in nets) > MANY:
        return _van_by_van(tables, nets, budget, price)
    return _joint_choice(tables, nets, budget, price, shadows)


def _price_of_cash(tables, nets, alone, budget):
    """(yearly worth of one more unit of shared cash, each van's own shadow prices), by bisection."""

    def spent_at(price):
        found = [_at_price(t, n, price) for t, n in zip(tables, nets, strict=True)]
        return [shadow for shadow, _ in found], sum(cash for _, cash in found)

    low, high = 0.0, 1.0
    while spent_at(high)[1] > budget and high < 1e15:
        low, high = high, 4 * high
    while high - low > 1e-6 * high:
        middle = (low + high) / 2
        low, high = (middle, high) if spent_at(middle)[1] > budget else (low, middle)
    return high, spent_at(high)[0]


def _at_price(table, net, price):
    """(shadow prices of the van's own limits, cash spent) when cash costs `price` more per unit and year."""
    options, limits = table.options(net - price * table.use[:, CASH]), table.limits()
    picked = options.best(options.value) if len(net) else np.zeros(0, int)
    if fits(options, picked, limits):
        return np.zeros(3), float(table.use[picked, CASH].sum())
    finite = np.flatnonzero(np.isfinite(limits) & (limits > 0))
    scaled = Options(options.cluster, options.value, options.use[:, finite] / limits[finite])
    prices, _ = shadow_prices(scaled, np.ones(len(finite)))
    shadow = np.zeros(3)
    shadow[finite] = prices / limits[finite]
    picked = options.best(options.value - options.use @ shadow)
    return shadow, float(table.use[picked, CASH].sum())


def _van_by_van(tables, nets, budget, price):
    """Each van exactly at the shared price of cash; what is then left over, or too much, goes to the one van where
    it gains most, or loses least. Short of the optimum by at most price · (cash left over).
    """
    for dearer in 1 + 1e-4 * 8.0 ** np.arange(20):
        cost = price * dearer
        picked = [_choice(t, n - cost * t.use[:, CASH], t.limits()) for t, n in zip(tables, nets, strict=True)]
        left = budget - sum(t.use[p, CASH].sum() for t, p in zip(tables, picked, strict=True))
        room = [t.use[p, CASH].sum() + left >= t.least_use[CASH] for t, p in zip(tables, picked, strict=True)]
        if left >= 0 or any(room):
            break
    trials = [
        _choice(t, n, _with_cash(t, p, left)) if fine else p
        for t, n, p, fine in zip(tables, nets, picked, room, strict=True)
    ]
    gains = [
        n[new].sum() - n[old].sum() if fine else -np.inf
        for n, new, old, fine in zip(nets, trials, picked, room, strict=True)
    ]
    best = int(np.argmax(gains))
    if left < 0 or gains[best] > 0:
        picked[best] = trials[best]
    return picked


def _choice(table, value, limits):
    return best_choice(table.options(value), limits, close=CLOSE).picked if len(value) else np.zeros(0, int)


def _with_cash(table, picked, left):
    limits = table.limits()
    return np.minimum(limits, [table.use[picked, CASH].sum() + left, np.inf, np.inf])


def _joint_choice(tables, nets, budget, price, shadows):
    """One choice over all vans: the shared budget beside every van's own limits."""
    clusters = np.cumsum([0] + [len(t.clusters) for t in tables])
    sizes = [len(n) for n in nets]
    use = np.zeros((sum(sizes), 1 + 3 * len(tables)))
    limits, guess = np.full(use.shape[1], np.inf), np.zeros(use.shape[1])
    limits[0], guess[0], start = budget, price, 0
    for v, table in enumerate(tables):
        rows, own = slice(start, start + sizes[v]), slice(1 + 3 * v, 4 + 3 * v)
        use[rows, 0], use[rows, own] = table.use[:, CASH], table.use
        limits[own], guess[own], start = table.limits(), shadows[v], start + sizes[v]
    together = Options(
        np.concatenate([t.cluster + c for t, c in zip(tables, clusters, strict=False)]),
        np.concatenate([t.options(n).value for t, n in zip(tables, nets, strict=True)]),
        use,
    )
    picked = best_choice(together, limits, guess).picked
    starts = np.cumsum([0, *sizes])
    return [picked[a:b] - s for a, b, s in zip(clusters, clusters[1:], starts, strict=False)]
