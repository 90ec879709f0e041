"""How often do alarms cry wolf over an ageing firm, and how many failures does a bad batch need to be found?"""

from dataclasses import dataclass

import numpy as np

from jobs.reliability.alarms import clock_at, cumulative_sum, expected_by_month, threshold_for
from jobs.reliability.life import fit_weibull
from jobs.simulation.rows import Goal, averaged

TABLE = "Alarms over 30 component types and 10 suppliers"
TYPES, SUPPLIERS, YEARS, MONTH = 30, 10, 10, 365.25 / 12
SHAPES = np.array([0.8, 1.0, 1.0, 1.6, 2.2, 2.8, 3.5])
BATCH = 5.0  # times its rate


@dataclass(frozen=True)
class Fitted:
    """Parts fitted in one firm (m,): type, supplier, day fitted, age at the end of its watch, failed."""

    kind: np.ndarray
    supplier: np.ndarray
    day: np.ndarray
    exit: np.ndarray
    failed: np.ndarray

    @property
    def stream(self):
        return self.kind * SUPPLIERS + self.supplier


def draw_parts(rng, parts, *, batch=None) -> Fitted:
    """`parts` parts of each type fitted over ten years, more in later years; they age until they fail or today.

    Lives differ by type only, so every alarm is false; except batch: (type, supplier, from day, to day), whose
    parts fail at five times their rate.
    """
    shape, scale = SHAPES[np.arange(TYPES) % SHAPES.size], 9.0 + 8.0 * (np.arange(TYPES) % 4)
    kind = np.repeat(np.arange(TYPES), parts)
    share = 1.0 / np.arange(1, SUPPLIERS + 1)
    supplier = rng.choice(SUPPLIERS, kind.size, p=share / share.sum())
    day = YEARS * 365.25 * np.sqrt(rng.random(kind.size))
    times = np.ones(kind.size)
    if batch is not None:
        of_type, of_supplier, begin, end = batch
        times[(kind == of_type) & (supplier == of_supplier) & (day >= begin) & (day < end)] = BATCH
    life = scale[kind] * (rng.exponential(size=kind.size) / times) ** (1 / shape[kind])
    left = np.where(rng.random(kind.size) < 0.3, rng.uniform(0, YEARS, kind.size), np.inf)
    until = np.minimum(YEARS - day / 365.25, left)
    return Fitted(kind, supplier, day, np.minimum(life, until), life <= until)


def signals(fitted: Fitted, *, clock="expected", known=False):
    """Cumulative sum of every stream: value at each failure, its stream and day, and the threshold.

    clock: `expected` failures of a life fitted without the stream, or plain `exposure` at the type's mean rate.
    """
    edges = np.arange(YEARS * 12 + 1) * MONTH
    expected = np.zeros((TYPES * SUPPLIERS, YEARS * 12))
    for supplier in range(SUPPLIERS):
        own = fitted.supplier == supplier
        shape, scale = _baseline(fitted, ~own, clock)
        rows = np.flatnonzero(own)
        kind = fitted.kind[rows]
        expected += expected_by_month(
            fitted.day[rows], np.zeros(rows.size), fitted.exit[rows], shape[kind], scale[kind], edges,
            fitted.stream[rows], streams=TYPES * SUPPLIERS,
        )  # fmt: skip
    failed = np.flatnonzero(fitted.failed)
    day = fitted.day[failed] + fitted.exit[failed] * 365.25
    order = np.lexsort((day, fitted.stream[failed]))
    failed, day = failed[order], day[order]
    stream = fitted.stream[failed]
    sums = cumulative_sum(clock_at(day, stream, edges, expected), stream)
    return sums.value, stream, day, threshold_for(expected.sum() / YEARS), failed


def _baseline(fitted: Fitted, others, clock):
    """Shape and scale of each type from the other suppliers' parts; shape 1 where only exposure is to count."""
    kind, exit, failed = fitted.kind[others], fitted.exit[others], fitted.failed[others]
    count, exposure = np.bincount(kind, failed, TYPES), np.bincount(kind, exit, TYPES)
    scale = exposure / np.maximum(count, 1)
    if clock == "exposure":
        return np.ones(TYPES), scale
    fits = fit_weibull(np.zeros(kind.size), exit, failed, None, kind, groups=TYPES, limits=False)
    there = fits.status == "fitted"
    return np.where(there, fits.shape, 1.0), np.where(there, fits.scale, scale)


def measure_alarms(rng, firms, parts):
    """Rows: false alarms a year by clock, and failures of a bad batch until it is found."""
    cell = f"{TYPES * parts} parts fitted in {YEARS} years"
    false = {"expected": [], "exposure": []}
    failures = []
    for _ in range(firms):
        fitted = draw_parts(rng, parts)
        failures.append(fitted.failed.sum() / YEARS)
        for clock, found in false.items():
            value, stream, _, threshold, _ = signals(fitted, clock=clock)
            found.append(np.unique(stream[value >= threshold]).size / YEARS)
    goal = Goal(0.0, 1.0, "< 1 a year")
    note = f"{np.mean(failures):.0f} failures a year"
    rows = [
        averaged(TABLE, cell, "false alarms a year", false["expected"], goal, note, percent=False),
        averaged(TABLE, cell, "the same on exposure", false["exposure"], None, "what we do not do", percent=False),
    ]
    return rows + _batch_rows(rng, cell, firms, parts)


def _batch_rows(rng, cell, firms, parts):
    """A batch of the largest supplier, fitted within one quarter of the seventh year, of a type in turn."""
    needed, missed = [], 0
    for number in range(firms):
        batch = (number % TYPES, 0, 6.5 * 365.25, 6.75 * 365.25)
        fitted = draw_parts(rng, parts, batch=batch)
        value, stream, day, threshold, failed = signals(fitted)
        own = stream == batch[0] * SUPPLIERS
        bad = own & (fitted.day[failed] >= batch[2]) & (fitted.day[failed] < batch[3])
        alarm = own & (value >= threshold) & (day >= batch[2])
        if alarm.any():
            needed.append(int((bad & (day <= day[alarm].min())).sum()))
        else:
            missed += 1
    note = f"found in {len(needed)} of {firms}; most {max(needed, default=0)}"
    return [averaged(TABLE, cell, "failures of a batch at 5 × until it is found, its supplier's stream", needed, None, note, percent=False)]
