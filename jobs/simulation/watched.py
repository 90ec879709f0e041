"""From an invented book to the arrays that the estimators take, by the rules of life history."""

from dataclasses import dataclass

import numpy as np

from jobs.reliability.silence import Silence, fit_silence, silent_pieces, still_in_care
from jobs.reliability.taken_over import TakenOver, taken_over
from jobs.simulation.firms import PLANNED, REPAIRED, Book

Array = np.ndarray
CARE_WINDOW = 18 / 12


@dataclass(frozen=True)
class WatchedSpells:
    """Spells (m,): position, group, entry and exit in years, failed, weight, and whether the clock is known.

    planned: ended by a renewal without a failure. Where the clock is not known ages are the appliance's. opened: age
    of the appliance at entry.
    """

    unit: Array
    group: Array
    entry: Array
    exit: Array
    failed: Array
    weight: Array
    known: Array
    planned: Array
    opened: Array

    @property
    def columns(self):
        """Arguments of the estimators: entry, exit, failed, weight, group."""
        return self.entry, self.exit, self.failed, self.weight, self.group

    def of(self, rows):
        """The columns of some spells."""
        return tuple(column[rows] for column in self.columns)

    def totals(self, groups):
        """Failures, exposure, and renewals without a failure of each group, (groups,)."""
        return (
            np.bincount(self.group, self.failed * self.weight, groups),
            np.bincount(self.group, self.weight * (self.exit - self.entry), groups),
            np.bincount(self.group, self.planned, groups),
        )

    def taken_over(self) -> TakenOver:
        """Positions of unseen past, as fit_taken_over takes them."""
        rows = ~self.known
        return taken_over(self.unit[rows], *self.of(rows))


def watch(book: Book, *, silence="model", firm=None) -> WatchedSpells:
    """Spells of a book. silence: `window` cuts silent customers at their last contact, `model` weighs the silence.

    firm: number of the firm that each position belongs to (default one): the silence is fitted firm by firm.
    """
    quiet = ~book.told & ~book.serviced & (silence == "model")
    lost = ~book.told & ~quiet & (book.end - book.last > CARE_WINDOW)
    until = np.select([book.told, lost | quiet], [book.left, book.last], book.end)
    spells = _spells(book, until)
    if quiet.any():
        spells = _with_tails(spells, book, quiet, np.zeros(book.start.size, int) if firm is None else firm)
    says = spells.failed | spells.planned | (spells.exit > spells.entry)
    return WatchedSpells(*(column[says] for column in vars(spells).values()))


def silence_rates(book: Book, model) -> Silence:
    """Contact and leaving rates fitted to the positions that `model` chooses."""
    gone = np.where(book.told, book.left, book.last)
    still = np.where(book.told, 0.0, book.end - book.last)
    return fit_silence((book.contacts + book.told)[model], (gone - book.start)[model], still[model], limits=False)


def chance_in_care(book: Book):
    """P(still in care today) of each position as the firm sees it: nobody's for sure who is silent."""
    silent = book.end - book.last
    rates = silence_rates(book, ~book.serviced)
    chance = still_in_care(silent, silent, rates.contact, rates.leaving) if np.isfinite(rates.contact) else 1.0
    return np.where(book.told, 0.0, np.where(book.serviced, silent <= CARE_WINDOW, chance))


def _spells(book: Book, until):
    """Spells of each position from the start of care to `until`, cut at its events."""
    events, count = book.events, book.start.size
    unit = np.concatenate([np.arange(count), events.unit])
    opened = np.concatenate([book.start, events.age])
    kind = np.concatenate([np.full(count, -1), events.kind])
    order = np.lexsort((kind >= 0, opened, unit))
    unit, opened, kind = unit[order], opened[order], kind[order]
    last = np.append(unit[1:] != unit[:-1], True)
    closed = np.where(last, until[unit], np.append(opened[1:], 0.0))
    closing = np.where(last, -1, np.append(kind[1:], -1))
    resets = np.maximum.accumulate(np.where(kind != REPAIRED, np.arange(unit.size), 0))
    from_care = kind[resets] < 0
    origin = np.where(from_care, book.known_from[unit], opened[resets])
    known = np.isfinite(origin)
    origin = np.where(known, origin, 0.0)
    failed = (closing >= 0) & (closing != PLANNED)
    return WatchedSpells(
        unit,
        book.group[unit],
        opened - origin,
        np.maximum(closed, opened) - origin,
        failed,
        np.ones(unit.size),
        known,
        closing == PLANNED,
        opened,
    )


def _with_tails(spells: WatchedSpells, book: Book, quiet, firm):
    """Further spells for the silence since the last contact, each weighted by how likely care still lasts."""
    open_end = np.append(spells.unit[1:] != spells.unit[:-1], True)
    parts = [[column] for column in vars(spells).values()]
    for one in np.unique(firm):
        own = np.flatnonzero(quiet & (firm == one))
        still = np.where(book.told, 0.0, book.end - book.last)
        rates = silence_rates(book, ~book.serviced & (firm == one))
        if not np.isfinite(rates.contact):
            continue
        tail, begin, end, weight = silent_pieces(still[own], rates.contact, rates.leaving)
        at = np.flatnonzero(open_end)[own[tail]]
        none = np.zeros(tail.size, bool)
        from_age = spells.exit[at]
        new = (own[tail], spells.group[at], from_age + begin, from_age + end, none, weight, spells.known[at], none,
               spells.opened[at] + from_age - spells.entry[at] + begin)  # fmt: skip
        for part, column in zip(parts, new, strict=True):
            part.append(column)
    columns = [np.concatenate(part) for part in parts]
    order = np.lexsort((columns[2], columns[6], columns[0]))
    return WatchedSpells(*(column[order] for column in columns))
