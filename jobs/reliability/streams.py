"""Many streams of failures watched at once: which of them fail more than the others of their kind, or than before?"""

from dataclasses import dataclass

import numpy as np
from scipy.special import betainc

from jobs.reliability.alarms import DAYS_PER_YEAR, clock_at, expected_by_month
from jobs.reliability.left_out import suspects, with_lives_left_out
from jobs.reliability.stretches import ANY, NO_MONTH, Lives, Pieces, Stretches

Array = np.ndarray
EARLY_YEARS, RECENT = 3.0, 365
LEAN = 1.0  # failures as expected that every baseline leans on
BATCH_LEVELS = (
    ("supplier",), ("supplier", "month"), ("supplier", "part"), ("supplier", "part", "month"),
)  # fmt: skip


@dataclass(frozen=True)
class Family:
    """Streams of one sort, watched: what each is about and what it showed.

    key: columns of numbers by name, ANY and NO_MONTH where a stream is about all. failures, expected: of each stream
    (n,), of the other failures `against` and those expected of them; p of «more».
    before, now: expected failures, a standard error up, a year ago and today: the clock of the sums. clock, stream,
    piece: of each failure, in order within its stream. sort: batch or rising.
    """

    sort: str
    key: dict[str, Array]
    failures: Array
    expected: Array
    against: Array
    against_expected: Array
    before: Array
    now: Array
    clock: Array
    stream: Array
    piece: Array

    @property
    def p(self):
        share = self.expected / np.maximum(self.expected + self.against_expected, 1e-12)
        more = betainc(np.maximum(self.failures, 1), self.against + 1, np.clip(share, 1e-12, 1 - 1e-12))
        return np.where(self.failures > 0, more, 1.0)


def watch_batches(pieces: Pieces, stretches: Stretches, lives: Lives, as_of: int) -> list[Family]:
    """Fitted parts in their first three years against the rest of their kind: by supplier, part and fitting month.

    A stream of the same parts as a wider one is left out. The life of a kind is scaled so that the kind without the
    stream failed as expected; where a supplier's parts stand out, it is fitted without them.
    """
    early = stretches.of(stretches.entry < EARLY_YEARS)
    exit = np.minimum(early.exit, EARLY_YEARS)
    count = early.weight * (early.failed & (early.exit <= EARLY_YEARS))
    all_failures = np.bincount(pieces.kind[early.piece], count, lives.shape.size)
    lives, life, all_expected = _lives_to_judge_by(pieces, stretches, lives, early, exit, count)
    own = np.flatnonzero(pieces.supplier[early.piece] != ANY)
    piece, life = early.piece[own], life[own]
    month = pieces.fitted.astype("datetime64[D]").astype("datetime64[M]").astype(np.int64)
    finest, fine = _numbered(pieces.kind[piece], pieces.supplier[piece], pieces.part[piece], month[piece])
    of_stream = np.zeros(finest.shape[1], int)
    of_stream[fine] = life
    edges = quarters(pieces.opened[piece].min(initial=as_of), as_of)
    expected = expected_by_month(
        pieces.opened[piece], early.entry[own], exit[own], lives.shape[life], lives.scale[life], edges, fine,
        streams=finest.shape[1], weight=early.weight[own],
    ) * season_of(lives.season, edges)[of_stream]  # fmt: skip
    of_kind = all_failures[finest[0]], all_expected[of_stream]
    failing = np.flatnonzero(count[own] > 0)
    failed = fine[failing], piece[failing]
    names, found = ("kind", "supplier", "part", "month"), []
    taken: set[tuple] = set()
    for level in BATCH_LEVELS:
        found.append(_level(level, names, finest, expected, failed, pieces, of_kind, edges, taken))
    return found


def _lives_to_judge_by(pieces, stretches, lives: Lives, early, exit, count):
    """Lives of the kinds and, after them, of those without a supplier whose parts stand out; number of the life that
    each early stretch is judged by; failures expected of each life's kind by it.
    """
    kind, kinds = pieces.kind[early.piece], lives.shape.size
    hazard = early.weight * (lives.passed(kind, exit) - lives.passed(kind, early.entry))
    pairs = suspects(pieces, early, count, hazard, kinds)
    lives, life = with_lives_left_out(pieces, stretches, lives, pairs), kind.copy()
    expected = np.append(np.bincount(kind, hazard, kinds), np.zeros(pairs.shape[1]))
    for number, (of_kind, supplier) in enumerate(pairs.T.tolist(), kinds):
        rows = np.flatnonzero(kind == of_kind)
        passed = lives.passed(number, exit[rows]) - lives.passed(number, early.entry[rows])
        expected[number] = early.weight[rows] @ passed
        life[rows[pieces.supplier[early.piece[rows]] == supplier]] = number
    return lives, life, expected


def _level(level, names, finest, expected, failed, pieces, of_kind, edges, taken) -> Family:
    """The family of one level. of_kind: of each finest stream the failures of its kind and those expected of it; taken:
    sets of finest streams that a wider level has watched already.
    """
    columns = [finest[names.index(name)] for name in ("kind", *level)]
    keys, of = _numbered(*columns)
    of = _without_known(of, finest, names, level, taken)
    kept = np.unique(of[of >= 0])
    number = np.full(max(keys.shape[1], 1) + 1, -1)
    number[kept] = np.arange(kept.size)
    of, keys = number[of], keys[:, kept]
    inside = of >= 0
    total = np.zeros((kept.size, expected.shape[1]))
    np.add.at(total, of[inside], expected[inside])
    stream, piece = of[failed[0]], failed[1]
    stream, piece = stream[stream >= 0], piece[stream >= 0]
    failures, whole = np.bincount(stream, minlength=kept.size).astype(float), np.zeros((2, kept.size))
    whole[:, of[inside]] = np.stack(of_kind)[:, inside]
    rest = np.maximum(whole[0] - failures, 0.0)
    rest_expected = np.maximum(whole[1] - total.sum(axis=1), 0.0)
    key = _any(kept.size) | dict(zip(("kind", *level), keys, strict=True))
    told = failures, total.sum(axis=1), rest, rest_expected
    return _family("batch", key, told, total, edges, stream, piece, pieces, edges[:-1] <= edges[-1] - RECENT)


def _any(streams):
    """Of each stream: that it is about any supplier, part, month and model."""
    return {name: np.full(streams, ANY) for name in ("supplier", "part", "model")} | {
        "month": np.full(streams, NO_MONTH)
    }


def _without_known(of, finest, names, level, taken):
    """Stream of each finest one, -1 where part or supplier are not known or the same parts are watched already."""
    if "part" in level or level == ("supplier",):
        told = "part" if "part" in level else "supplier"
        of = np.where(finest[names.index(told)] >= 0, of, -1)
    place, count = np.arange(1.0, of.size + 1), of.max(initial=0) + 1
    inside = of >= 0
    sums = [np.bincount(of[inside], place[inside] ** power, count) for power in (0, 1, 2)]
    told = list(zip(*(column.tolist() for column in sums), strict=True))  # equal for equal sets
    known = np.array([one in taken for one in told], bool)
    taken.update(told)
    return np.where(inside & ~known[np.maximum(of, 0)], of, -1)


def watch_rising(pieces: Pieces, stretches: Stretches, lives: Lives, as_of: int) -> Family:
    """Components of each model, all ages: the last 365 days against what came before, where nothing else changed."""
    begin = as_of + 1 - RECENT
    begins = quarters(begin, as_of)
    edges = np.r_[float(begin), begins[begins > begin]]
    pairs, of = _numbered(pieces.kind, pieces.model)
    streams, piece = pairs.shape[1], stretches.piece
    opened, kind = pieces.opened[piece], pieces.kind[piece]
    at_begin = np.clip(stretches.entry + (begin - opened) / DAYS_PER_YEAR, stretches.entry, stretches.exit)
    passed = lives.passed(kind, at_begin) - lives.passed(kind, stretches.entry)
    so_far = np.bincount(of[piece], stretches.weight * passed, streams)
    late = np.flatnonzero(at_begin < stretches.exit)
    recent, kind = stretches.of(late), kind[late]
    expected = expected_by_month(
        np.maximum(opened[late], begin), at_begin[late], recent.exit, lives.shape[kind], lives.scale[kind], edges,
        of[recent.piece], streams=streams, weight=recent.weight,
    ) * season_of(lives.season, edges)[pairs[0]]  # fmt: skip
    bearing = np.zeros(pieces.failed.size, bool)
    bearing[stretches.piece] = True
    failed = np.flatnonzero(pieces.failed & bearing)
    new = pieces.closed[failed] >= begin
    earlier = np.bincount(of[failed[~new]], minlength=streams).astype(float)
    lately = np.bincount(of[failed[new]], minlength=streams).astype(float)
    key = _any(streams) | {"kind": pairs[0], "model": pairs[1]}
    told = lately, expected.sum(axis=1), earlier, so_far
    nothing = np.zeros(edges.size - 1, bool)
    return _family("rising", key, told, expected, edges, of[failed[new]], failed[new], pieces, nothing)


def _family(sort, key, told, expected, edges, stream, piece, pieces, earlier) -> Family:
    """told: failures, expected, against, expected of these; expected, edges: the clock; earlier: periods long ago."""
    failures, own, against, against_expected = told
    plain = (against + LEAN) / (against_expected + LEAN)
    clock = expected * (plain * (1 + 1 / np.sqrt(against + LEAN)))[:, None]
    order = np.lexsort((pieces.closed[piece], stream))
    stream, piece = stream[order], piece[order]
    at = clock_at(pieces.closed[piece], stream, edges, clock)
    before, now = clock[:, earlier].sum(axis=1), clock.sum(axis=1)
    return Family(sort, key, failures, own, against, against_expected, before, now, at, stream, piece)


def _numbered(*columns):
    """The distinct rows of columns of whole numbers, (columns, n), and the number of each row's."""
    code, least = np.zeros(columns[0].size, np.int64), [int(column.min(initial=0)) for column in columns]
    width = [int(column.max(initial=0)) - low + 1 for column, low in zip(columns, least, strict=True)]
    for column, low, many in zip(columns, least, width, strict=True):
        code = code * many + (column - low)
    found, of = np.unique(code, return_inverse=True)
    keys = []
    for low, many in zip(reversed(least), reversed(width), strict=True):
        found, rest = np.divmod(found, many)
        keys.append(rest + low)
    return np.array(keys[::-1]), of


def quarters(first: float, as_of: int) -> Array:
    """Days: the quarter's begin before `first`, each next one, and the day after `as_of`."""
    end = np.datetime64(int(as_of) + 1, "D")
    begin = np.datetime64(int(min(first, as_of)), "D").astype("datetime64[M]").astype(int) // 3 * 3
    begins = np.arange(begin, end.astype("datetime64[M]").astype(int) + 1, 3).astype("datetime64[M]")
    days = begins.astype("datetime64[D]")
    return np.append(days[days < end], end).astype(np.int64).astype(float)


def season_of(season, edges) -> Array:
    """Mean month factor between each pair of edges, (kinds, periods)."""
    begin, end = (edges[i:j].astype(np.int64).astype("datetime64[D]") for i, j in ((0, -1), (1, None)))
    first, last = begin.astype("datetime64[M]").astype(int), (end - 1).astype("datetime64[M]").astype(int)
    columns = [season[:, np.arange(a, min(b, a + 11) + 1) % 12].mean(axis=1) for a, b in zip(first, last, strict=True)]
    return np.stack(columns, axis=1)
