"""Many streams of failures watched at once: which of them fail more than the others of their kind do?"""

from dataclasses import dataclass

import numpy as np

from jobs.reliability.alarms import (
    DAYS_PER_YEAR,
    DRIFT,
    JUMP,
    clock_at,
    expected_by_month,
    failures_to_false_alarm,
    recent_against_earlier,
    threshold_for,
)

Array = np.ndarray
LEAN = 1.0  # failures as expected that every baseline leans on
TIMES = 5.0  # a batch that fails so many times as often as it should tells the delay


@dataclass(frozen=True)
class Watched:
    """Spells (m,) of the kinds (component types) and of the streams that they belong to (-1: none).

    opened: day; entry, exit: ages; weight: how far each counts. A spell of unseen age may stand here several times.
    """

    kind: Array
    stream: Array
    opened: Array
    entry: Array
    exit: Array
    weight: Array


@dataclass(frozen=True)
class Failed:
    """Failures (m,): kind, stream (-1: none), day."""

    kind: Array
    stream: Array
    day: Array


@dataclass(frozen=True)
class Streams:
    """Per stream (n,): failures, expected of the others of its kind, their ratio with limits, p of «more».

    expected_a_year: of all streams together, lately. clock, stream, day: of each failure, in order within its stream.
    """

    failures: Array
    expected: Array
    ratio: Array
    low: Array
    high: Array
    p: Array
    expected_a_year: float
    clock: Array
    stream: Array
    day: Array

    def raised(self, threshold):
        """Alarms as arrays (stream, day, level, since): each crossing of the threshold, the sum then begun anew.

        since: the day of the failure with which the rise began.
        """
        found, value, before, last = [], 0.0, 0.0, -1
        since = 0.0
        for stream, clock, day in zip(self.stream.tolist(), self.clock.tolist(), self.day.tolist(), strict=True):
            fallen = value - DRIFT * (clock - before) if stream == last else 0.0
            if fallen <= 0:
                fallen, since = 0.0, day
            value, before, last = fallen + JUMP, clock, stream
            if value >= threshold:
                found.append((stream, day, value, since))
                value = 0.0
        columns = zip(*found, strict=True) if found else [()] * 4
        return tuple(np.array(column) for column in columns)


def watch_streams(
    watched: Watched, failed: Failed, shape, scale, factor, edges, *, streams, recent=365, against_itself=False
) -> Streams:
    """shape, scale: of each kind (kinds,); edges: days, rising; factor: of the seasons between them (kinds, periods).

    The life of a kind is scaled so that the kind without the stream failed as expected, and the test compares the
    stream with the rest of its kind. Or, against_itself, so that the stream itself did before its last `recent` days,
    and these are compared with what came before.
    """
    edges = np.asarray(edges, float)
    kind_of = np.zeros(streams, int)
    kind_of[watched.stream[watched.stream >= 0]] = watched.kind[watched.stream >= 0]
    expected, of_kind = _expected(watched, shape, scale, factor, edges, streams)
    failures = np.bincount(failed.stream + 1, minlength=streams + 1)[1:].astype(float)
    rest = np.bincount(failed.kind, minlength=shape.size)[kind_of] - failures
    rest_expected = np.maximum(of_kind[kind_of] - expected.sum(axis=1), 0.0)
    expected *= _level(rest, rest_expected)[:, None]
    told = failures, expected.sum(axis=1), rest, rest
    begin = edges[:-1] > edges[-1] - recent
    if against_itself:
        new = failed.day > edges[-1] - recent
        lately = np.bincount(failed.stream[new] + 1, minlength=streams + 1)[1:]
        earlier, so_far = failures - lately, expected[:, ~begin].sum(axis=1)
        expected *= _level(earlier, so_far)[:, None]
        told = lately, expected[:, begin].sum(axis=1), earlier, expected[:, ~begin].sum(axis=1)
        failed = Failed(failed.kind[new], failed.stream[new], failed.day[new])
    test = recent_against_earlier(told[0], np.maximum(told[1], 1e-9), told[2], np.maximum(told[3], 1e-9))
    limits = test.comparison.low, test.comparison.high
    a_year = expected[:, begin].sum() * DAYS_PER_YEAR / recent
    clock = _clock(failed, expected, edges)
    return Streams(
        np.asarray(told[0], float), told[1], test.comparison.ratio, *limits, test.rising, float(a_year), *clock
    )


def _level(failures, expected):
    """Failures over expected, a standard error up: what is not known for certain shall raise no alarm."""
    return (failures + LEAN) / (expected + LEAN) * (1 + 1 / np.sqrt(failures + LEAN))


def _expected(watched, shape, scale, factor, edges, streams):
    """Expected failures of each stream in each period, and of each kind in all, by the life of the kind."""
    expected, of_kind = np.zeros((streams, edges.size - 1)), np.zeros(shape.size)
    for kind in np.unique(watched.kind):
        own = watched.kind == kind
        found = expected_by_month(
            watched.opened[own], watched.entry[own], watched.exit[own], shape[kind], scale[kind], edges,
            watched.stream[own] + 1, streams=streams + 1, weight=watched.weight[own], factor=factor[kind],
        )  # fmt: skip
        of_kind[kind] = found.sum()
        expected += found[1:]
    return expected, of_kind


def _clock(failed, expected, edges):
    """Clock, stream and day of each failure of a stream, in order."""
    own = failed.stream >= 0
    order = np.lexsort((failed.day[own], failed.stream[own]))
    stream, day = failed.stream[own][order], failed.day[own][order]
    return clock_at(day, stream, edges, expected), stream, day


def budget(expected_a_year, false_alarms_a_year=1.0):
    """(threshold, false alarms a year to expect there, failures until a batch at five times its rate is found)."""
    threshold = threshold_for(expected_a_year, false_alarms_a_year)
    false = expected_a_year / failures_to_false_alarm(threshold)
    return threshold, false, int(np.ceil(threshold / (JUMP - DRIFT / TIMES)))
