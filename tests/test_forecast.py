"""Forecasts: exact mixtures from no failure on, and limits that carry parameters and chance together."""

import numpy as np
import pytest
from scipy import stats
from scipy.integrate import quad

from jobs.reliability.forecast import SHAPES, WEARS, forecast, shape_grid, together
from jobs.reliability.life import fit_weibull

NONE = (np.zeros(0), np.zeros(0), np.zeros(0, bool), np.zeros(0), np.zeros(0, int))


def spells(rng, size, shape, scale):
    entry = np.where(rng.random(size) < 0.5, rng.uniform(0, 8, size), 0.0)
    life = scale * ((entry / scale) ** shape + rng.exponential(size=size)) ** (1 / shape)
    end = entry + rng.uniform(1, 8, size)
    return entry, np.minimum(life, end), life <= end


def test_without_data_the_assumed_rate_is_what_is_forecast():
    """One piece over a short while at the typical age of a random failure: about rate x time, however the shape."""
    grid = shape_grid(*NONE, groups=1, rate=0.02, typical_age=12.0, wears=["random"])
    found = forecast(grid, np.linspace(0.05, 11.95, 120), np.zeros(120, int), 0.1)
    assert found.mean[0] == pytest.approx(120 * 0.1 * 0.02, rel=0.03)
    assert found.interval(0.9)[0][0] == 0


def test_much_data_gives_the_fitted_weibull():
    rng = np.random.default_rng(1)
    entry, exit, failed = spells(rng, 40_000, 2.4, 11.0)
    columns = (entry, exit, failed, np.ones(exit.size), np.zeros(exit.size, int))
    grid = shape_grid(*columns, groups=1, rate=0.05, typical_age=10.0)
    fit = fit_weibull(*columns)
    assert grid.weight[0] @ grid.shape[0] == pytest.approx(fit.shape[0], rel=0.01)
    ages = rng.uniform(2, 9, 500)
    hazard = np.sum(((ages + 0.25) / fit.scale[0]) ** fit.shape[0] - (ages / fit.scale[0]) ** fit.shape[0])
    assert forecast(grid, ages, np.zeros(500, int), 0.25).mean[0] == pytest.approx(hazard, rel=0.02)


def test_weights_of_shapes_equal_the_integral_over_the_scale():
    """Slow re-derivation: prior x likelihood integrated over theta = scale ** -shape for each shape of the grid."""
    entry, exit, failed = np.array([0.0, 2.0, 0.0]), np.array([3.0, 5.0, 4.0]), np.array([True, True, False])
    grid = shape_grid(
        entry, exit, failed, np.ones(3), np.zeros(3, int), groups=1, rate=0.1, typical_age=8.0, wears=["wear-out"]
    )
    median, spread = WEARS["wear-out"]
    weights = []
    for shape in grid.shape[0]:

        def joint(theta, b=shape):
            hazard = np.prod(theta * b * (exit[failed] / 8) ** (b - 1))
            alive = np.exp(-theta * np.sum((exit / 8) ** b - (entry / 8) ** b))
            return hazard * alive * stats.gamma.pdf(theta, 1, scale=0.8)

        weights.append(quad(joint, 0, 60, limit=200)[0] * np.exp(-((np.log(shape / median) / spread) ** 2) / 2))
    np.testing.assert_allclose(grid.weight[0], np.array(weights) / np.sum(weights), rtol=1e-6)


def test_probabilities_are_those_of_the_negative_binomials():
    grid = shape_grid(*NONE, groups=2, rate=[0.02, 0.3], typical_age=[12.0, 8.0])
    found = forecast(grid, [3.0, 5.0, 1.0], [0, 1, 1], 2.0)
    for number in range(4):
        wanted = np.sum(found.weight * stats.nbinom.cdf(number, found.failures[:, None], found.share), axis=1)
        np.testing.assert_allclose(found.at_most(number), wanted, rtol=1e-10)
    assert found.at_most(-1).tolist() == [0.0, 0.0]
    numbers = np.arange(20_000)
    pmf = np.diff([found.at_most(n)[1] for n in range(-1, 3000)])
    assert pmf @ numbers[:3000] == pytest.approx(found.mean[1], rel=1e-3)


@pytest.mark.parametrize("p", [0.05, 0.5, 0.95])
def test_quantiles_are_the_least_number_with_so_much_below(p):
    grid = shape_grid(*NONE, groups=3, rate=[0.01, 0.2, 2.0], typical_age=10.0)
    found = forecast(grid, np.full(60, 4.0), np.repeat([0, 1, 2], 20), 3.0)
    number = found.quantile(p)
    assert (found.at_most(number) >= p).all()
    assert (found.at_most(number - 1) < p).all()


def test_forecasts_are_even_in_their_place_when_lives_come_from_the_prior():
    """600 groups whose shape and scale are drawn from the prior; half of each watched, half forecast."""
    rng = np.random.default_rng(5)
    groups, units, unit, rate = 600, 40, 10.0, 0.05
    median, spread = WEARS[""]
    shape = np.exp(rng.normal(np.log(median), spread, groups)).clip(*np.exp(SHAPES[[0, -1]]))
    theta = rng.gamma(1.0, rate * unit, groups)
    group = np.repeat(np.arange(groups), units)
    entry = rng.uniform(0, 8, group.size)
    passed = lambda age: theta[group] * (age / unit) ** shape[group]  # noqa: E731
    life = unit * ((passed(entry) + rng.exponential(size=group.size)) / theta[group]) ** (1 / shape[group])
    watched = np.minimum(life, entry + 4)
    grid = shape_grid(
        entry, watched, life < entry + 4, np.ones(group.size), group, groups=groups, rate=rate, typical_age=unit
    )
    alive = life >= entry + 4
    found = forecast(grid, (entry + 4)[alive], group[alive], 0.5)
    came = np.bincount(group[alive & (life < entry + 4.5)], minlength=groups)
    assert stats.kstest(found.place(came, rng), "uniform").pvalue > 0.01
    low, high = found.interval(0.9)
    assert np.mean((low <= came) & (came <= high)) > 0.87


def test_replacements_may_fail_again():
    """Shape 1: failures over a long horizon are rate x time, though each piece fails several times."""
    rng = np.random.default_rng(2)
    exit = rng.exponential(5.0, 60_000)
    grid = shape_grid(
        np.zeros(exit.size),
        exit,
        np.ones(exit.size, bool),
        np.ones(exit.size),
        np.zeros(exit.size, int),
        groups=1,
        rate=0.2,
        typical_age=5.0,
        wears=["random"],
    )
    assert forecast(grid, np.zeros(100), np.zeros(100, int), 1.0).mean[0] == pytest.approx(20.0, rel=0.03)


def test_season_and_weight_scale_what_is_to_come():
    grid = shape_grid(*NONE, groups=1, rate=0.02, typical_age=12.0)
    plain = forecast(grid, [4.0], [0], 0.2).mean[0]
    assert forecast(grid, [4.0], [0], 0.2, season=1.5).mean[0] == pytest.approx(1.5 * plain, rel=0.01)
    assert forecast(grid, [4.0, 4.0], [0, 0], 0.2, weight=[0.25, 0.75]).mean[0] == pytest.approx(plain)


def test_cells_split_a_group_and_totals_add_up():
    grid = shape_grid(*NONE, groups=2, rate=[0.02, 0.1], typical_age=12.0)
    age, group, area = np.array([4.0, 5, 6, 7]), np.array([0, 0, 1, 1]), np.array([0, 1, 0, 1])
    cells = forecast(grid, age, group, 1.0, cell=group * 2 + area, cells=4)
    whole = forecast(grid, age, group, 1.0)
    np.testing.assert_allclose(cells.mean.reshape(2, 2).sum(axis=1), whole.mean)
    totals = together(cells, np.array([0, 1, 0, 1]), 3)
    np.testing.assert_allclose(totals.mean[:2], cells.mean.reshape(2, 2).sum(axis=0))
    np.testing.assert_allclose(totals.variance[:2], cells.variance.reshape(2, 2).sum(axis=0))
    assert totals.mean[2] == 0
    assert totals.interval()[1][2] == 0


def test_nothing_in_care_means_nothing_to_come():
    grid = shape_grid(*NONE, groups=2, rate=0.02, typical_age=12.0)
    found = forecast(grid, [], [], 1.0)
    assert found.mean.tolist() == [0.0, 0.0]
    assert found.interval()[1].tolist() == [0, 0]
