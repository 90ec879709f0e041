"""Which fitted parts fail more than the others of their kind, and which components of a model more than before."""

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from inventory.models import Part
from jobs import history
from jobs.figures import kept
from jobs.records import EPOCH
from jobs.reliability.history.ragged import look_up, runs
from jobs.reliability.history.records import NONE
from jobs.reliability.history.spells import CLOCKS, DAYS_PER_YEAR
from jobs.reliability.standing import SORTS, Raised, find_alarms, members
from jobs.reliability.stretches import ANY, NO_MONTH, UNKNOWN, Lives, Pieces, Stretches
from jobs.services.concerned import FittedPiece, fitted_pieces
from jobs.services.life_grids import AgedSpells, aged_spells
from jobs.van_demand import component_seasons

KNOWN = CLOCKS.index("known")
METHOD = (
    "Poisson cumulative sums (ln 2.5 up at a failure, 1.5 down per expected failure), the clock being the failures "
    "that the rest of its kind would have had at the same ages and months; one threshold for all streams together"
)


@dataclass(frozen=True)
class Alarm:
    """kind: batch (fitted parts in their first three years, of one supplier, part or fitting month) or rising (a
    component of one model, all ages). failures, expected: in the stream; ratio with limits and p: against the rest of
    its kind, for rising the last year against the time before. p_adjusted only orders a page. since: the day of the
    failure with which the rise began; rise_failures, rise_expected: from then on. fitted_from: of the oldest part that
    failed in it, None for rising. pieces: the fitted parts concerned, fitted since. stands_because: in words.
    """

    kind: str
    component: str
    part: str
    supplier: str
    fitting_month: str
    model: str
    failures: int
    expected: float
    ratio: float | None
    ratio_low: float | None
    ratio_high: float | None
    p: float
    p_adjusted: float
    since: date
    raised_on: date
    level_reached: float
    rise_failures: int
    rise_expected: float
    fitted_from: date | None
    stands_because: str
    pieces: tuple[FittedPiece, ...]


@dataclass(frozen=True)
class Alarms:
    """alarms: bad batches first, then most telling first. false_alarms_a_year: to expect of all streams together
    where nothing is wrong. delay_failures: of a batch at five times its rate until it is found.
    """

    as_of: date
    alarms: tuple[Alarm, ...]
    streams: int
    threshold: float
    false_alarms_a_year: float
    delay_failures: int
    method: str


def firm_alarms(as_of: date) -> Alarms:
    """The alarms that stand on `as_of`, kept until something is recorded.

    An alarm stands for a year after the last failure that found its sum above the threshold; that of a batch longer,
    while parts of it are in place and the sum has not come back to nothing.
    """
    return kept("firm-alarms", lambda: _firm_alarms(as_of), as_of, of_work=True)


def _firm_alarms(as_of):
    records = history.read_records()
    aged = aged_spells(as_of, records)
    today = (as_of - EPOCH).days
    watched = _watched(records, aged, today)
    found = find_alarms(*watched, today)
    numbers = list(Part.objects.order_by("pk").values_list("number", flat=True))
    told = [_told(aged, found.shown, i, as_of, numbers) for i in range(found.shown.kind.size)]
    fittings = [_fittings(aged.spells, watched[0], found.shown, i) for i in range(len(told))]
    pieces = fitted_pieces(told, fittings, as_of)
    alarms = tuple(Alarm(**alarm, pieces=own) for alarm, own in zip(told, pieces, strict=True))
    return Alarms(
        as_of, alarms, found.streams, found.threshold, found.false_alarms_a_year, found.delay_failures, METHOD
    )


def _watched(records, aged: AgedSpells, today):
    """The firm's spells as the pure part takes them."""
    spells, grouped = aged.spells, aged.grouped
    parts, fitted = fitted_parts(records, spells)
    entry, exit, failed, weight, _ = aged.rows
    by_us = np.where(parts >= 0, UNKNOWN, ANY)
    pieces = Pieces(
        kind=grouped.group,
        part=parts,
        supplier=np.where(spells.clock != KNOWN, ANY, np.where(spells.supplier >= 0, spells.supplier, by_us)),
        model=spells.model,
        opened=spells.opened_day,
        closed=spells.closed_day,
        fitted=fitted,
        failed=spells.failed,
        in_place=(spells.closed_day >= today) & ~spells.failed,
    )
    place = {str(key): i for i, key in enumerate(spells.names.components)}
    own = np.array([place[name] for name in grouped.names], int)
    lives = Lives(aged.shape, aged.scale, component_seasons(spells)[own])
    return pieces, Stretches(aged.of, entry, exit, failed, weight), lives


def _fittings(spells, pieces: Pieces, shown: Raised, i):
    """{(appliance, day): day of its first failure, or None} of each fitting that an alarm is about."""
    key = {name: int(getattr(shown, name)[i]) for name in ("kind", "supplier", "part", "model", "month")}
    own = members(pieces, key, int(shown.fitted_from[i]))
    numbers = np.asarray(spells.names.appliances, dtype=object)[spells.appliance[own]].tolist()
    found: dict = {}
    columns = numbers, *(column[own].tolist() for column in (pieces.fitted, pieces.closed, pieces.failed))
    for number, fitted, closed, failed in sorted(zip(*columns, strict=True), key=lambda row: row[2]):
        piece = number, EPOCH + timedelta(days=fitted)
        if found.get(piece) is None:
            found[piece] = EPOCH + timedelta(days=closed) if failed else None
    return found


def fitted_parts(records, spells):
    """Index of the part that stands in each spell's position since a renewal, and the day on which its clock began.

    The part is NONE where it is not known. It is the one fitted for that component on that day, the later one of two;
    else the first one of that day that covers it.
    """
    fitted, visits, catalogue = records.fitted, records.visits, records.catalogue
    origin = np.rint(spells.opened_day - spells.entry * DAYS_PER_YEAR).astype(np.int64)
    day = visits.day[fitted.visit]
    begin = int(min(day.min(initial=0), origin.min(initial=0)))
    days = int(max(day.max(initial=0), origin.max(initial=0))) - begin + 1

    def keys(appliance, component, on):
        return (appliance.astype(np.int64) * len(records.names.components) + component) * days + on - begin

    own = keys(fitted.appliance, fitted.component, day)
    exact, last = np.unique(own[::-1], return_index=True)
    order = np.argsort(catalogue.covers_part, kind="stable")
    begins = np.searchsorted(catalogue.covers_part[order], [fitted.part, fitted.part + 1])
    row, at = runs(begins[0], begins[1] - begins[0])
    covered, first = np.unique(
        keys(fitted.appliance[row], catalogue.covers_component[order][at], day[row]), return_index=True
    )
    renewed = spells.clock == KNOWN
    wanted = keys(spells.appliance, spells.component, origin)
    by_name, by_cover = look_up(exact, wanted), look_up(covered, wanted)
    found = np.full(len(spells), NONE)
    if own.size:
        found = np.where(by_name >= 0, fitted.part[::-1][last[by_name]], found)
    if first.size:
        found = np.where((by_name < 0) & (by_cover >= 0), fitted.part[row[first[by_cover]]], found)
    return np.where(renewed, found, NONE), origin


def _told(aged: AgedSpells, shown: Raised, i, as_of, numbers):
    """The i-th alarm as a dict of what Alarm has, without its pieces. numbers: of all parts."""
    names = aged.spells.names
    month, sort = int(shown.month[i]), SORTS[shown.sort[i]]
    raised = EPOCH + timedelta(days=int(shown.raised[i]))
    confirmed = EPOCH + timedelta(days=int(shown.confirmed[i]))
    return {
        "kind": sort,
        "component": aged.grouped.names[shown.kind[i]],
        "part": numbers[int(shown.part[i])] if shown.part[i] >= 0 else "",
        "supplier": str(names.suppliers[shown.supplier[i]]) if shown.supplier[i] >= 0 else "",
        "fitting_month": str(np.datetime64(month, "M")) if month > NO_MONTH else "",
        "model": str(names.models[shown.model[i]]) if shown.model[i] >= 0 else "",
        "failures": int(shown.failures[i]),
        "expected": float(shown.expected[i]),
        "ratio": _known(shown.ratio[i]),
        "ratio_low": _known(shown.low[i]),
        "ratio_high": _known(shown.high[i]),
        "p": float(shown.p[i]),
        "p_adjusted": float(shown.p_adjusted[i]),
        "since": EPOCH + timedelta(days=int(shown.since[i])),
        "raised_on": raised,
        "level_reached": float(shown.level[i]),
        "rise_failures": int(shown.rise_failures[i]),
        "rise_expected": float(shown.rise_expected[i]),
        "fitted_from": EPOCH + timedelta(days=int(shown.fitted_from[i])) if sort == "batch" else None,
        "stands_because": _because(sort, confirmed, int(shown.in_place[i]), as_of),
    }


def _known(value):
    return float(value) if np.isfinite(value) else None


def _because(sort, confirmed, in_place, as_of):
    """Why an alarm still stands, in words."""
    if (as_of - confirmed).days < 365:
        return f"The last failure that bore it out came on {confirmed:%-d %B %Y}, less than a year ago."
    return f"{in_place} of these parts are still in place, and too few of them have lasted since to explain it."
