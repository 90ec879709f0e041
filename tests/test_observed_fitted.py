"""Failures that a fitted life expects along an axis, positions of unseen past included."""

import numpy as np
import pytest
from scipy.integrate import quad

from jobs.reliability.observed_fitted import at_the_start, expected_along, expected_of_unseen
from jobs.reliability.unseen import TakenOver
from jobs.reliability.unseen_ages import UnseenAges, unseen_ages

SHAPE, SCALE = 2.5, 13.0
EDGES = np.arange(0.0, 41.0, 2.0)


def position(pieces, age):
    """One position taken over at `age`: pieces of (entry, exit, failed, weight)."""
    entry, exit, failed, weight = (np.array(column) for column in zip(*pieces, strict=True))
    where = np.zeros(len(pieces), int)
    return TakenOver(np.zeros(1, int), np.array([age]), where, entry, exit, failed, weight.astype(float))


def test_known_ages_give_the_cumulative_hazard_wherever_the_edges_lie():
    entry, exit, weight = np.array([0.0, 3.0]), np.array([9.0, 20.0]), np.array([1.0, 0.5])
    found = expected_along(entry, exit, weight, np.array([0.0, 4.0]), EDGES, shape=SHAPE, scale=SCALE)
    whole = (weight * ((exit / SCALE) ** SHAPE - (entry / SCALE) ** SHAPE)).sum()
    assert found.sum() == pytest.approx(whole)
    assert (found[:2] > 0).all()  # the second begins at 7 on the axis
    assert found[12:].sum() == 0


def test_a_past_without_question_is_a_known_age():
    over = position([(8.0, 15.0, True, 1.0)], 8.0)
    sure = UnseenAges(np.zeros((1, 1)), np.ones((1, 1)))
    found = expected_of_unseen(over, sure, np.zeros(1), EDGES, shape=SHAPE, scale=SCALE)
    plain = expected_along([8.0], [15.0], [1.0], np.zeros(1), EDGES, shape=SHAPE, scale=SCALE)
    assert found == pytest.approx(plain)


def test_two_possible_ages_give_the_hazard_given_survival():
    """Against the integral of the hazard of the mixture, by quadrature."""
    ages, likely = np.array([0.0, 6.0]), np.array([0.4, 0.6])
    over = position([(8.0, 15.0, False, 1.0)], 8.0)
    found = expected_of_unseen(over, UnseenAges(ages[None], likely[None]), np.zeros(1), EDGES, shape=SHAPE, scale=SCALE)

    def hazard(x):
        alive = likely * np.exp(((8 - ages) / SCALE) ** SHAPE - ((x - ages) / SCALE) ** SHAPE)
        return np.sum(alive * SHAPE / SCALE * ((x - ages) / SCALE) ** (SHAPE - 1)) / alive.sum()

    for i in range(4, 7):
        assert found[i] == pytest.approx(quad(hazard, EDGES[i], EDGES[i + 1])[0], rel=1e-8)
    assert found.sum() == pytest.approx(quad(hazard, 8, 15)[0], rel=1e-8)


def test_a_repair_in_place_makes_the_older_age_likelier():
    ages, offset = UnseenAges(np.array([[0.0, 6.0]]), np.array([[0.5, 0.5]])), np.zeros(2)
    repaired = position([(8.0, 10.0, True, 1.0), (10.0, 15.0, False, 1.0)], 8.0)
    working = position([(8.0, 10.0, False, 1.0), (10.0, 15.0, False, 1.0)], 8.0)
    after = [
        expected_of_unseen(one, ages, offset, [10.0, 15.0], shape=SHAPE, scale=SCALE)[0] for one in (repaired, working)
    ]
    assert after[0] > after[1]


def test_a_silent_tail_counts_by_its_weight():
    ages, fit = UnseenAges(np.array([[0.0, 6.0]]), np.array([[0.5, 0.5]])), {"shape": SHAPE, "scale": SCALE}
    whole, half = (
        expected_of_unseen(position([(8.0, 10.0, False, weight)], 8.0), ages, np.zeros(1), EDGES, **fit)
        for weight in (1.0, 0.5)
    )
    assert half == pytest.approx(whole / 2)


def test_simulated_positions_fail_as_often_as_is_expected_at_each_age_of_the_appliance():
    """Appliances taken over at 4 to 16 years, their parts renewed unseen before: true life, no fit."""
    rng = np.random.default_rng(11)
    many, watched = 6000, 6.0
    start = rng.uniform(4, 16, many)
    age = SCALE * rng.weibull(SHAPE, many)
    while (early := age < start).any():
        age[early] += SCALE * rng.weibull(SHAPE, early.sum())
    failed = age < start + watched
    over = TakenOver(
        np.zeros(many, int), start, np.arange(many), start, np.minimum(age, start + watched), failed, np.ones(many)
    )
    found = unseen_ages(at_the_start(over), np.array([SHAPE]), np.array([SCALE]), lost_rate=0.0, groups=1)
    expected = expected_of_unseen(over, found, np.zeros(many), EDGES, shape=SHAPE, scale=SCALE)
    seen = np.histogram(over.exit[failed], EDGES)[0]
    some = expected > 20
    assert some.sum() >= 6
    assert (np.abs(seen - expected)[some] < 4 * np.sqrt(expected[some])).all()
    assert seen.sum() == pytest.approx(expected.sum(), abs=3 * np.sqrt(expected.sum()))
