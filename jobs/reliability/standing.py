"""From streams to the alarms that stand: one budget for all, rises of the sums, and each failure told once."""

from dataclasses import dataclass

import numpy as np

from jobs.reliability.alarm_budget import A_YEAR, budget
from jobs.reliability.alarms import DRIFT, cumulative_sum, false_discovery, recent_against_earlier
from jobs.reliability.streams import RECENT, Family, watch_batches, watch_rising
from jobs.reliability.stretches import ANY, NO_MONTH, Lives, Pieces, Stretches

Array = np.ndarray
SORTS = ("batch", "rising")


@dataclass(frozen=True)
class Raised:
    """Rises of the sums that reached the threshold, (n,), batches first, highest level first within each.

    sort: index into SORTS; kind, supplier, part, month, model: what each is about, ANY and NO_MONTH: all. failures,
    expected, ratio, low, high, p: of the stream against the rest of its kind (batch), of the last year against the
    time before (rising); p_adjusted only orders. since: day of the failure with which the rise began; raised: on which
    it reached the threshold; confirmed: of the last failure that found it there; level: the highest sum;
    rise_failures, rise_expected: from `since` on; fitted_from: day of fitting of the oldest part that failed in the
    rise.
    in_place: parts still there. stands: raised or confirmed in the last year, or parts are still there and the sum has
    not yet come back to nothing. first: False where most of its failures belong to one before it.
    """

    sort: Array
    kind: Array
    supplier: Array
    part: Array
    month: Array
    model: Array
    failures: Array
    expected: Array
    ratio: Array
    low: Array
    high: Array
    p: Array
    p_adjusted: Array
    since: Array
    raised: Array
    confirmed: Array
    level: Array
    rise_failures: Array
    rise_expected: Array
    fitted_from: Array
    in_place: Array
    stands: Array
    first: Array

    def of(self, rows) -> "Raised":
        return Raised(*(column[rows] for column in vars(self).values()))


@dataclass(frozen=True)
class Found:
    """raised: all alarms, those that stand and are not `first` elsewhere are to be shown. streams: how many were
    watched; threshold; false_alarms_a_year: to expect where nothing is wrong, overlapping streams each counted;
    delay_failures: of a batch at five times its rate until it is found.
    """

    raised: Raised
    streams: int
    threshold: float
    false_alarms_a_year: float
    delay_failures: int

    @property
    def shown(self) -> Raised:
        return self.raised.of(self.raised.stands & self.raised.first)


def find_alarms(pieces: Pieces, stretches: Stretches, lives: Lives, as_of: int, *, wanted=A_YEAR) -> Found:
    """What fails more than it should on the day `as_of` (a number of days since 1970-01-01).

    wanted: false alarms a year that all streams together may give. Pages and simulations both come here.
    """
    families = [*watch_batches(pieces, stretches, lives, as_of), watch_rising(pieces, stretches, lives, as_of)]
    before, now = (np.concatenate([getattr(one, name) for one in families]) for name in ("before", "now"))
    threshold, false, delay = budget(before, now, wanted)
    adjusted = false_discovery(np.concatenate([one.p for one in families]))
    bounds = np.cumsum([0, *(one.now.size for one in families)])
    rises = [
        _rises(family, threshold, adjusted[begin:end], pieces, as_of)
        for family, begin, end in zip(families, bounds[:-1], bounds[1:], strict=True)
    ]
    table = {name: np.concatenate([one[name] for one, _ in rises]) for name in rises[0][0]}
    own = [failures for _, of_family in rises for failures in of_family]
    order = np.lexsort((-table["level"], table["sort"]))
    table = {name: column[order] for name, column in table.items()}
    first = _told_once([own[i] for i in order], table["stands"])
    return Found(Raised(**table, first=first), int(now.size), threshold, false, delay)


def _rises(family: Family, threshold, adjusted, pieces: Pieces, as_of):
    """Columns of Raised for the rises of one family, and the pieces whose failures made each."""
    sums = cumulative_sum(family.clock, family.stream)
    hit = np.flatnonzero(sums.value >= threshold)
    since, begin = np.unique(sums.since[hit], return_index=True)
    end = np.append(begin[1:], hit.size) - 1
    first, confirmed, stream = hit[begin], hit[end] if hit.size else hit, family.stream[since]
    last = np.searchsorted(family.stream, stream, side="right") - 1
    left = sums.value[last] - DRIFT * (family.now[stream] - family.clock[last])
    still = (sums.since[last] == since) & (left > 0)
    own = [family.piece[a : b + 1] for a, b in zip(since, confirmed, strict=True)]
    fitted_from = np.array([pieces.fitted[one].min() for one in own], int)
    key = {name: column[stream] for name, column in family.key.items()}
    in_place = np.zeros(stream.size, int)
    for i, day in enumerate(fitted_from.tolist()):
        own_pieces = members(pieces, {name: column[i] for name, column in key.items()}, day)
        in_place[i] = np.count_nonzero(pieces.in_place[own_pieces])
    day = pieces.closed[family.piece]
    batch = family.sort == "batch"
    table = key | _told(family, stream) | {
        "sort": np.full(stream.size, SORTS.index(family.sort)),
        "p_adjusted": adjusted[stream],
        "since": day[since],
        "raised": day[first],
        "confirmed": day[confirmed],
        "level": np.maximum.reduceat(sums.value[hit], begin) if hit.size else np.zeros(0),
        "rise_failures": last - since + 1,
        "rise_expected": family.now[stream] - family.clock[since],
        "fitted_from": fitted_from if batch else np.full(stream.size, -1),
        "in_place": in_place,
        "stands": (day[confirmed] > as_of - RECENT) | (batch & still & (in_place > 0)),
    }  # fmt: skip
    return table, own


def _told(family: Family, stream):
    """Figures of some streams of a family, as columns of Raised."""
    failures, expected, against, other = (
        getattr(family, name)[stream] for name in ("failures", "expected", "against", "against_expected")
    )
    test = recent_against_earlier(failures, np.maximum(expected, 1e-9), against, np.maximum(other, 1e-9))
    usual = np.where(other > 0, against / np.maximum(other, 1e-9), 1.0)
    return {
        "failures": failures,
        "expected": expected * usual,
        "ratio": test.comparison.ratio,
        "low": test.comparison.low,
        "high": test.comparison.high,
        "p": family.p[stream],
    }


def members(pieces: Pieces, key, fitted_from) -> Array:
    """Numbers of the pieces that a stream is about, fitted on that day or later. key: as Raised has it, by name."""
    there = pieces.fitted >= fitted_from
    for name in ("kind", "supplier", "part", "model"):
        if key[name] != ANY:
            there = there & (getattr(pieces, name) == key[name])
    found = np.flatnonzero(there)
    if key["month"] == NO_MONTH:
        return found
    fitted = pieces.fitted[found].astype("datetime64[D]").astype("datetime64[M]").astype(int)
    return found[fitted == key["month"]]


def _told_once(own, stands):
    """False for an alarm most of whose failures an earlier standing one has told, (n,)."""
    told, first = set(), np.zeros(stands.size, bool)
    for i, failures in enumerate(own):
        new = [piece for piece in failures.tolist() if piece not in told]
        first[i] = stands[i] and 2 * len(new) > len(failures)
        if first[i]:
            told.update(new)
    return first
