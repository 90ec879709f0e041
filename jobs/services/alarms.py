"""Which fitted parts fail more than the others of their kind, and which components of a model more than before."""

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from inventory.models import Part
from jobs import history
from jobs.records import EPOCH
from jobs.reliability.alarms import false_discovery
from jobs.reliability.history.records import NONE
from jobs.reliability.history.spells import CLOCKS
from jobs.reliability.streams import Failed, Streams, Watched, budget, watch_streams
from jobs.services.concerned import FittedPiece, fitted_pieces
from jobs.services.life_grids import AgedSpells, aged_spells
from jobs.stamp import kept
from jobs.van_demand import component_seasons

YEARS, EARLY_YEARS, RECENT = 10, 3.0, 365
KNOWN = CLOCKS.index("known")
METHOD = (
    "Poisson cumulative sums (ln 2.5 up at a failure, 1.5 down per expected failure), the clock being the failures "
    "that the rest of its kind would have had at the same ages and months; one threshold for all streams together"
)


@dataclass(frozen=True)
class Alarm:
    """kind: batch (a fitted part, in its first three years, of one supplier or of one fitting month) or rising (a
    component of one model, all ages). failures, expected: in the stream; ratio with limits and p: against the rest of
    its kind, for rising the last year against the time before. p_adjusted only orders a page. since: the day of the
    failure with which the rise began. pieces: the fitted parts concerned.
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
    pieces: tuple[FittedPiece, ...]


@dataclass(frozen=True)
class Alarms:
    """alarms: most telling first. false_alarms_a_year: to expect of all streams together where nothing is wrong.
    delay_failures: of a batch at five times its rate until it is found.
    """

    as_of: date
    alarms: tuple[Alarm, ...]
    streams: int
    threshold: float
    false_alarms_a_year: float
    delay_failures: int
    method: str


def firm_alarms(as_of: date) -> Alarms:
    """The alarms that stand on `as_of` (raised in the last year), kept until something is recorded."""
    return kept("firm-alarms", lambda: _firm_alarms(as_of), as_of)


def _firm_alarms(as_of):
    records = history.read_records()
    aged = aged_spells(as_of, records)
    parts = _parts(records, aged.spells)
    edges, factor = _quarters(as_of, component_seasons(aged.spells)[_kinds(aged)])
    families = [_batches(records, aged, parts, by_month) for by_month in (False, True)] + [_rising(aged)]
    watched = [
        watch_streams(*_rows(aged, family), aged.shape, aged.scale, factor, edges,
                      streams=len(family.names), against_itself=family.kind == "rising")
        for family in families
    ]  # fmt: skip
    threshold, false, delay = budget(sum(one.expected_a_year for one in watched))
    adjusted = false_discovery(np.concatenate([one.p for one in watched]))
    found, begin = [], 0
    for family, one in zip(families, watched, strict=True):
        own = adjusted[begin : begin + len(family.names)]
        begin += len(family.names)
        found += _raised(family, one, own, threshold, edges[-1] - RECENT)
    found = _once(found)
    pieces = fitted_pieces(found, as_of)
    alarms = tuple(Alarm(**alarm, pieces=own) for alarm, own in zip(found, pieces, strict=True))
    return Alarms(as_of, alarms, sum(len(one.names) for one in families), threshold, false, delay, METHOD)


@dataclass(frozen=True)
class Family:
    """Streams of one sort: what each is (`names`), stream of each spell (-1: none), age up to which it counts."""

    kind: str
    names: list[dict]
    stream: np.ndarray
    upto: float


def _quarters(as_of, season):
    """First days of the quarters of the last ten years, ending after `as_of`, and the season of each (kinds, n)."""
    last = np.datetime64(as_of + timedelta(days=1), "D")
    begins = np.arange(last.astype("datetime64[M]") - 12 * YEARS, last.astype("datetime64[M]") + 1, 3)
    days = begins.astype("datetime64[D]")
    begins, days = begins[days < last], days[days < last]
    months = (begins.astype(int)[:, None] + np.arange(3)) % 12
    return np.append(days, last).astype(np.int64), season[:, months].mean(axis=2)


def _kinds(aged: AgedSpells):
    """Index into the names of components of each group."""
    place = {str(key): i for i, key in enumerate(aged.spells.names.components)}
    return np.array([place[name] for name in aged.grouped.names], int)


def _parts(records, spells):
    """Index of the part that stands in each spell's position since a renewal, -1 where it is not known."""
    fitted, visits = records.fitted, records.visits
    origin = np.rint(spells.opened_day - spells.entry * 365.25).astype(np.int64)
    day = visits.day[fitted.visit]
    exact = dict(
        zip(zip(fitted.appliance.tolist(), fitted.component.tolist(), day.tolist(), strict=True), fitted.part.tolist(),
            strict=True)
    )  # fmt: skip
    covers = set(zip(records.catalogue.covers_part.tolist(), records.catalogue.covers_component.tolist(), strict=True))
    on_day = {}
    for appliance, one, part in zip(fitted.appliance.tolist(), day.tolist(), fitted.part.tolist(), strict=True):
        on_day.setdefault((appliance, one), []).append(part)
    found = np.full(len(spells), NONE)
    renewed = np.flatnonzero((spells.clock == KNOWN) & (spells.supplier >= 0))
    columns = (renewed, spells.appliance[renewed], spells.component[renewed], origin[renewed])
    for i, appliance, component, one in zip(*(column.tolist() for column in columns), strict=True):
        part = exact.get((appliance, component, one))
        if part is None:
            part = next((p for p in on_day.get((appliance, one), ()) if (p, component) in covers), NONE)
        found[i] = part
    return found


def _batches(records, aged: AgedSpells, parts, by_month) -> Family:
    """Fitted parts by component, part and supplier, and by the month of fitting where asked."""
    spells = aged.spells
    numbers = list(Part.objects.order_by("pk").values_list("number", flat=True))
    origin = np.rint(spells.opened_day - spells.entry * 365.25).astype(np.int64)
    month = (
        origin.astype("datetime64[D]").astype("datetime64[M]").astype(np.int64) if by_month else np.zeros_like(origin)
    )
    there = np.flatnonzero((parts >= 0) & (spells.entry < EARLY_YEARS))
    keys = np.stack([spells.component[there], parts[there], spells.supplier[there], month[there]])
    distinct, of = np.unique(keys, axis=1, return_inverse=True)
    stream = np.full(len(spells), -1)
    stream[there] = of.ravel()
    names = [
        {
            "component": str(spells.names.components[component]),
            "part": numbers[part],
            "supplier": str(spells.names.suppliers[supplier]),
            "fitting_month": str(np.datetime64(int(when), "M")) if by_month else "",
            "model": "",
        }
        for component, part, supplier, when in distinct.T.tolist()
    ]
    return Family("batch", names, stream, EARLY_YEARS)


def _rising(aged: AgedSpells) -> Family:
    """Components by appliance model."""
    spells = aged.spells
    width = len(spells.names.models)
    pairs, of = np.unique(spells.component.astype(np.int64) * width + spells.model, return_inverse=True)
    blank = {"part": "", "supplier": "", "fitting_month": ""}
    names = [
        {"component": str(spells.names.components[c]), "model": str(spells.names.models[m]), **blank}
        for c, m in (divmod(pair, width) for pair in pairs.tolist())
    ]
    return Family("rising", names, of, np.inf)


def _rows(aged: AgedSpells, family: Family):
    """The family's spells as the streams take them, up to the age that counts."""
    spells, of = aged.spells, aged.of
    entry, exit, _, weight, kind = aged.rows
    early = entry < family.upto
    watched = Watched(
        kind[early], family.stream[of][early], spells.opened_day[of][early].astype(float), entry[early],
        np.minimum(exit, family.upto)[early], weight[early],
    )  # fmt: skip
    bearing = np.zeros(len(spells), bool)
    bearing[of] = True
    failed = np.flatnonzero(bearing & spells.failed & (spells.exit <= family.upto))
    return watched, Failed(aged.grouped.group[failed], family.stream[failed], spells.closed_day[failed].astype(float))


def _raised(family: Family, found: Streams, adjusted, threshold, after):
    """The alarms of a family that were raised after a day."""
    raised = zip(*(column.tolist() for column in found.raised(threshold)), strict=True)
    return [_alarm(family, found, adjusted, *alarm) for alarm in raised if alarm[1] > after]


def _alarm(family: Family, found: Streams, adjusted, stream, day, level, since):
    i = int(stream)
    ratio = [float(values[i]) if np.isfinite(values[i]) else None for values in (found.ratio, found.low, found.high)]
    return {
        "kind": family.kind,
        **family.names[i],
        "failures": int(found.failures[i]),
        "expected": float(found.expected[i]),
        **dict(zip(("ratio", "ratio_low", "ratio_high"), ratio, strict=True)),
        "p": float(found.p[i]),
        "p_adjusted": float(adjusted[i]),
        "since": EPOCH + timedelta(days=int(since)),
        "raised_on": EPOCH + timedelta(days=int(day)),
        "level_reached": float(level),
    }


def _once(found):
    """Most telling first; a fitting month is left to the alarm on its part as a whole unless it stands out more."""
    best = {}
    for alarm in sorted(found, key=lambda one: -one["level_reached"]):
        best.setdefault((alarm["kind"], alarm["component"], alarm["part"], alarm["supplier"], alarm["model"]), alarm)
    return list(best.values())
