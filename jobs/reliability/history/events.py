"""The events of every component of every appliance, in the order in which they are replayed."""

from dataclasses import dataclass

import numpy as np

from jobs.reliability.history.ragged import runs_of_equal

TELL, TELL_LATER, PLACE, COVER, REPAIR = range(5)
BEFORE_ROWS, ROWS, AFTER_ROWS = range(3)
PHASES = 3


@dataclass(frozen=True)
class Events:
    """Sorted by unit, visit, phase and row. of: the naming (TELL, REPAIR), its later visit (TELL_LATER), the piece
    (PLACE), the pair of part and covered component (COVER).

    first, count: per unit that has events, its run of events.
    """

    kind: np.ndarray
    of: np.ndarray
    first: np.ndarray
    count: np.ndarray


def events(records, positions, watch, work, named):
    """Failures are told before the rows of their visit; repairs in place follow the rows of the job's last visit.

    (Where a job touched the component before watching began, its part may have been ignored as older than the
    appliance or than what `earlier` says: then too the position goes on from the last visit.)
    """
    pieces, fitted, rank = named.pieces, records.fitted, work.rank
    placed = np.flatnonzero(pieces.renews)
    unit = positions.find_unit(fitted.appliance[work.covered_row], work.covered_component)
    covered = np.flatnonzero(unit >= 0)
    row = work.covered_row[covered]
    told = np.arange(len(named.unit))
    start = watch.start[positions.appliance[positions.first[named.unit]]]
    repaired = np.flatnonzero(named.found | (records.visits.day[named.visit] < start))
    parts = [
        (TELL, told, named.unit, rank[named.visit], BEFORE_ROWS, told),
        (TELL_LATER, np.arange(len(named.later)), named.unit[named.later], rank[named.later_visit], BEFORE_ROWS,
         named.later),
        (PLACE, placed, named.unit[pieces.naming[placed]], rank[fitted.visit[pieces.row[placed]]], ROWS,
         pieces.row[placed]),
        (COVER, covered, unit[covered], rank[fitted.visit[row]], ROWS, row),
        (REPAIR, repaired, named.unit[repaired], work.last_rank[named.job[repaired]], AFTER_ROWS, repaired),
    ]  # fmt: skip
    lengths = [len(part[1]) for part in parts]
    kind, phase = (np.repeat([part[at] for part in parts], lengths) for at in (0, 4))
    of, unit, when, line = (np.concatenate([part[at] for part in parts]) for at in (1, 2, 3, 5))
    order = np.lexsort((line, (unit * len(rank) + when) * PHASES + phase))
    first, count, _ = runs_of_equal(unit[order])
    return Events(kind=kind[order], of=of[order], first=first, count=count)
