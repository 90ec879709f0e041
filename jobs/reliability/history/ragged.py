"""Runs of different length in one flat array."""

import numpy as np


def runs(first, length):
    """Flat indices first[i], …, first[i] + length[i] − 1 of every run, and the run that each belongs to.

    >>> runs(np.array([10, 20]), np.array([2, 3]))
    (array([0, 0, 1, 1, 1]), array([10, 11, 20, 21, 22]))
    """
    run = np.repeat(np.arange(len(length)), length)
    within = np.arange(len(run)) - np.repeat(np.cumsum(length) - length, length)
    return run, first[run] + within


def within_runs(owner):
    """Place of every entry among the entries of its owner; owners ascending.

    >>> within_runs(np.array([4, 4, 7, 7, 7]))
    array([0, 1, 0, 1, 2])
    """
    if not len(owner):
        return np.zeros(0, dtype=np.int64)
    begins = np.flatnonzero(np.r_[True, owner[1:] != owner[:-1]])
    return np.arange(len(owner)) - np.repeat(begins, np.diff(np.r_[begins, len(owner)]))


def look_up(sorted_keys, keys):
    """Index of each key among `sorted_keys` (distinct, ascending), −1 where it is missing."""
    if not len(sorted_keys):
        return np.full(len(keys), -1)
    at = np.minimum(np.searchsorted(sorted_keys, keys), len(sorted_keys) - 1)
    return np.where(sorted_keys[at] == keys, at, -1)
