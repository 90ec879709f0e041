"""How many false alarms do streams of known length give, and at which threshold do all together keep to a budget?"""

from functools import cache

import numpy as np

from jobs.reliability.alarms import DRIFT, JUMP

Array = np.ndarray
A_YEAR = 0.5  # false alarms of all streams together that a threshold is set for
CELLS = 16  # of the sum's scale in one jump
LEAST, MOST = 2, 24  # thresholds in jumps
STEADY = 40.0  # expected failures after which alarms come at an even rate
TIMES = 5.0  # a batch that fails so many times as often as it should tells the delay
BESIDE = 1.2  # times its own expected failures: the baseline a standard error up, good parts of the same source


@cache
def alarms_by_clock(cells: int) -> tuple[Array, Array]:
    """(clock, alarms): mean number of alarms of one stream that fails as it should, by its expected failures so far.

    cells: threshold in cells of ln 2.5 / 16. The sum starts at 0 and again after each alarm. It is a Markov chain on
    these cells: down one cell in each short step, up sixteen at a failure. Unlike the mean run to a false alarm it
    knows that a short stream has hardly the time to reach a threshold.
    Source: Brook & Evans (1972), Biometrika 59, 539-549 (the chain); here by steps, from the start on.
    """
    step = JUMP / CELLS / DRIFT
    none, one = np.exp(-step), step * np.exp(-step)
    chances = (one, 1 - none - one)  # of one failure in a step, and of two
    steps = int(np.ceil(STEADY / step))
    at, count, alarms = np.zeros(cells), 0.0, np.zeros(steps + 1)
    at[0] = 1.0
    for i in range(steps):
        at[0] += at[1]
        at[1:-1] = at[2:]
        at[-1] = 0.0
        after, crossed = none * at, 0.0
        for jump, chance in zip((CELLS, 2 * CELLS), chances, strict=True):
            after[jump:] += chance * at[:-jump]
            crossed += chance * at[-jump:].sum()
        after[0] += crossed
        at, count = after, count + crossed
        alarms[i + 1] = count
    return step * np.arange(steps + 1), alarms


def expected_alarms(clock, cells: int):
    """Mean number of alarms of streams that have come to `clock` expected failures, (n,), each from 0."""
    grid, alarms = alarms_by_clock(cells)
    late = (alarms[-1] - alarms[grid.size // 2]) / (grid[-1] - grid[grid.size // 2])
    return np.interp(clock, grid, alarms) + late * np.maximum(np.asarray(clock) - grid[-1], 0.0)


def budget(before, now, wanted=A_YEAR):
    """(threshold, false alarms a year to expect there, failures until a batch at five times its rate is found).

    before, now: expected failures of each stream (n,) a year ago and today. Alarms of overlapping streams are all
    counted, so what a page shows after merging them is less. The threshold is the least that keeps to `wanted`.
    The delay is what the sum gains by each failure of such a batch, half a jump above the threshold: simulation finds
    half of the batches by then (docs/coverage.md).
    """

    def false(cells):
        return float(np.sum(expected_alarms(now, cells) - expected_alarms(before, cells)))

    low, high = LEAST * CELLS - 1, MOST * CELLS
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if false(middle) <= wanted else (middle, high)
    threshold = high * JUMP / CELLS
    delay = (threshold + JUMP / 2) / (JUMP - BESIDE * DRIFT / TIMES)
    return threshold, false(high), int(np.ceil(delay))
