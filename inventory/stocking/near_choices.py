"""All choices within a small loss against the bound, listed cluster by cluster: the feasible best is among them."""

import numpy as np

from .options import SLACK, losses

LONGEST_LIST, MANY_RIVALS = 60_000, 100


def searched(options, caps, prices, bound, known, beam):
    """(choice or None, its deficit against the bound, True where the list proves that none is better).

    Lists the choices within a growing total loss, of very many the `beam` most promising only. known: the deficit of
    a choice at hand: beyond it no list goes.
    """
    best, lost = losses(options, prices)
    some = np.sort(lost[lost > 1e-12])[: 3 * max(1, (prices > 0).sum())]
    allowed = some.sum() + 1e-9 * max(1.0, abs(bound))
    found, least = None, np.inf
    for _ in range(60):
        picked, deficit, complete = _within(options, caps, prices, best, lost, allowed, beam)
        if picked is not None and deficit < least:
            found, least = picked, deficit
        if complete and least <= allowed:
            return found, least, True
        if allowed >= min(least, known):
            break
        allowed = min(2.5 * allowed, min(least, known) * (1 + 1e-9))
    return found, least, False


def proven(options, caps, prices, deficit):
    """As `searched`, from a list of all choices with no more than that deficit; False where it grows too long."""
    best, lost = losses(options, prices)
    if (lost <= deficit).sum() - len(best) > MANY_RIVALS:
        return None, np.inf, False
    return _within(options, caps, prices, best, lost, deficit * (1 + 1e-9), LONGEST_LIST)


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
