"""What each job says about each component of each appliance: a *naming*, with its pieces and positions."""

from dataclasses import dataclass

import numpy as np

from jobs.reliability.history.ragged import distinct, look_up, runs, within_runs
from jobs.reliability.history.records import BREAKDOWN, WHY_FAILED


@dataclass(frozen=True)
class Pieces:
    """Pieces fitted of a named component, by naming, in order of visit and row.

    position: the one that is named, else −1. blank: its place among the naming's pieces without a position, else −1.
    row: of the records' fitted rows. renews: fitted while watched (else it only tells of a failure).
    """

    naming: np.ndarray
    row: np.ndarray
    position: np.ndarray
    blank: np.ndarray
    failed: np.ndarray
    renews: np.ndarray


@dataclass(frozen=True)
class Namings:
    """One entry per (job, appliance, component) that findings or fitted rows name.

    visit: the job's first visit that names or renews the component: there its failure is told, dated `failed_on`.
    slot: first of the naming's slots, one per position of its unit: `slot_found` and `slot_fitted` say whether a
    finding, a fitted row names that position, `slot_failed` whether one of them tells that it failed.
    found, found_blank: whether findings tell of a failure; whether one of those names no position.
    before: the naming of the same component on the job to which this one returns, else −1.
    """

    unit: np.ndarray
    job: np.ndarray
    visit: np.ndarray
    failed_on: np.ndarray
    reported: np.ndarray
    found: np.ndarray
    found_blank: np.ndarray
    before: np.ndarray
    slot: np.ndarray
    slot_found: np.ndarray
    slot_fitted: np.ndarray
    slot_failed: np.ndarray
    pieces: Pieces


def namings(records, positions, work):
    """All namings of the rows in `work` (rules 4, 5 and 7)."""
    jobs, units = records.jobs, max(len(positions.count), 1)
    found_unit = positions.find_unit(work.found.appliance, work.found.component)
    fitted_unit = positions.find_unit(work.fitted.appliance, work.fitted.component)
    found_key, fitted_key = work.found.job * units + found_unit, work.fitted.job * units + fitted_unit
    keys = distinct(np.r_[found_key, fitted_key])
    by_finding, by_fitting = look_up(keys, found_key), look_up(keys, fitted_key)
    job, unit = keys // units, keys % units
    tells = _no_other_why(records, work, len(keys), by_fitting)[by_finding]
    pieces = _pieces(records, positions, work, by_fitting, fitted_unit)
    visit = _first_touch(records, positions, work, keys, by_finding, by_fitting)
    day, reported = records.visits.day[visit], jobs.reported[job]
    return Namings(
        unit=unit,
        job=job,
        visit=visit,
        failed_on=np.where(jobs.kind[job] == BREAKDOWN, np.minimum(reported, day), day),
        reported=reported,
        found=_marked(len(keys), by_finding[tells]),
        found_blank=_marked(len(keys), by_finding[tells & (work.found.position == 0)]),
        before=np.where(jobs.return_of[job] >= 0, look_up(keys, jobs.return_of[job] * units + unit), -1),
        pieces=pieces,
        **_slots(positions, work, unit, by_finding, tells, pieces),
    )


def _no_other_why(records, work, many, by_fitting):
    """Namings whose findings tell of a failure: no part of that component was fitted for another reason."""
    return ~_marked(many, by_fitting[records.fitted.why[work.fitted.row] != WHY_FAILED])


def _slots(positions, work, unit, by_finding, tells, pieces):
    """The slots of all namings, and what findings and pieces with a position say of them."""
    slot = np.cumsum(positions.count[unit]) - positions.count[unit]
    total = int(positions.count[unit].sum())
    explicit, placed = work.found.position > 0, pieces.position >= 0
    at = positions.find(work.found.appliance, work.found.component, work.found.position)
    found = slot[by_finding] + at - positions.first[unit[by_finding]]
    fitted = slot[pieces.naming] + pieces.position - positions.first[unit[pieces.naming]]
    return {
        "slot": slot,
        "slot_found": _marked(total, found[explicit]),
        "slot_fitted": _marked(total, fitted[placed]),
        "slot_failed": _marked(total, np.r_[found[explicit & tells], fitted[placed & pieces.failed]]),
    }


def _marked(many, places):
    marks = np.zeros(many, dtype=bool)
    marks[places] = True
    return marks


def _pieces(records, positions, work, naming, unit):
    """One entry per piece, no more per row than there are positions; the first of a row takes its position."""
    fitted, named = records.fitted, work.fitted
    order = np.lexsort((named.row, work.rank[named.visit], naming))
    length = np.minimum(fitted.pieces[named.row], positions.count[unit])[order]
    line, _ = runs(np.zeros(len(order), dtype=np.int64), length)
    at, first = order[line], within_runs(line) == 0
    position = positions.find(named.appliance[at], named.component[at], named.position[at])
    position = np.where(first & (named.position[at] > 0), position, -1)
    blank = np.full(len(at), -1)
    blank[position < 0] = within_runs(naming[at[position < 0]])
    row = named.row[at]
    return Pieces(
        naming=naming[at],
        row=row,
        position=position,
        blank=blank,
        failed=fitted.why[row] == WHY_FAILED,
        renews=work.renews[at],
    )


def _first_touch(records, positions, work, keys, by_finding, by_fitting):
    """The job's first visit that names or renews the component of each naming."""
    row = work.covered_row
    unit = positions.find_unit(records.fitted.appliance[row], work.covered_component)
    job = records.visits.job[records.fitted.visit[row]]
    by_cover = np.where(unit >= 0, look_up(keys, job * max(len(positions.count), 1) + unit), -1)
    visits = np.r_[work.found.visit, work.fitted.visit, records.fitted.visit[row][by_cover >= 0]]
    earliest = np.full(len(keys), len(work.rank))
    np.minimum.at(earliest, np.r_[by_finding, by_fitting, by_cover[by_cover >= 0]], work.rank[visits])
    return np.argsort(work.rank, kind="stable")[earliest]
