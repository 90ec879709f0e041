"""Spells of many groups as sorted logarithms, so that a Weibull likelihood costs one exp per age."""

from dataclasses import dataclass

import numpy as np

Array = np.ndarray
NOTHING = 1e-300  # stands for a sum that rounding has made 0 or less


@dataclass(frozen=True)
class LogAges:
    """Spells of every group, ready for sums of weight x age ** shape; groups without a usable age are left out.

    `group` (n,) numbers the groups that have ages, the other per-group arrays follow it. `log` (m,) holds the
    logarithms of exits (sign +weight) and of entries above 0 (sign -weight), each divided by the largest
    exit of its group's spells that last; a group's own stand together from `start` on, `length` of them.
    Spells of no length count as failures only.
    """

    group: Array
    largest: Array
    log: Array
    sign: Array
    start: Array
    length: Array
    failures: Array
    failed_log_sum: Array
    failed_least: Array
    failed_most: Array
    exposure: Array

    def moments(self, shape, order=2) -> list[Array]:
        """H, H', ... up to `order`: sums of sign x log ** k x age ** shape per group, shape (n,); H >= NOTHING."""
        term = np.repeat(shape, self.length)
        np.multiply(term, self.log, out=term)
        np.exp(term, out=term)
        np.multiply(term, self.sign, out=term)
        sums = [np.maximum(np.add.reduceat(term, self.start), NOTHING)]
        for _ in range(order):
            np.multiply(term, self.log, out=term)
            sums.append(np.add.reduceat(term, self.start))
        return sums

    def of(self, chosen) -> "LogAges":
        """The same for the groups that `chosen`, a bool array (n,), keeps."""
        if chosen.all():
            return self
        rows, length = np.repeat(chosen, self.length), self.length[chosen]
        per_group = (self.failures, self.failed_log_sum, self.failed_least, self.failed_most, self.exposure)
        return LogAges(
            self.group[chosen],
            self.largest[chosen],
            self.log[rows],
            self.sign[rows],
            _starts(length),
            length,
            *(values[chosen] for values in per_group),
        )


def log_ages(entry, exit, failed, weight, group) -> LogAges:
    """Sort spells into LogAges. entry, exit: 0 <= entry <= exit, any unit; failed: bool; weight >= 0; all (m,).

    Spells of no length that did not fail say nothing and are dropped; failures at age 0 have no logarithm
    and must not be given.
    """
    entry, exit, failed, weight, group = _by_group(entry, exit, failed, weight, group)
    numbers, start, length = _runs(group)
    if not numbers.size:
        empty = np.zeros(0)
        return LogAges(numbers, empty, empty, empty, start, length, *[empty] * 5)
    lasting = exit > entry
    reach = np.maximum.reduceat(np.where(lasting, exit, 0.0), start)
    largest = np.where(reach > 0, reach, np.maximum.reduceat(exit, start))
    scaled = np.repeat(largest, length)
    log = np.log(exit / scaled)
    weight_failed = np.where(failed, weight, 0.0)
    points, sign, first, size = _signed(
        np.where(lasting, log, 0.0),
        np.where(lasting, entry, 0.0),
        scaled,
        np.where(lasting, weight, 0.0),
        start,
        length,
    )
    return LogAges(
        group=numbers,
        largest=largest,
        log=points,
        sign=sign,
        start=first,
        length=size,
        failures=np.add.reduceat(weight_failed, start),
        failed_log_sum=np.add.reduceat(weight_failed * log, start),
        failed_least=np.minimum.reduceat(np.where(failed, log, np.inf), start),
        failed_most=np.maximum.reduceat(np.where(failed, log, -np.inf), start),
        exposure=np.add.reduceat(weight * ((exit - entry) / scaled), start),
    )


def _by_group(entry, exit, failed, weight, group):
    """Only spells that count, in the order of their groups."""
    entry, exit, weight = (np.asarray(values, float) for values in (entry, exit, weight))
    failed, group = np.asarray(failed, bool), np.asarray(group)
    counts = (weight > 0) & (failed | (exit > entry))
    columns = [entry, exit, failed, weight, group]
    if not counts.all():
        columns = [column[counts] for column in columns]
    if np.any(np.diff(columns[4]) < 0):
        order = np.argsort(columns[4], kind="stable")
        columns = [column[order] for column in columns]
    return columns


def _runs(group):
    """Group numbers present, where each starts and how many rows it has; `group` is sorted."""
    start = np.flatnonzero(np.diff(group, prepend=group[0] - 1)) if group.size else np.zeros(0, int)
    return group[start].astype(int), start, np.diff(np.append(start, group.size))


def _starts(length):
    return np.concatenate(([0], np.cumsum(length)[:-1])).astype(int)


def _signed(log, entry, scaled, weight, start, length):
    """Exits and late entries of each group side by side: log, sign, start, length."""
    late = entry > 0
    if not late.any():
        return log, weight, start, length
    per_row = 1 + late
    place = np.cumsum(per_row) - per_row
    both, sign = np.empty(per_row.sum()), np.empty(per_row.sum())
    both[place], sign[place] = log, weight
    both[place[late] + 1] = np.log(entry[late] / scaled[late])
    sign[place[late] + 1] = -weight[late]
    length = np.add.reduceat(per_row, start)
    return both, sign, _starts(length), length
