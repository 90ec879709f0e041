"""Sums of ages to a power from moments in narrow bins, against adding them up."""

import numpy as np
import pytest

from jobs.reliability.power_sums import FEW, PowerSums

POWERS = np.array([0.3, 1.0, 2.5, 7.0, 10.0])


def slowly(log_age, weight, group, groups):
    age = np.exp(log_age)
    return np.array([[np.sum(weight[group == g] * age[group == g] ** b) for b in POWERS] for g in range(groups)])


@pytest.mark.parametrize("rows", [1, FEW, FEW + 1, 200_000])
def test_sums_equal_adding_up_every_row(rows):
    rng = np.random.default_rng(rows)
    age = rng.weibull(1.3, rows) * rng.choice([1e-6, 1.0, 1e3], rows)
    weight, group = rng.random(rows), rng.integers(0, 3, rows)
    found = PowerSums(np.log(age), weight, group, 3)(np.tile(POWERS, (3, 1)))
    assert found == pytest.approx(slowly(np.log(age), weight, group, 3), rel=1e-9)


@pytest.mark.parametrize("rows", [3, 3 * FEW])
def test_ages_of_zero_add_nothing_and_a_group_without_rows_has_none(rows):
    age = np.tile([0.0, 1.0, 2.0], rows // 3)
    with np.errstate(divide="ignore"):
        found = PowerSums(np.log(age), np.ones(rows), np.zeros(rows, int), 2)(np.full((2, 1), 2.0))
    assert found.ravel() == pytest.approx([5.0 * rows / 3, 0.0])


def test_no_rows_at_all_give_nothing():
    assert PowerSums(np.zeros(0), np.zeros(0), np.zeros(0, int), 2)(np.ones((2, 3))).tolist() == [[0.0] * 3] * 2


@pytest.mark.parametrize("unit", [1e-9, 1e9])
def test_the_unit_of_age_is_free(unit):
    age = np.linspace(1, 30, 2 * FEW)
    sums = PowerSums(np.log(age), np.ones(age.size), np.zeros(age.size, int), 1)(POWERS[None])
    other = PowerSums(np.log(unit * age), np.ones(age.size), np.zeros(age.size, int), 1)(POWERS[None])
    assert other == pytest.approx(sums * unit**POWERS, rel=1e-9)
