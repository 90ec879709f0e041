"""Weibull lives where positions were taken over in mid-life: earlier renewals may have happened unseen."""

from dataclasses import fields

import numpy as np
from scipy.special import chdtrc, gammaln

from jobs.reliability.joint_likelihood import NODES, JointLikelihood
from jobs.reliability.life import WeibullFits, fit_weibull
from jobs.reliability.two_parameters import maximum, region_limits
from jobs.reliability.unseen import TakenOver, taken_over

FIRST_LOOK = ((0.0, 0.0), (0.15, -0.1), (0.3, -0.2), (0.5, -0.3), (0.7, -0.4))  # of (log shape, log scale)
FEW_STEPS = 4  # of all groups together; those that need more go on by themselves

__all__ = ["JointLikelihood", "TakenOver", "fit_taken_over", "taken_over"]


def fit_taken_over(
    entry, exit, failed, weight, group, over: TakenOver, *, groups, lost_rate=0.0, level=0.90, limits=True, nodes=NODES
) -> WeibullFits:
    """Weibull lives from ordinary spells and from positions taken over, one likelihood per group.

    entry, exit, failed, weight, group: spells whose clock is known, as fit_weibull; over: positions whose earlier
    renewals nobody saw; lost_rate: renewals for other causes than failure per unit of age, (groups,) or a scalar.
    Groups without positions taken over get the plain fit, the others limits that allow for few failures
    (region_drop): with the quantile of many they covered 82 to 86 % instead of 90 at four to ten failures.
    Statuses as fit_weibull; `not-converged` also where the likelihood has no peak.
    """
    spells = tuple(np.asarray(column) for column in (entry, exit, failed, weight, group))
    aged = ~(spells[2].astype(bool) & (spells[1] <= 0))
    spells = tuple(column[aged] for column in spells)
    plain = fit_weibull(
        *(
            np.concatenate(pair)
            for pair in zip(
                spells, (over.entry, over.exit, over.failed, over.weight, over.group[over.position]), strict=True
            )
        ),
        groups=groups,
        level=level,
        limits=limits and not over.age.size,
    )
    if not over.age.size:
        return plain
    lost_rate = np.broadcast_to(np.asarray(lost_rate, float), (groups,))
    height = JointLikelihood(spells, over, groups, lost_rate, nodes)
    log_largest = np.log(height.largest)
    usable = np.isin(plain.status, ("fitted", "shape-at-edge", "not-converged"))
    log_scale = np.log(np.where(plain.scale > 0, plain.scale, height.largest)) - log_largest
    log_shape = np.log(np.where(plain.shape > 0, np.clip(plain.shape, 0.05, 50), 1.5))
    start = _best_of_several(height, np.stack([log_shape, np.clip(log_scale, -5, 5)]))
    at, best, bend, settled = maximum(lambda point: np.where(usable, height(point), 0.0), start, FEW_STEPS)
    slow = usable & ~settled
    if slow.any():
        kept, kept_over = _only(spells, over, slow)
        few = JointLikelihood(kept, kept_over, slow.sum(), lost_rate[slow], nodes)
        at[:, slow], best[slow], bend[:, :, slow], settled[slow] = maximum(few, start[:, slow])
    return _told(plain.status, usable, settled, at, best, bend, height, log_largest, level if limits else None)


def _best_of_several(height, start):
    """The best of some points towards steeper and shorter lives: ages counted from installation hide both."""
    points = start[:, None] + np.array(FIRST_LOOK).T[:, :, None]
    return np.take_along_axis(points, height(points).argmax(axis=0)[None, None], axis=1)[:, 0]


def _only(spells, over: TakenOver, chosen):
    """The spells and positions of some groups, which are numbered anew."""
    number = np.cumsum(chosen) - 1
    kept, piece = chosen[over.group], chosen[over.group[over.position]]
    pieces = (getattr(over, name)[piece] for name in ("entry", "exit", "failed", "weight"))
    place = (np.cumsum(kept) - 1)[over.position[piece]]
    known = [column[chosen[spells[4]]] for column in spells]
    return (*known[:4], number[known[4]]), TakenOver(number[over.group[kept]], over.age[kept], place, *pieces)


def _told(status, usable, settled, at, best, bend, height, log_largest, level):
    """The fits as WeibullFits, nan where there is none."""
    found = usable & settled
    groups = status.size
    status = np.where(usable, np.where(found, "fitted", "not-converged"), status)
    shape = np.exp(at[0])
    log = {
        "shape": at[0],
        "scale": at[1] + log_largest,
        "mean": at[1] + log_largest + gammaln(1 + 1 / shape),
        "b10": at[1] + log_largest + np.log(-np.log(0.9)) / shape,
    }
    if level is not None:
        safe = np.where(found, bend, np.eye(2)[:, :, None])
        limits = region_limits(
            lambda point: np.where(found, height(point), -np.sum((point - at[:, None]) ** 2, axis=0) + best),
            at,
            best,
            safe,
            level,
            np.where(np.bincount(height.over.group, minlength=groups) > 0, height.totals()[0], np.inf),
        )
        log |= {name: value + (0.0 if name.startswith("shape") else log_largest) for name, value in limits.items()}
    table = {field.name: np.full(groups, np.nan) for field in fields(WeibullFits)}
    with np.errstate(over="ignore", invalid="ignore"):
        for name, value in log.items():
            table[name] = np.where(found, np.exp(value), np.nan)
    failures, exposure = height.totals()
    even = failures * (np.log(np.maximum(failures, 1e-300)) - np.log(np.maximum(exposure, 1e-300))) - failures
    table["lr_p"] = np.where(found, chdtrc(1, np.maximum(2 * (best - even), 0.0)), np.nan)
    return WeibullFits(**{**table, "status": status})
