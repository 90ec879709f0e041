"""Observed against fitted failures along any axis: by the age of the appliance, which is always known, or by date."""

import numpy as np

from jobs.reliability.unseen import TakenOver
from jobs.reliability.unseen_ages import UnseenAges

Array = np.ndarray
LEAST = 1e-300


def expected_along(entry, exit, weight, offset, edges, *, shape, scale):
    """Failures that a Weibull life expects of spells of known age between the edges, (edges - 1,).

    entry, exit: ages of the part (m,), weight (m,). offset (m,): what added to the age of the part gives the place on
    the axis. edges: rising places on it.
    """
    entry, exit, offset = (np.asarray(values, float) for values in (entry, exit, offset))
    passed = [(np.clip(edge - offset, entry, exit) / scale) ** shape for edge in edges]
    return np.array([np.sum(weight * (b - a)) for a, b in zip(passed[:-1], passed[1:], strict=True)])


def expected_of_unseen(over: TakenOver, found: UnseenAges, offset, edges, *, shape, scale):
    """The same of positions of unseen past, each averaged over the ages that it may have had.

    found: ages at the start of care and how likely each is, as known then. offset (m,): of each piece, from the age of
    the appliance to the axis. While a position works the young ages gain weight, so the failures expected of it up to
    an age are -ln sum(w S): the compensator of its failures given what was seen before. After a failure repaired in
    place the ages are weighed anew by their hazards.
    Source: Andersen, Borgan, Gill & Keiding (1993), Statistical Models Based on Counting Processes, II.4.
    """
    likely, edges = found.likely.copy(), np.asarray(edges, float)
    expected = np.zeros(edges.size - 1)
    starts = np.flatnonzero(np.diff(over.position, prepend=-1))
    turn = np.arange(over.position.size) - np.repeat(starts, np.diff(np.append(starts, over.position.size)))
    for each in range(int(turn.max(initial=-1)) + 1):
        rows = np.flatnonzero(turn == each)
        own = over.position[rows]
        younger = found.younger[own]

        def passed(age, younger=younger):
            return (np.maximum(age[:, None] - younger, 0.0) / scale) ** shape

        begin, end = over.entry[rows], over.exit[rows]
        at_entry, weight = passed(begin), likely[own]

        def working(age, passed=passed, at_entry=at_entry, weight=weight):
            return np.sum(weight * np.exp(at_entry - passed(age)), axis=1)

        told = [-np.log(np.maximum(working(np.clip(edge - offset[rows], begin, end)), LEAST)) for edge in edges]
        expected += [np.sum(over.weight[rows] * (b - a)) for a, b in zip(told[:-1], told[1:], strict=True)]
        likely[own] = _weighed_anew(weight, passed(end) - at_entry, end[:, None] - younger, over.failed[rows], shape)
    return expected


def _weighed_anew(weight, passed, age, failed, shape):
    """Weights of the ages after a piece: by working through it and, where it failed, by the hazard then."""
    hazard = np.where(failed[:, None], np.maximum(age, 1e-9) ** (shape - 1), 1.0)
    new = weight * np.exp(-(passed - passed.min(axis=1, keepdims=True))) * hazard
    return new / new.sum(axis=1, keepdims=True)


def at_the_start(over: TakenOver) -> TakenOver:
    """The positions as they were when their care began: watched for no time, so that nothing is known of after."""
    first = np.flatnonzero(np.diff(over.position, prepend=-1))
    entry, none = over.entry[first], np.zeros(first.size, bool)
    return TakenOver(over.group, over.age, over.position[first], entry, entry, none, np.ones(first.size))
