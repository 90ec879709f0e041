"""What the coverage table measures with: invented firms whose truth is known, in small."""

from dataclasses import replace

import numpy as np
import pytest
from django.core.management import CommandError, call_command

from jobs.reliability.life import fit_weibull
from jobs.simulation.bias import measure_bias
from jobs.simulation.false_alarms import measure_alarms, measure_batches
from jobs.simulation.firms import FAILED, PLANNED, REPAIRED, Book, Events, Law, Town, draw_book
from jobs.simulation.fleets import AS_OF, FLEETS, KNOWN, TYPES, Fleet, draw_fleet, seen_on
from jobs.simulation.forecasts import measure_forecasts
from jobs.simulation.lives import laws, measure_lives
from jobs.simulation.programme import pieces
from jobs.simulation.rates import measure_rates, rate_rows
from jobs.simulation.rows import Goal, Row, as_markdown, covered
from jobs.simulation.taken_over_forecasts import measure_taken_over_forecasts
from jobs.simulation.watched import watch


def one_position(*, start=4.0, end=12.0, left=np.inf, told=False, serviced=False, last=11.0, known=np.nan, events=()):
    """A book of one position; events: (age of the appliance, kind)."""
    ages, kinds = [age for age, _ in events], [kind for _, kind in events]
    table = Events(np.zeros(len(events), int), np.array(ages, float), np.array(kinds, int))
    one = (np.array([value]) for value in (0, start, end, left, told, serviced, last, len(events), known, 0))
    return Book(*one, table)


def rows_of(spells):
    return [
        (round(float(entry), 6), round(float(exit), 6), bool(failed), bool(known))
        for entry, exit, failed, known in zip(spells.entry, spells.exit, spells.failed, spells.known, strict=True)
    ]


def test_a_position_of_unseen_past_has_the_appliances_age_until_it_is_renewed():
    spells = watch(one_position(events=[(6.0, REPAIRED), (7.0, FAILED), (9.0, PLANNED)]), silence="window")
    assert rows_of(spells) == [
        (4.0, 6.0, True, False),
        (6.0, 7.0, True, False),
        (0.0, 2.0, False, True),
        (0.0, 3.0, False, True),
    ]
    assert spells.planned.tolist() == [False, False, True, False]


def test_a_silence_beyond_the_window_is_cut_at_the_last_contact_or_weighed():
    book = one_position(last=8.0)
    assert rows_of(watch(book, silence="window")) == [(4.0, 8.0, False, False)]
    serviced = one_position(last=8.0, serviced=True)
    assert rows_of(watch(serviced)) == [(4.0, 8.0, False, False)]
    silent = draw_book(np.random.default_rng(1), Town(serviced=0.0), laws(4), np.repeat(np.arange(4), 200))
    weighed = watch(silent)
    assert ((weighed.weight > 0) & (weighed.weight <= 1)).all()
    assert (weighed.weight < 1).any()


def test_who_says_that_he_leaves_is_watched_until_then():
    assert rows_of(watch(one_position(left=10.0, told=True, last=5.0))) == [(4.0, 10.0, False, False)]


def test_events_of_invented_positions_are_those_of_their_law():
    """Every last renewal recorded, nobody leaves: the plain fit finds the law, and planned renewals their rate."""
    law = Law(np.array([2.5]), np.array([9.0]), np.array([0.05]), np.array([0.3]))
    town = Town(serviced=1.0, remembered=1.0, leaving_serviced=0.0, brought=0.0)
    spells = watch(draw_book(np.random.default_rng(3), town, law, np.zeros(6000, int)))
    fit = fit_weibull(*spells.columns, groups=1)
    assert fit.shape[0] == pytest.approx(2.5, rel=0.04)
    assert fit.scale[0] == pytest.approx(9.0, rel=0.02)
    failures, exposure, planned = spells.totals(1)
    assert planned[0] / exposure[0] == pytest.approx(0.05, rel=0.06)
    assert failures[0] > 1000


def test_weighted_exposure_is_near_the_time_in_care():
    book = draw_book(np.random.default_rng(4), Town(serviced=0.0), laws(4), np.repeat(np.arange(4), 1500))
    care = book.care.sum()
    assert watch(book).totals(4)[1].sum() / care == pytest.approx(1.0, abs=0.04)
    assert watch(book, silence="window").totals(4)[1].sum() / care < 0.75


def test_limits_of_lives_hold_in_small():
    rows = {row.what: row for row in measure_lives(np.random.default_rng(5), 30, 100, past="known")}
    assert rows["shape, past known"].value == pytest.approx(0.9, abs=0.09)
    assert rows["scale, past known"].sample == 100
    taken = {row.what: row for row in measure_lives(np.random.default_rng(6), 10, 60, past="perhaps")}
    assert taken["shape, past perhaps"].value > 0.78
    assert taken["MTBF, chi-square"].value > 0.85


def test_the_ordinary_answers_are_far_off_where_ours_is_not():
    """Eight firms of 150 failures, nobody on a service: the window and the first piece are named beside ours."""
    rows = {row.what: row for row in measure_bias(np.random.default_rng(7), 0.0, 8)}
    assert abs(rows["MTBF, perhaps, silence model"].value) < 0.05
    assert rows["MTBF, perhaps, window"].value < -0.2
    assert rows["shape, first, silence model"].value < -0.1


def test_best_estimates_and_forecasts_hold_in_small():
    inside = rate_rows({10: measure_rates(np.random.default_rng(8), 10, 300)})[0]
    assert inside.value == pytest.approx(0.89, abs=0.07)
    interval, *_, ratio = measure_forecasts(np.random.default_rng(9), 10, 100)
    assert interval.value == pytest.approx(0.91, abs=0.1)
    assert abs(ratio.value) < 0.15


def test_forecasts_hold_in_small_where_ages_were_never_seen_and_customers_fall_silent():
    """60 groups, about ten failures to come in a year: the interval's standard error is 4 %, that of the sum 4 %."""
    interval, _, even, ratio = measure_taken_over_forecasts(np.random.default_rng(12), 10, 60)
    assert interval.value == pytest.approx(0.91, abs=0.1)
    assert even.value > 0.001
    assert abs(ratio.value) < 0.15


def test_false_alarms_keep_below_one_a_year_in_small():
    """Eight ageing firms, the page looked at five times: half an alarm a year wanted, standard error about 0.2."""
    new, high, _ = measure_alarms(np.random.default_rng(11), 8, Fleet("ageing", 60, Town(begun=(0, 0.3), **KNOWN)))
    assert new.value <= 1.0
    assert high.value > new.value


def test_a_batch_at_five_times_its_rate_is_found_after_about_nine_failures():
    """Twenty batches of sixty; the median's standard error is about one failure."""
    found, fewer, *rows = measure_batches(np.random.default_rng(13), 2, Fleet("growing", 100, Town(**KNOWN)), 60)
    assert found.value > 0.7
    assert fewer.value < 0.5
    assert 5 <= rows[0].value <= 13


def test_what_a_firm_knows_on_a_day_is_what_had_happened_by_then():
    drawn = draw_fleet(np.random.default_rng(14), replace(FLEETS[3], parts=20))
    pieces, stretches, lives = seen_on(drawn, AS_OF - 700)
    assert (pieces.closed <= AS_OF - 700).all()
    assert (pieces.opened < AS_OF - 700).all()
    assert lives.shape.size == TYPES
    assert np.isfinite(lives.scale).all()
    whole = np.bincount(stretches.piece, stretches.weight, pieces.kind.size)
    assert whole[whole > 0].max() <= 1 + 1e-9
    assert seen_on(drawn, AS_OF)[0].failed.sum() == drawn.pieces.failed.sum()


def test_the_error_of_a_share_counts_families_whole():
    inside = np.repeat([True, False], 50)
    alone, together = covered("t", "c", "w", inside), covered("t", "c", "w", inside, family=np.repeat([0, 1], 50))
    assert alone.error == pytest.approx(0.05)
    assert together.error == pytest.approx(np.sqrt(2 * 25**2) / 100)


def test_a_miss_within_two_errors_is_told_as_doubtful():
    goal = Goal(0.87, 0.92, "87 to 92 %")
    verdict = lambda value: Row("t", "c", "w", value, 0.01, 900, goal).verdict  # noqa: E731
    assert [verdict(value) for value in (0.90, 0.86, 0.80)] == ["met", "missed?", "missed"]
    assert "| c | w | 90.0 % | 1.0 % | 900 | 87 to 92 % | met |" in as_markdown(
        [Row("t", "c", "w", 0.9, 0.01, 900, goal)]
    )


def test_a_piece_comes_out_the_same_whatever_else_is_asked_for():
    alone = pieces(["forecasts"], 20)[0]
    among = next(piece for piece in pieces(["lives", "forecasts"], 20) if piece.name == alone.name)
    assert alone.run(3)[0] == among.run(3)[0]
    assert alone.run(3)[0] != alone.run(4)[0]


def test_the_command_writes_its_table_and_refuses_what_it_does_not_know(tmp_path):
    path = tmp_path / "table.md"
    call_command("coverage", "--cells", "forecasts", "--groups", "8", "--output", str(path), verbosity=0)
    assert "Forecasts: intervals at 90 %" in path.read_text(encoding="utf-8")
    with pytest.raises(CommandError, match="nonsense is none of lives"):
        call_command("coverage", "--cells", "nonsense")
    with pytest.raises(CommandError, match="at least 8"):
        call_command("coverage", "--groups", "2")
