"""How far the failure rate of a position is known: against exact limits, simulation and a limit case."""

import numpy as np
import pytest
from scipy.stats import chi2

from jobs.reliability.forecast import ShapeGrid
from jobs.reliability.hazard_now import hazard_span


def grid_of(shape, weight, failures, hazard):
    rows = (np.array([column], float) for column in (shape, weight, hazard))
    shape, weight, hazard = rows
    return ShapeGrid(shape, weight, np.array([failures], float), hazard, np.array([10.0]))


@pytest.mark.parametrize("failures", [1, 4, 30])
def test_at_a_constant_rate_the_range_is_that_of_chi_square(failures):
    """A gamma of so many failures: chi-square with 2r degrees over 2r (independent library: scipy)."""
    grid = grid_of([1.0], [1.0], failures, [7.0])
    low, high = hazard_span(grid, np.zeros(1, int), np.array([3.0]), np.ones((1, 1)), np.zeros(1, int), 1)
    assert low[0] == pytest.approx(chi2.ppf(0.05, 2 * failures) / (2 * failures), rel=1e-9)
    assert high[0] == pytest.approx(chi2.ppf(0.95, 2 * failures) / (2 * failures), rel=1e-9)


def test_over_several_shapes_and_ages_it_is_the_simulated_range():
    rng = np.random.default_rng(5)
    shape, weight, hazard = np.array([1.0, 2.0, 3.0]), np.array([0.2, 0.5, 0.3]), np.array([6.0, 5.0, 4.5])
    likely, age = np.array([[0.3, 0.5, 0.8], [0.7, 0.5, 0.2]]), np.array([12.0, 5.0])
    grid = grid_of(shape, weight, 9, hazard)
    low, high = hazard_span(grid, np.zeros(2, int), age, likely, np.zeros(2, int), 1)
    k = rng.choice(3, 200_000, p=weight)
    rate = rng.gamma(9, 1 / hazard[k])
    drawn = rate * np.sum(likely[:, k] * shape[k] * (age[:, None] / 10) ** (shape[k] - 1), axis=0)
    ends = np.quantile(drawn, [0.05, 0.95]) / drawn.mean()
    np.testing.assert_allclose([low[0], high[0]], ends, rtol=0.02)


def test_with_endless_data_the_range_closes_in_and_nothing_has_none():
    grid = grid_of([2.0], [1.0], 1e9, [1e8])
    low, high = hazard_span(grid, np.zeros(1, int), np.array([5.0]), np.ones((1, 1)), np.zeros(1, int), 2)
    assert low[0] == pytest.approx(1, abs=1e-3)
    assert high[0] == pytest.approx(1, abs=1e-3)
    assert (low[1], high[1]) == (1.0, 1.0)
