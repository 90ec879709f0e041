"""Runs of different length in one flat array."""

import numpy as np

DENSE = 4  # numbers in the table for each key


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
    first, length, _ = runs_of_equal(owner)
    return np.arange(len(owner)) - np.repeat(first, length)


def look_up(sorted_keys, keys):
    """Index of each key among `sorted_keys` (distinct, ascending integers), −1 where it is missing.

    Keys that lie close together, as primary keys do, are found in a table of all of them, without a search.

    >>> look_up(np.array([3, 5, 6]), np.array([5, 4, 9]))
    array([ 1, -1, -1])
    """
    sorted_keys, keys = np.asarray(sorted_keys), np.asarray(keys)
    if not len(sorted_keys):
        return np.full(len(keys), -1)
    least, most = int(sorted_keys[0]), int(sorted_keys[-1])
    if len(keys) and most - least < DENSE * (len(sorted_keys) + len(keys)):
        place = np.full(most - least + 2, -1)
        place[sorted_keys - least] = np.arange(len(sorted_keys))
        return place[np.where((keys >= least) & (keys <= most), keys - least, -1)]
    at = np.minimum(np.searchsorted(sorted_keys, keys), len(sorted_keys) - 1)
    return np.where(sorted_keys[at] == keys, at, -1)


def distinct(keys):
    """The distinct keys, ascending. (np.unique hashes first, which is slower on millions of integers.)"""
    ordered = np.sort(keys)
    return ordered[_begins(ordered)]


def runs_of_equal(ordered):
    """Begin and length of each run of equal entries, and the run of every entry; `ordered` ascending.

    >>> runs_of_equal(np.array([4, 4, 7]))
    (array([0, 2]), array([2, 1]), array([0, 0, 1]))
    """
    begins = _begins(ordered)
    first = np.flatnonzero(begins)
    return first, np.diff(np.r_[first, len(ordered)]), np.cumsum(begins) - 1


def _begins(ordered):
    begins = np.ones(len(ordered), dtype=bool)
    begins[1:] = ordered[1:] != ordered[:-1]
    return begins
