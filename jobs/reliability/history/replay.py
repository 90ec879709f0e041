"""Replays the events of all positions at once: round k is the k-th event of every component of every appliance.

The rounds are as many as the largest number of events in one component of one appliance.
"""

import numpy as np

from jobs.reliability.history.events import COVER, PLACE, REPAIR, TELL, TELL_LATER
from jobs.reliability.history.positions import KNOWN
from jobs.reliability.history.ragged import runs
from jobs.reliability.history.records import NO_DAY, WHYS
from jobs.reliability.history.spells import CLOSED_BY, OPENED_BY

COVERED, FAILED = CLOSED_BY.index("covered"), CLOSED_BY.index("failed")
RENEWAL, REPAIRED = OPENED_BY.index("renewal"), OPENED_BY.index("repair")
CLOSED_BY_WHY = np.array([CLOSED_BY.index(word) for word in WHYS])


class Replay:
    """The state of every position, and the spells that have closed so far."""

    def __init__(self, records, positions, watch, work, named, state):
        self.records, self.positions, self.work, self.named, self.state = records, positions, work, named, state
        self.start = watch.start[positions.appliance]
        self.end = watch.end[positions.appliance]
        self.installed = watch.installed[positions.appliance]
        self.order = np.zeros(len(named.slot_failed), dtype=np.int64)
        self.failed = np.zeros(len(named.slot_failed), dtype=bool)
        self.rank = named.slot_rank.copy()
        self.blank = np.flatnonzero(named.pieces.blank >= 0)
        self.blank_first = np.searchsorted(named.pieces.naming[self.blank], np.arange(len(named.unit)))
        self.blank_count = np.bincount(named.pieces.naming[self.blank], minlength=len(named.unit))
        self.closed = []

    def play(self, events):
        """All rounds."""
        moves = {
            TELL: self.tell,
            TELL_LATER: self.tell_later,
            PLACE: self.place,
            COVER: self.cover,
            REPAIR: self.repair,
        }
        first, left, turn = events.first, events.count, 0
        while len(first):
            now = first + turn
            for kind, move in moves.items():
                mine = now[events.kind[now] == kind]
                if len(mine):
                    move(events.of[mine])
            turn += 1
            first, left = first[left > turn], left[left > turn]

    def tell(self, naming):
        """Choose the positions of each naming (rule 7) and tell of the failures that this visit found (rule 4)."""
        owner, slot, position = self._slots(naming)
        self._rank(owner, slot, position)
        self.failed[slot] = self.named.slot_failed[slot]
        self._fail_blank_pieces(naming)
        some = np.bincount(owner, weights=self.failed[slot], minlength=len(naming)) > 0
        alone = naming[self.named.found_blank[naming] & ~some]
        self.failed[self._slot_of(alone, self.order[self.named.slot[alone]])] = True
        self.rank[slot] = np.minimum(self.rank[slot], self.named.all_rank[naming[owner]])
        self._fail_now(naming, self.named.visit[naming])

    def tell_later(self, later):
        """Tell of the failures that a later visit of a job found; none on a breakdown, dated by its report."""
        self._fail_now(self.named.later[later], self.named.later_visit[later])

    def _fail_now(self, naming, visit):
        owner, slot, position = self._slots(naming)
        breakdown = self.named.breakdown[naming]
        now = self.failed[slot] & (breakdown[owner] | (self.rank[slot] == self.work.rank[visit][owner]))
        day = self.records.visits.day[visit]
        day = np.where(breakdown, np.minimum(self.named.reported[naming], day), day)
        self._fail(naming[owner[now]], slot[now], position[now], day[owner[now]])

    def place(self, piece):
        """A piece renews its own position, or the one chosen for it."""
        pieces = self.named.pieces
        chosen = self._chosen(pieces.naming[piece], pieces.blank[piece])
        position = np.where(pieces.position[piece] >= 0, pieces.position[piece], chosen)
        row = pieces.row[piece]
        self._renew(position, row, CLOSED_BY_WHY[self.records.fitted.why[row]])

    def cover(self, covering):
        """A covering part renews all positions of the component. `covering`: index into work.covered_row."""
        row = self.work.covered_row[covering]
        unit = self.positions.find_unit(self.records.fitted.appliance[row], self.work.covered_component[covering])
        owner, position = runs(self.positions.first[unit], self.positions.count[unit])
        self._renew(position, row[owner], np.full(len(position), COVERED))

    def repair(self, naming):
        """What failed and was not renewed since goes on with the same clock from the job's last visit (rule 6)."""
        state = self.state
        run, slot, position = self._slots(naming)
        waits = self.failed[slot] & state.broken[position] & (state.broken_by[position] == naming[run])
        position, day = position[waits], self.work.last_day[self.named.job[naming[run[waits]]]]
        ready = day <= self.end[position]
        position, day = position[ready], day[ready]
        watched = day >= self.start[position]
        state.opened[position] = np.maximum(day, self.start[position])
        state.opened_by[position] = np.where(watched, REPAIRED, state.opened_by[position])
        state.broken[position] = False

    def finish(self, ending):
        """Close what still runs at the end of watching; `ending` per position, an index into CLOSED_BY."""
        runs_on = np.flatnonzero(~self.state.broken & (self.state.opened < self.end))
        self._close(runs_on, self.end[runs_on], ending[runs_on], failed=False)

    def _slots(self, naming):
        unit = self.named.unit[naming]
        owner, slot = runs(self.named.slot[naming], self.positions.count[unit])
        return owner, slot, slot - self.named.slot[naming[owner]] + self.positions.first[unit[owner]]

    def _slot_of(self, naming, position):
        return self.named.slot[naming] + position - self.positions.first[self.named.unit[naming]]

    def _rank(self, owner, slot, position):
        """Order in which pieces and findings without a position take those of their component.

        What the job's findings name comes first, what its fitted rows name comes last; else the one watched longest
        since its opening, then the lowest.
        """
        keys = (position, self.state.opened[position], ~self.named.slot_found[slot], self.named.slot_fitted[slot])
        self.order[slot] = position[np.lexsort((*keys, owner))]

    def _chosen(self, naming, blank):
        unit = self.named.unit[naming]
        return self.order[self.named.slot[naming] + np.maximum(blank, 0) % self.positions.count[unit]]

    def _fail_blank_pieces(self, naming):
        owner, at = runs(self.blank_first[naming], self.blank_count[naming])
        piece = self.blank[at]
        theirs = naming[owner]
        slot = self._slot_of(theirs, self._chosen(theirs, self.named.pieces.blank[piece]))
        self.failed[slot[self.named.pieces.failed[piece]]] = True
        np.minimum.at(self.rank, slot, self.named.pieces.rank[piece])

    def _fail(self, naming, slot, position, day):
        state = self.state
        before = self.named.before[naming]
        same = self.named.slot[before] + slot - self.named.slot[naming]
        returned = (before >= 0) & self.failed[np.where(before >= 0, same, 0)]
        fresh = ~state.broken[position] & ~returned & (self.named.reported[naming] >= state.renewed[position])
        fresh &= day <= self.end[position]
        opening = fresh & (day <= self.start[position]) & (state.opened[position] == self.start[position])
        counted = fresh & (day > self.start[position]) & (day >= state.opened[position])
        self._close(position[counted], day[counted], np.full(counted.sum(), FAILED), failed=True)
        broken = opening | counted
        state.broken[position[broken]] = True
        state.broken_by[position[broken]] = naming[broken]

    def _renew(self, position, row, closed_by):
        state, fitted = self.state, self.records.fitted
        day = self.records.visits.day[fitted.visit[row]]
        watched = day >= self.start[position]
        ends = watched & ~state.broken[position] & (day > state.opened[position])
        self._close(position[ends], day[ends], closed_by[ends], failed=False)
        installed = self.installed[position]
        earlier = (installed == NO_DAY) | (day >= installed)
        counts = watched | (earlier & (day >= state.renewed[position]))
        position, day, watched, row = position[counts], day[counts], watched[counts], row[counts]
        state.opened[position] = np.maximum(day, self.start[position])
        state.opened_by[position] = np.where(watched, RENEWAL, state.opened_by[position])
        state.origin[position] = state.renewed[position] = state.fitted[position] = day
        state.supplier[position] = fitted.supplier[row]
        state.clock[position] = KNOWN
        state.broken[position] = False

    def _close(self, position, day, closed_by, *, failed):
        state = self.state
        seen = (position, state.opened[position], day, state.origin[position], state.clock[position],
                state.opened_by[position], closed_by, np.full(len(position), failed), state.supplier[position],
                state.fitted[position])  # fmt: skip
        self.closed.append(seen)
