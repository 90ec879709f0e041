"""Streams of failures watched at once: a bad batch stands out, an even fleet keeps to its budget, nothing crashes."""

from dataclasses import fields, replace

import numpy as np
import pytest

from jobs.reliability.alarms import cumulative_sum
from jobs.reliability.left_out import suspects, with_lives_left_out
from jobs.reliability.life import fit_weibull
from jobs.reliability.standing import find_alarms
from jobs.reliability.streams import watch_batches, watch_rising
from jobs.reliability.stretches import NO_MONTH, Lives, Pieces, Stretches

SHAPE, SCALE = np.array([1.8, 2.5]), np.array([14.0, 9.0])
AS_OF, DAYS = 20_000, 365.25
LIVES = Lives(SHAPE, SCALE, np.ones((2, 12)))


def fleet(rng, *, parts=4000, bad=None, times=5.0, first=AS_OF - 3652, suppliers=8):
    """Parts of two kinds from eight suppliers, fitted over ten years; those of one kind 0 supplier may be `bad`."""
    kind, supplier = rng.integers(0, 2, parts), rng.integers(0, suppliers, parts)
    fitted = rng.integers(first, AS_OF, parts)
    hazard = np.where((kind == 0) & (supplier == bad), times, 1.0)
    life = DAYS * SCALE[kind] * (rng.exponential(size=parts) / hazard) ** (1 / SHAPE[kind])
    closed = np.minimum(fitted + np.ceil(life), AS_OF).astype(int)
    failed = fitted + life < AS_OF
    part, model = kind * 2 + rng.integers(0, 2, parts), rng.integers(0, 3, parts)
    return Pieces(kind, part, supplier, model, fitted, closed, fitted, failed, ~failed)


def ages(pieces):
    exit = (pieces.closed - pieces.opened) / DAYS
    number = np.arange(exit.size)
    return Stretches(number, np.zeros(exit.size), exit, pieces.failed, np.ones(exit.size))


def found(pieces, lives=LIVES, **wanted):
    return find_alarms(pieces, ages(pieces), lives, AS_OF, **wanted)


def some(pieces, rows):
    return Pieces(*(getattr(pieces, field.name)[rows] for field in fields(Pieces)))


def test_a_stream_that_fails_as_the_rest_of_its_kind_has_a_ratio_near_one():
    pieces = fleet(np.random.default_rng(1))
    by_supplier = watch_batches(pieces, ages(pieces), LIVES, AS_OF)[0]
    ratio = by_supplier.failures / by_supplier.expected
    assert by_supplier.key["kind"].size == 16
    assert ratio.mean() == pytest.approx(1.0, abs=0.15)
    assert (by_supplier.p > 0.001).all()


def test_every_failure_of_a_stream_is_on_its_clock_and_the_clock_ends_where_it_should():
    """A slow plain count of the first stream, supplier by supplier."""
    pieces = fleet(np.random.default_rng(2), parts=900)
    family, stretches = watch_batches(pieces, ages(pieces), LIVES, AS_OF)[0], ages(pieces)
    hazard = (np.minimum(stretches.exit, 3) / SCALE[pieces.kind]) ** SHAPE[pieces.kind]
    early, checked = pieces.failed & (stretches.exit <= 3), 0
    for i in range(family.key["kind"].size):
        kind = pieces.kind == family.key["kind"][i]
        own = kind & (pieces.supplier == family.key["supplier"][i])
        rest = np.count_nonzero(early & kind & ~own)
        level = (rest + 1) / (hazard[kind & ~own].sum() + 1) * (1 + 1 / np.sqrt(rest + 1))
        assert family.failures[i] == np.count_nonzero(early & own) == np.count_nonzero(family.stream == i)
        if family.failures[i] <= hazard[own].sum():  # else its kind's life may have been fitted without it
            assert family.now[i] == pytest.approx(hazard[own].sum() * level, rel=1e-6)
            checked += 1
        assert (family.clock[family.stream == i] <= family.now[i] * (1 + 1e-9)).all()
    assert checked > 4


def test_a_batch_at_five_times_its_rate_is_found_and_false_alarms_keep_to_the_budget():
    """Twenty firms, half a false alarm a year wanted: more than 1 a year on average would be 4 standard errors off."""
    false = []
    for seed in range(20):
        alarms = found(fleet(np.random.default_rng(seed), bad=3)).shown
        about = (alarms.sort == 0) & (alarms.kind == 0) & (alarms.supplier == 3)
        assert about.any()
        false.append(np.count_nonzero(~about & (alarms.raised > AS_OF - 365) & (alarms.sort == 0)))
    assert np.mean(false) <= 1.0


def test_an_alarm_begins_where_its_sum_left_nothing_and_is_raised_at_the_threshold():
    pieces = fleet(np.random.default_rng(6), bad=3)
    told = found(pieces)
    family = watch_batches(pieces, ages(pieces), LIVES, AS_OF)[0]
    alarm = told.raised.of((told.raised.supplier == 3) & (told.raised.part < 0) & (told.raised.month == NO_MONTH))
    own = np.flatnonzero((family.key["kind"][family.stream] == 0) & (family.key["supplier"][family.stream] == 3))
    sums, day = cumulative_sum(family.clock[own], np.zeros(own.size, int)), pieces.closed[family.piece[own]]
    first = np.flatnonzero(sums.value >= told.threshold)[0]
    assert alarm.raised.min() == day[first]
    assert alarm.since.min() == day[sums.since[first]]
    assert (alarm.level >= told.threshold).all()
    assert (alarm.since <= alarm.raised).all()
    assert (alarm.raised <= alarm.confirmed).all()


def test_a_batch_stands_while_parts_of_it_are_in_place_and_it_is_not_made_good():
    """Twenty bad parts of six years ago: the alarm of long ago stands with parts in place, and not without."""
    rng = np.random.default_rng(8)
    pieces = fleet(rng, parts=3000)
    own = np.flatnonzero((pieces.kind == 0) & (pieces.supplier == 5) & (pieces.fitted < AS_OF - 2000))[:30]
    closed, failed = pieces.closed.copy(), pieces.failed.copy()
    closed[own[:20]], failed[own[:20]] = pieces.fitted[own[:20]] + 200, True
    closed[own[20:]], failed[own[20:]] = AS_OF, False
    new = (pieces.kind == 0) & (pieces.supplier == 5) & (pieces.fitted > AS_OF - 2000)
    there = np.setdiff1d(np.arange(3000), np.flatnonzero(new))  # no others of that supplier since
    pieces = some(replace(pieces, closed=closed, failed=failed, in_place=~failed), there)
    shown = found(pieces).shown
    assert ((shown.supplier == 5) & (shown.raised < AS_OF - 365)).any()
    gone = replace(pieces, in_place=pieces.in_place & (pieces.supplier != 5))
    assert not ((found(gone).shown.supplier == 5) & (found(gone).shown.sort == 0)).any()


def test_what_one_alarm_has_told_is_not_told_again():
    shown = found(fleet(np.random.default_rng(9), bad=3, times=8.0)).shown
    assert np.count_nonzero((shown.sort == 0) & (shown.supplier == 3)) == 1


def test_a_component_that_always_failed_more_is_not_rising_and_one_that_began_to_is():
    rng = np.random.default_rng(4)
    pieces = fleet(rng)
    steady = watch_rising(pieces, ages(pieces), LIVES, AS_OF)
    assert (steady.p > 1e-4).all()
    lately = np.flatnonzero((pieces.kind == 1) & (pieces.model == 2) & ~pieces.failed & (pieces.opened < AS_OF - 800))[
        :60
    ]
    closed, failed = pieces.closed.copy(), pieces.failed.copy()
    closed[lately], failed[lately] = rng.integers(AS_OF - 200, AS_OF, lately.size), True
    more = replace(pieces, closed=closed, failed=failed, in_place=~failed)
    shown = found(more).shown
    assert ((shown.sort == 1) & (shown.kind == 1) & (shown.model == 2)).any()


def test_what_was_expected_before_and_in_the_last_year_is_all_that_was_expected():
    pieces = fleet(np.random.default_rng(3), parts=700)
    rising, stretches = watch_rising(pieces, ages(pieces), LIVES, AS_OF), ages(pieces)
    hazard = (stretches.exit / SCALE[pieces.kind]) ** SHAPE[pieces.kind]
    both = np.bincount(pieces.kind * 3 + pieces.model, hazard, 6)
    np.testing.assert_allclose(rising.expected + rising.against_expected, both, rtol=1e-9)
    lately = pieces.failed & (pieces.closed > AS_OF - 365)
    np.testing.assert_array_equal(rising.failures, np.bincount((pieces.kind * 3 + pieces.model)[lately], minlength=6))


def test_streams_of_the_same_parts_are_watched_once():
    pieces = replace(fleet(np.random.default_rng(5), parts=500), part=np.zeros(500, int))
    by_supplier, by_month, by_part, by_part_month = watch_batches(pieces, ages(pieces), LIVES, AS_OF)
    assert by_supplier.now.size == 16
    assert by_month.now.size > 16
    assert by_part.now.size == by_part_month.now.size == 0


def cases():
    """Whatever a firm may send: little, nothing, odd."""
    pieces = fleet(np.random.default_rng(7), parts=60)
    nothing = some(pieces, np.zeros(0, int))
    return {
        "no spell": nothing,
        "one spell": some(pieces, [0]),
        "one failure": some(pieces, np.flatnonzero(pieces.failed)[:1]),
        "no failure": replace(pieces, failed=np.zeros(60, bool)),
        "one supplier": replace(pieces, supplier=np.zeros(60, int)),
        "nothing fitted by us": replace(pieces, supplier=np.full(60, -1), part=np.full(60, -1)),
        "parts not known": replace(pieces, part=np.full(60, -1)),
        "all failed on the day they were fitted": replace(pieces, closed=pieces.opened, failed=np.ones(60, bool)),
        "before 1990, and before 1970": fleet(np.random.default_rng(8), parts=60, first=-4000),
        "one kind without any failure": replace(pieces, failed=pieces.failed & (pieces.kind == 0)),
    }


@pytest.mark.parametrize("case", cases())
def test_odd_firms_give_figures_and_never_a_nan(case):
    pieces = cases()[case]
    told = found(pieces)
    assert np.isfinite([told.threshold, told.false_alarms_a_year]).all()
    assert told.false_alarms_a_year <= 0.5
    for name in ("expected", "p", "p_adjusted", "level", "rise_expected"):
        assert np.isfinite(getattr(told.raised, name)).all()


def test_kinds_of_no_seen_age_raise_nothing():
    pieces = fleet(np.random.default_rng(7), parts=200)
    nothing = Stretches(np.zeros(0, int), np.zeros(0), np.zeros(0), np.zeros(0, bool), np.zeros(0))
    told = find_alarms(pieces, nothing, LIVES, AS_OF)
    assert not told.raised.kind.size
    assert told.false_alarms_a_year == 0


def test_a_bad_batch_lends_nothing_to_the_life_that_it_is_judged_by():
    """Eighty parts of one supplier fail early among six hundred: without them their kind's life is as it was drawn."""
    rng = np.random.default_rng(10)
    pieces = fleet(rng, parts=1200)
    own = np.flatnonzero((pieces.kind == 0) & (pieces.supplier == 4))
    closed, failed = pieces.closed.copy(), pieces.failed.copy()
    closed[own] = np.minimum(pieces.fitted[own] + rng.integers(5, 120, own.size), AS_OF)
    failed[own] = closed[own] < AS_OF
    bad = replace(pieces, closed=closed, failed=failed, in_place=~failed)
    stretches, hazard = ages(bad), (ages(bad).exit / SCALE[bad.kind]) ** SHAPE[bad.kind]
    early = stretches.of(stretches.exit <= 3)
    count = early.failed.astype(float)
    pairs = suspects(bad, early, count, hazard[early.piece], 2)
    assert [0, 4] in pairs.T.tolist()
    fits = fit_weibull(
        stretches.entry, stretches.exit, stretches.failed, stretches.weight, bad.kind, groups=2, limits=False
    )
    lives = with_lives_left_out(bad, stretches, Lives(fits.shape, fits.scale, LIVES.season), pairs)
    number = 2 + pairs.T.tolist().index([0, 4])
    assert fits.shape[0] < 1.2
    assert lives.shape[number] == pytest.approx(SHAPE[0], rel=0.2)
    assert lives.scale[number] == pytest.approx(SCALE[0], rel=0.2)
    np.testing.assert_array_equal(lives.shape[:2], fits.shape)
