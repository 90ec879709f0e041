"""How often do alarms cry wolf over an ageing firm, and how many failures does a bad batch need to be found?"""

from dataclasses import dataclass

import numpy as np

from jobs.reliability.alarms import clock_at, cumulative_sum, expected_by_month, threshold_for
from jobs.reliability.life import fit_weibull
from jobs.simulation.rows import Goal, averaged

TABLE = "Alarms over 30 component types and 10 suppliers"
TYPES, SUPPLIERS, YEARS, DAYS = 30, 10, 10, 365.25
SHAPES = np.resize([0.8, 1.0, 1.0, 1.6, 2.2, 2.8, 3.5], TYPES)
SCALES = np.resize([9.0, 12.0, 16.0, 20.0], TYPES)  # years
BATCH, BATCH_PARTS = 5.0, 60  # times its rate


@dataclass(frozen=True)
class Fitted:
    """Parts fitted in one firm (m,): type, supplier, day fitted, age at the end of its watch, failed, of the batch."""

    kind: np.ndarray
    supplier: np.ndarray
    day: np.ndarray
    exit: np.ndarray
    failed: np.ndarray
    bad: np.ndarray

    @property
    def stream(self):
        return self.kind * SUPPLIERS + self.supplier


def draw_parts(rng, parts, *, batch=None) -> Fitted:
    """An ageing fleet: `parts` positions of each type, fitted in the first three of ten years, renewed as they fail.

    Lives differ by type only, so every alarm is false; except batch: (type, supplier, from day, to day), in which
    BATCH_PARTS more are fitted that fail at five times their rate.
    """
    kind, fitted = np.repeat(np.arange(TYPES), parts), 3 * DAYS * rng.random(TYPES * parts)
    times = np.ones(kind.size)
    supplier = _suppliers(rng, kind.size)
    if batch is not None:
        of_type, of_supplier, begin, end = batch
        kind, times = np.append(kind, np.full(BATCH_PARTS, of_type)), np.append(times, np.full(BATCH_PARTS, BATCH))
        fitted = np.append(fitted, rng.uniform(begin, end, BATCH_PARTS))
        supplier = np.append(supplier, np.full(BATCH_PARTS, of_supplier))
    leaves = np.where(rng.random(kind.size) < 0.3, rng.uniform(0, YEARS, kind.size), YEARS) * DAYS
    rows = []
    while kind.size:
        life = DAYS * SCALES[kind] * (rng.exponential(size=kind.size) / times) ** (1 / SHAPES[kind])
        until = np.maximum(np.minimum(fitted + life, leaves), fitted)
        failed = fitted + life <= leaves
        rows.append((kind, supplier, fitted, (until - fitted) / DAYS, failed, times > 1))
        kind, fitted, leaves = kind[failed], until[failed], leaves[failed]
        times, supplier = np.ones(kind.size), _suppliers(rng, kind.size)
    return Fitted(*(np.concatenate(column) for column in zip(*rows, strict=True)))


def _suppliers(rng, count):
    """A supplier for each part, the first with ten times the share of the last."""
    share = 1.0 / np.arange(1, SUPPLIERS + 1)
    return rng.choice(SUPPLIERS, count, p=share / share.sum())


@dataclass(frozen=True)
class Signals:
    """Cumulative sum just after each failure (m,), where its rise began, its stream, day, part, and the threshold."""

    value: np.ndarray
    since: np.ndarray
    stream: np.ndarray
    day: np.ndarray
    part: np.ndarray
    threshold: float

    @property
    def alarms(self):
        """How many rises of the sum reached the threshold: one that falls back to 0 and rises again is another."""
        return np.unique(self.since[self.value >= self.threshold]).size


def signals(fitted: Fitted, *, clock="expected") -> Signals:
    """Alarms of every stream, type by supplier.

    clock: `expected` failures of a life fitted without the supplier's own parts, or `exposure` at the type's mean
    rate, which is what we do not do.
    """
    edges, streams = np.arange(YEARS * 12 + 1) * DAYS / 12, TYPES * SUPPLIERS
    expected = np.zeros((streams, YEARS * 12))
    for supplier in range(SUPPLIERS):
        own = np.flatnonzero(fitted.supplier == supplier)
        shape, scale = _baseline(fitted, fitted.supplier != supplier, clock)
        of, new = fitted.kind[own], np.zeros(own.size)
        life = shape[of], scale[of]
        expected += expected_by_month(
            fitted.day[own], new, fitted.exit[own], *life, edges, fitted.stream[own], streams=streams
        )
    part = np.flatnonzero(fitted.failed)
    day = fitted.day[part] + fitted.exit[part] * DAYS
    order = np.lexsort((day, fitted.stream[part]))
    part, day = part[order], day[order]
    stream = fitted.stream[part]
    sums = cumulative_sum(clock_at(day, stream, edges, expected), stream)
    return Signals(sums.value, sums.since, stream, day, part, threshold_for(expected.sum() / YEARS))


def _baseline(fitted: Fitted, others, clock):
    """Shape and scale of each type from the other suppliers' parts; shape 1 where only exposure is to count."""
    kind, exit, failed = fitted.kind[others], fitted.exit[others], fitted.failed[others]
    count, exposure = np.bincount(kind, failed, TYPES), np.bincount(kind, exit, TYPES)
    even = exposure / np.maximum(count, 1)
    if clock == "exposure":
        return np.ones(TYPES), even
    fits = fit_weibull(np.zeros(kind.size), exit, failed, None, kind, groups=TYPES, limits=False)
    there = fits.status == "fitted"
    return np.where(there, fits.shape, 1.0), np.where(there, fits.scale, even)


def measure_alarms(rng, firms, parts):
    """Rows: false alarms a year by clock, and failures of a bad batch until it is found."""
    cell = f"{TYPES * parts} positions"
    false, failures = {"expected": [], "exposure": []}, []
    for _ in range(firms):
        fitted = draw_parts(rng, parts)
        failures.append(fitted.failed.sum() / YEARS)
        for clock, found in false.items():
            found.append(signals(fitted, clock=clock).alarms / YEARS)
    note = f"{np.mean(failures):.0f} failures a year"
    below = Goal(0.0, 1.0, "< 1 a year")
    rows = [
        averaged(TABLE, cell, "false alarms a year, all streams", false["expected"], below, note, percent=False),
        averaged(TABLE, cell, "the same by exposure", false["exposure"], None, "what we do not do", percent=False),
    ]
    return rows + _batch_rows(rng, cell, firms, parts)


def _batch_rows(rng, cell, firms, parts):
    """Sixty parts at five times their rate, fitted within a quarter, 3.5 years before the end; types in turn."""
    needed, too_few = [], []
    for number in range(firms):
        batch = (number % TYPES, number % SUPPLIERS, 6.5 * DAYS, 6.75 * DAYS)
        fitted = draw_parts(rng, parts, batch=batch)
        found = signals(fitted)
        own = (found.stream == batch[0] * SUPPLIERS + batch[1]) & (found.day >= batch[2])
        bad, alarm = own & fitted.bad[found.part], own & (found.value >= found.threshold)
        if alarm.any():
            needed.append(int((bad & (found.day <= found.day[alarm].min())).sum()))
        else:
            too_few.append(int(bad.sum()))
    what = "failures of a batch at 5 × its rate until it is found"
    note = f"found in {len(needed)} of {firms}, with at most {max(needed, default=0)}"
    if too_few:
        note += f"; in the others it had {np.mean(too_few):.1f} failures, at most {max(too_few)}"
    return [averaged(TABLE, cell, what, needed, None, note, percent=False)]
