"""The prices of cash and room at which every cluster, left to itself, chooses nearly what is best for all."""

import numpy as np

from .options import Options

ROUNDS = 200


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
            return prices, bound_at(options, caps, prices)
        active |= broken
        few = Options(options.cluster, options.value, options.use[:, active])
        prices[active] = _few_prices(few, caps[active])


def _one_option(options):
    """The largest use of a single option, per limit: to be over by less is for the list to mend."""
    return options.use.max(axis=0) / 2


def _few_prices(options, caps):
    """Cutting planes; the master problem, over whole choices found so far, by the revised simplex method."""
    first = options.first
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


def bound_at(options, caps, prices):
    scores = options.value - options.use @ prices
    return float(scores[options.best(scores)].sum() + prices @ caps)
