"""Positions whose past nobody saw: taken over in mid-life, watched up to their first seen renewal."""

from dataclasses import dataclass, fields

import numpy as np

Array = np.ndarray


@dataclass(frozen=True)
class TakenOver:
    """Positions (n,) of unseen past, watched in pieces (m,) up to their first seen renewal.

    group: of each position; age: of the appliance when its care began. Of each piece: position, entry and exit
    as ages of the appliance, failed at its end, weight of its exposure.
    """

    group: Array
    age: Array
    position: Array
    entry: Array
    exit: Array
    failed: Array
    weight: Array


def taken_over(unit, entry, exit, failed, weight, group) -> TakenOver:
    """Gather spells of clock *perhaps* into positions. unit: a number per spell, equal within one position.

    Spells of one position must follow each other by entry; the first one's entry is the age at the start of care.
    """
    unit = np.asarray(unit)
    first = np.flatnonzero(np.diff(unit, prepend=unit[0] - 1)) if unit.size else np.zeros(0, int)
    position = np.repeat(np.arange(first.size), np.diff(np.append(first, unit.size)))
    return TakenOver(
        np.asarray(group, int)[first],
        np.asarray(entry, float)[first],
        position,
        np.asarray(entry, float),
        np.asarray(exit, float),
        np.asarray(failed, bool),
        np.asarray(weight, float),
    )


@dataclass(frozen=True)
class Prefixes:
    """Positions cut after each of their pieces, (n,): first and last piece, how far each counts, and whether it was
    watched without a break or a failure in between.

    A piece of weight w says with chance w what it says. So the log likelihood of pieces with weights w1 >= w2 ...
    is (w1 - w2) x that of the first piece + (w2 - w3) x that of the first two + ...
    """

    position: Array
    first: Array
    last: Array
    weight: Array
    whole: Array

    def of(self, chosen) -> "Prefixes":
        """Some of them, by number or by a bool for each."""
        return Prefixes(*(getattr(self, field.name)[chosen] for field in fields(self)))


def prefixes(over: TakenOver) -> Prefixes:
    """All of them that count."""
    position, entry, exit, weight = over.position, over.entry, over.exit, over.weight
    follows = position[1:] == position[:-1]
    if not follows.any():
        last = np.flatnonzero(weight > 1e-12)
        return Prefixes(position[last], last, last, weight[last], np.ones(last.size, bool))
    counts = weight.copy()
    counts[:-1] -= np.where(follows, weight[1:], 0.0)
    last = np.flatnonzero(np.abs(counts) > 1e-12)
    first = np.maximum.accumulate(np.where(np.append(True, ~follows), np.arange(position.size), 0))[: position.size]
    breaks = np.append(0, np.cumsum(follows & ((entry[1:] != exit[:-1]) | over.failed[:-1])))
    whole = breaks[last] == breaks[first[last]]
    return Prefixes(position[last], first[last], last, counts[last], whole)
