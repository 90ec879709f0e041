"""How old is what we took over? The ages that positions of unseen past may have, today and while we watched."""

from dataclasses import dataclass, replace

import numpy as np

from jobs.reliability.joint_likelihood import JointLikelihood
from jobs.reliability.unseen import TakenOver

Array = np.ndarray
AGES = 4  # besides that of the original
NONE = tuple(np.zeros(0, kind) for kind in (float, float, bool, float, int))


@dataclass(frozen=True)
class UnseenAges:
    """For each position taken over: how much younger than its appliance it may be, (n, ages), and how likely that is:
    (n, ages), or given each shape of a grid (n, ages, shapes).
    """

    younger: Array
    likely: Array


def unseen_ages(over: TakenOver, shape, scale, *, lost_rate, groups, ages=AGES) -> UnseenAges:
    """Ages at the start of care weighed by the life of the group and by what followed.

    shape, scale: Weibull life of each group (groups,), lost_rate: renewals for other causes per unit of age. Silent
    tails tell nothing of the age.
    """
    if not over.age.size:
        return UnseenAges(np.zeros((0, ages + 1)), np.zeros((0, ages + 1)))
    height = JointLikelihood(NONE, watched(over), groups, lost_rate, ages, many=())
    age, likely = height.ages_at_start(np.asarray(shape, float), np.asarray(scale, float))
    return UnseenAges(over.age[:, None] - age, likely)


def watched(over: TakenOver) -> TakenOver:
    """The pieces before a silence; of a position silent from the start a first piece of no length."""
    opens = np.diff(over.position, prepend=-1) != 0
    kept = (over.weight >= 1) | opens
    silent = opens & (over.weight < 1)
    return replace(
        over,
        position=over.position[kept],
        entry=over.entry[kept],
        exit=np.where(silent, over.entry, over.exit)[kept],
        failed=(over.failed & ~silent)[kept],
        weight=np.ones(kept.sum()),
    )


def spread_spells(over: TakenOver, found: UnseenAges):
    """The spells of positions taken over at each age that they may have had: entry, exit, failed, weight, group."""
    position, many = over.position, found.likely.shape[1]
    younger = found.younger[position]
    return (
        np.maximum(over.entry[:, None] - younger, 0.0).ravel(),
        np.maximum(over.exit[:, None] - younger, 0.0).ravel(),
        np.repeat(over.failed, many),
        (over.weight[:, None] * found.likely[position]).ravel(),
        np.repeat(over.group[position], many),
    )
