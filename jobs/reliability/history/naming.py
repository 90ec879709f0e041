"""What each job says about each component of each appliance: a *naming*, with its pieces and positions."""

from dataclasses import dataclass

import numpy as np

from jobs.reliability.history.ragged import distinct, look_up, runs, within_runs
from jobs.reliability.history.records import BREAKDOWN, WHY_FAILED


@dataclass(frozen=True)
class Pieces:
    """Pieces fitted of a named component, by naming, in order of visit and row.

    position: the one that is named, else −1. blank: its place among the naming's pieces without a position, else −1.
    row: of the records' fitted rows. rank: of its visit. renews: fitted while watched (else it only tells of a
    failure).
    """

    naming: np.ndarray
    row: np.ndarray
    rank: np.ndarray
    position: np.ndarray
    blank: np.ndarray
    failed: np.ndarray
    renews: np.ndarray


@dataclass(frozen=True)
class Namings:
    """One entry per (job, appliance, component) that findings or fitted rows name.

    visit: the job's first visit that names or renews the component: there its positions are chosen, and a breakdown's
    failures told. later, later_visit: (naming, visit) pairs that name or renew it after that on jobs of other kinds.
    slot: first of the naming's slots, one per position of its unit: `slot_found` and `slot_fitted` say whether a
    finding, a fitted row names that position, `slot_failed` whether one of them tells that it failed, `slot_rank` the
    rank of the first visit that does or that fitted it.
    found, found_blank: whether findings tell of a failure; whether one of those names no position.
    all_rank: of the first visit that speaks of all positions (a covering part, a finding without a position).
    before: the naming of the same component on the job to which this one returns, else −1.
    """

    unit: np.ndarray
    job: np.ndarray
    visit: np.ndarray
    later: np.ndarray
    later_visit: np.ndarray
    breakdown: np.ndarray
    reported: np.ndarray
    found: np.ndarray
    found_blank: np.ndarray
    all_rank: np.ndarray
    before: np.ndarray
    slot: np.ndarray
    slot_found: np.ndarray
    slot_fitted: np.ndarray
    slot_failed: np.ndarray
    slot_rank: np.ndarray
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
    blank, breakdown = tells & (work.found.position == 0), jobs.kind[job] == BREAKDOWN
    covered, covering = _coverings(records, positions, work, keys)
    touched, touching = np.r_[by_finding, by_fitting, covered], np.r_[work.found.visit, work.fitted.visit, covering]
    all_named = np.r_[blank, np.zeros(len(by_fitting), dtype=bool), np.ones(len(covered), dtype=bool)]
    visit = np.argsort(work.rank, kind="stable")[_earliest(work, len(keys), touched, touching)]
    after = ~breakdown[touched] & (work.rank[touching] > work.rank[visit[touched]])
    later = distinct(touched[after] * len(work.rank) + touching[after])
    return Namings(
        unit=unit,
        job=job,
        visit=visit,
        later=later // max(len(work.rank), 1),
        later_visit=later % max(len(work.rank), 1),
        breakdown=breakdown,
        reported=jobs.reported[job],
        found=_marked(len(keys), by_finding[tells]),
        found_blank=_marked(len(keys), by_finding[blank]),
        all_rank=_earliest(work, len(keys), touched[all_named], touching[all_named]),
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
    telling = np.r_[found[explicit & tells], fitted[placed]]
    rank = np.full(total, len(work.rank))
    np.minimum.at(rank, telling, np.r_[work.rank[work.found.visit[explicit & tells]], pieces.rank[placed]])
    return {
        "slot": slot,
        "slot_found": _marked(total, found[explicit]),
        "slot_fitted": _marked(total, fitted[placed]),
        "slot_failed": _marked(total, np.r_[found[explicit & tells], fitted[placed & pieces.failed]]),
        "slot_rank": rank,
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
        rank=work.rank[named.visit[at]],
        position=position,
        blank=blank,
        failed=fitted.why[row] == WHY_FAILED,
        renews=work.renews[at],
    )


def _coverings(records, positions, work, keys):
    """The namings of components that a part of the same job covered, and the visit that fitted it."""
    row = work.covered_row
    unit = positions.find_unit(records.fitted.appliance[row], work.covered_component)
    job = records.visits.job[records.fitted.visit[row]]
    naming = np.where(unit >= 0, look_up(keys, job * max(len(positions.count), 1) + unit), -1)
    return naming[naming >= 0], records.fitted.visit[row][naming >= 0]


def _earliest(work, many, naming, visit):
    """Rank of each naming's earliest visit among these pairs; the number of visits where it has none."""
    rank = np.full(many, len(work.rank))
    np.minimum.at(rank, naming, work.rank[visit])
    return rank
