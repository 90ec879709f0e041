"""Invented fleets as the alarms take them: what is fitted where and when, from whom, and what becomes of it."""

from dataclasses import dataclass, fields

import numpy as np

from jobs.reliability.life import fit_weibull
from jobs.reliability.seasons import month_factors
from jobs.reliability.stretches import Lives, Pieces, Stretches
from jobs.reliability.taken_over import fit_taken_over
from jobs.reliability.unseen_ages import spread_spells, unseen_ages
from jobs.simulation.firms import Book, Law, Town, draw_book
from jobs.simulation.watched import WatchedSpells, watch

Array = np.ndarray
TYPES, SUPPLIERS, MODELS, MAKERS, DAYS = 30, 10, 8, 3, 365.25
SHAPES = np.resize([0.8, 1.0, 1.0, 1.6, 2.2, 2.8, 3.5], TYPES)
SCALES = np.resize([9.0, 12.0, 16.0, 20.0], TYPES)  # years
WINTER = np.array([1.5, 1.4, 1.1, 0.85, 0.7, 0.65, 0.6, 0.6, 0.8, 1.1, 1.3, 1.4])
AS_OF = 20_000  # a day


@dataclass(frozen=True)
class Fleet:
    """parts: positions of each component type; town: how they came into care; seasons: whether more fails in winter;
    differ: spread of the logarithms of the models' rates.
    """

    name: str
    parts: int
    town: Town
    seasons: bool = True
    differ: float = 0.0


KNOWN = {"remembered": 1.0, "brought": 0.0}
FLEETS = (
    Fleet("ageing", 300, Town(begun=(0.0, 0.3), from_new=1.0, **KNOWN)),
    Fleet("even", 300, Town(begun=(0.0, 0.02), oldest=30.0, from_new=0.0, **KNOWN)),
    Fleet("growing", 300, Town(**KNOWN)),
    Fleet("taken over in mid-life", 300, Town(serviced=1.0, from_new=0.1)),
    Fleet("small, taken over", 100, Town(serviced=1.0)),
    Fleet("large, taken over", 1000, Town(serviced=1.0)),
    Fleet("models that differ", 300, Town(**KNOWN), differ=0.3),
)


@dataclass(frozen=True)
class Drawn:
    """What happened up to AS_OF to every position: book and spells; calendar days of the spells; their sources."""

    book: Book
    spells: WatchedSpells
    pieces: Pieces


def draw_fleet(rng, fleet: Fleet) -> Drawn:
    """Lives differ by component type only (and by model where `differ` says so): every alarm is false."""
    kind = np.repeat(np.arange(TYPES), fleet.parts)
    group = kind * MODELS + _uneven(rng, MODELS, kind.size)
    of_type = np.arange(TYPES * MODELS) // MODELS
    times = np.exp(rng.normal(0, fleet.differ, of_type.size)) ** (-1 / SHAPES[of_type])
    law = Law(SHAPES[of_type], SCALES[of_type] * times, np.full(of_type.size, 0.02), np.full(of_type.size, 0.1))
    book = draw_book(rng, fleet.town, law, group)
    return Drawn(book, spells := watch(book), _pieces(rng, book, spells, fleet.seasons))


def _pieces(rng, book: Book, spells: WatchedSpells, seasons) -> Pieces:
    origin = spells.opened - spells.entry
    ours = spells.known & (origin > book.start[spells.unit] + 1e-9)
    supplier = np.full(origin.size, -1)
    _, fitting = np.unique(np.stack([spells.unit[ours], np.round(origin[ours], 6)]), axis=1, return_inverse=True)
    fitting = fitting.ravel()
    supplier[ours] = _uneven(rng, SUPPLIERS, fitting.max(initial=0) + 1)[fitting]
    kind, model = np.divmod(spells.group, MODELS)
    ages = spells.opened, spells.opened + spells.exit - spells.entry, origin
    day = [AS_OF - (book.end[spells.unit] - age) * DAYS for age in ages]
    opened, closed, fitted = (np.floor(_calendar(one) if seasons else one).astype(int) for one in day)
    renewed = spells.failed | spells.planned
    return Pieces(
        kind, np.where(ours, kind * MAKERS + model % MAKERS, -1), supplier, model, opened, closed, fitted,
        spells.failed, ~renewed & (closed >= AS_OF - 1),
    )  # fmt: skip


def _calendar(clock):
    """Days on the calendar from days of which winter's count for more."""
    months = np.arange(-70 * 12, 13)
    days = np.asarray(AS_OF + months * DAYS / 12)
    factor = WINTER[(months[:-1] + np.datetime64(AS_OF, "D").astype("datetime64[M]").astype(int)) % 12] / WINTER.mean()
    passed = np.append(0.0, np.cumsum(factor * DAYS / 12))
    return np.interp(clock, AS_OF + passed - passed[months == 0], days)


def _uneven(rng, many, count):
    """A number below `many` for each of `count`, 0 ten times as often as the tenth."""
    share = 1.0 / np.arange(1, many + 1)
    return rng.choice(many, count, p=share / share.sum())


def seen_on(drawn: Drawn, day: int) -> tuple[Pieces, Stretches, Lives]:
    """What the pages would know on a day: lives and seasons fitted to the same records, unseen ages spread."""
    pieces, spells = drawn.pieces, drawn.spells
    there = np.flatnonzero(pieces.opened < day)
    pieces = Pieces(*(getattr(pieces, field.name)[there] for field in fields(Pieces)))
    late = pieces.closed > day
    closed = np.where(late, day, pieces.closed)
    pieces = Pieces(
        pieces.kind, pieces.part, pieces.supplier, pieces.model, pieces.opened, closed, pieces.fitted,
        pieces.failed & ~late, pieces.in_place | late,
    )  # fmt: skip
    entry = np.where(spells.known[there], (pieces.opened - pieces.fitted) / DAYS, spells.entry[there])
    columns = entry, entry + (closed - pieces.opened) / DAYS, pieces.failed, spells.weight[there], pieces.kind
    lost = (spells.planned[there] & ~late).sum() / np.sum(spells.weight[there] * (columns[1] - columns[0]))
    rows, shape, scale = _aged(spells, there, columns, lost)
    return pieces, rows, Lives(shape, scale, _season(pieces, columns))


def _aged(spells, there, columns, lost):
    """Stretches at every age that they may have, and the fitted life of each kind."""
    known = np.flatnonzero(spells.known[there])
    unseen = np.flatnonzero(~spells.known[there])
    at = lambda rows: tuple(column[rows] for column in columns)  # noqa: E731
    if unseen.size:
        taken = WatchedSpells(
            spells.unit[there][unseen], *(at(unseen)[i] for i in (4, 0, 1, 2, 3)), *[np.zeros(unseen.size, bool)] * 3
        )
        over = taken.taken_over()
        fits = fit_taken_over(*at(known), over, groups=TYPES, lost_rate=lost, limits=False)
    else:
        fits = fit_weibull(*columns, groups=TYPES, limits=False)
    shape, scale = _settled(fits, columns)
    if not unseen.size:
        return Stretches(np.arange(there.size), *columns[:4]), shape, scale
    found = unseen_ages(over, shape, scale, lost_rate=np.full(TYPES, lost), groups=TYPES)
    rows = [np.concatenate(pair) for pair in zip(at(known), spread_spells(over, found), strict=True)]
    return Stretches(np.r_[known, np.repeat(unseen, found.likely.shape[1])], *rows[:4]), shape, scale


def _settled(fits, columns):
    """Shape and scale of every kind; without a fit a constant rate."""
    entry, exit, failed, weight, kind = columns
    exposure, failures = np.bincount(kind, weight * (exit - entry), TYPES), np.bincount(kind, failed, TYPES)
    there = fits.status == "fitted"
    even = np.maximum(exposure, 1.0) / np.maximum(failures, 0.5)
    return np.where(there, fits.shape, 1.0), np.where(there, fits.scale, even)


def _season(pieces: Pieces, columns):
    """Month factors as the firm would reckon them, watched alike in every month."""
    month = pieces.closed.astype("datetime64[D]").astype("datetime64[M]").astype(int) % 12
    counts = np.zeros((TYPES, 12))
    np.add.at(counts, (pieces.kind[pieces.failed], month[pieces.failed]), 1.0)
    exposure = np.bincount(pieces.kind, columns[3] * (columns[1] - columns[0]), TYPES)
    return month_factors(counts, np.repeat(exposure[:, None] / 12, 12, axis=1)).factor


def with_batches(rng, drawn: Drawn, kinds, suppliers, size, times, begin, end) -> Drawn:
    """The same with `size` more parts of each kind from each supplier, fitted between the days `begin` and `end`, that
    fail at `times` the rate of their kind. They get units of their own, numbered on from the others.
    """
    kind, supplier = np.repeat(kinds, size), np.repeat(suppliers, size)
    life = DAYS * SCALES[kind] * (rng.exponential(size=kind.size) / times) ** (1 / SHAPES[kind])
    fitted = rng.integers(begin, end, kind.size)
    closed = np.minimum(fitted + np.ceil(life).astype(int), AS_OF)
    failed, none = fitted + life <= AS_OF, np.zeros(kind.size, bool)
    pieces = (kind, kind * MAKERS, supplier, np.zeros_like(kind), fitted, closed, fitted, failed, ~failed)
    unit = drawn.book.start.size + np.arange(kind.size)
    nothing = np.zeros(kind.size)
    spells = (
        unit, kind * MODELS, nothing, (closed - fitted) / DAYS, failed, nothing + 1, ~none, none, nothing,
    )  # fmt: skip
    return Drawn(
        drawn.book,
        WatchedSpells(*(np.concatenate(pair) for pair in zip(vars(drawn.spells).values(), spells, strict=True))),
        Pieces(*(np.concatenate(pair) for pair in zip(vars(drawn.pieces).values(), pieces, strict=True))),
    )
