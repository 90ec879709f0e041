"""Which rows of work bear on the spells: known on the day of analysis, and dated while the appliance is watched."""

from dataclasses import dataclass

import numpy as np

from jobs.reliability.history.ragged import look_up, runs
from jobs.reliability.history.records import BREAKDOWN, NO_DAY, NONE, WHY_FAILED
from jobs.reliability.history.watching import known_visits


@dataclass(frozen=True)
class Named:
    """Rows that name a component: findings, then fitted ones. Index into the records' own rows in `row`.

    visit, job, appliance, component, position (0: none named): per row. renews: fitted while watched.
    """

    row: np.ndarray
    visit: np.ndarray
    job: np.ndarray
    appliance: np.ndarray
    component: np.ndarray
    position: np.ndarray


@dataclass(frozen=True)
class Work:
    """found, fitted: Named rows. renews: per fitted row, whether its visit lies within the watch.

    covered_*: one entry per (fitted row, other component that its part covers); `covered_row` indexes the
    records' fitted rows. rank: order of all visits. last_rank, last_day: of each job's last known visit.
    """

    found: Named
    fitted: Named
    renews: np.ndarray
    covered_row: np.ndarray
    covered_component: np.ndarray
    rank: np.ndarray
    last_rank: np.ndarray
    last_day: np.ndarray


def sift(records, watch, *, as_of, watched, wanted):
    """The rows that matter. A failure counts by its own date, a renewal by that of its visit (rules 1, 4, 5, 8)."""
    visits, found, fitted = records.visits, records.findings, records.fitted
    known = known_visits(records, as_of=as_of)
    out_again = (fitted.taken_out != NO_DAY) & (fitted.taken_out <= as_of)

    bears = (found.component != NONE) & ~found.no_part & wanted[found.component] & watched[found.appliance]
    in_time, reported_in_time = _in_time(records, watch, found)
    kept = np.flatnonzero(bears & known[found.visit] & (in_time | reported_in_time))

    stands = known[fitted.visit] & ~out_again & watched[fitted.appliance]
    in_time, reported_in_time = _in_time(records, watch, fitted)
    tells = in_time | (reported_in_time & (fitted.why == WHY_FAILED))
    put_in = np.flatnonzero(stands & tells & wanted[fitted.component])
    covered_row, covered_component = _covered(records, np.flatnonzero(stands & in_time), wanted)

    rank = np.empty(len(visits.day), dtype=np.int64)
    rank[np.argsort(visits.day, kind="stable")] = np.arange(len(visits.day))
    last_rank, last_day = np.full(len(records.jobs.kind), -1), np.full(len(records.jobs.kind), NO_DAY)
    np.maximum.at(last_rank, visits.job[known], rank[known])
    np.maximum.at(last_day, visits.job[known], visits.day[known])
    return Work(
        found=_named(records, found, kept),
        fitted=_named(records, fitted, put_in),
        renews=in_time[put_in],
        covered_row=covered_row,
        covered_component=covered_component,
        rank=rank,
        last_rank=last_rank,
        last_day=last_day,
    )


def _in_time(records, watch, rows):
    """Per row: whether its visit lies within the watch, and whether it tells of a breakdown reported within it."""
    job, end = records.visits.job[rows.visit], watch.end[rows.appliance]
    breakdown = records.jobs.kind[job] == BREAKDOWN
    return records.visits.day[rows.visit] <= end, breakdown & (records.jobs.reported[job] <= end)


def _named(records, rows, kept):
    visit = rows.visit[kept]
    return Named(
        row=kept,
        visit=visit,
        job=records.visits.job[visit],
        appliance=rows.appliance[kept],
        component=rows.component[kept],
        position=rows.position[kept],
    )


def _covered(records, rows, wanted):
    """Pairs of a fitted row and each other component that its part covers."""
    catalogue, fitted = records.catalogue, records.fitted
    order = np.argsort(catalogue.covers_part, kind="stable")
    parts, first, count = np.unique(catalogue.covers_part[order], return_index=True, return_counts=True)
    at = look_up(parts, fitted.part[rows])
    rows, at = rows[at >= 0], at[at >= 0]
    run, pair = runs(first[at], count[at])
    row, component = rows[run], catalogue.covers_component[order[pair]]
    other = (component != fitted.component[row]) & wanted[component]
    return row[other], component[other]
