"""Forecasts where ages were never seen: the grid of shapes with the ages that go with each."""

import numpy as np
import pytest

from jobs.reliability.forecast import Before, forecast, shape_grid
from jobs.reliability.joint_likelihood import JointLikelihood
from jobs.reliability.taken_over import taken_over
from jobs.reliability.unseen_ages import AGES, NONE
from jobs.reliability.unseen_grid import unseen_shape_grid

NOBODY = taken_over(*(np.zeros(0, kind) for kind in (int, float, float, bool, float, int)))


def positions(rng, count, *, groups=1, shape=2.5, scale=9.0, watched=4.0):
    """Positions of appliances aged 1 to 15 whose earlier renewals nobody saw, watched until they fail."""
    age = rng.uniform(1, 15, count)
    last = np.zeros(count)
    while True:
        renewed = last + scale * rng.exponential(size=count) ** (1 / shape)
        if (renewed > age).all():
            break
        last = np.where(renewed < age, renewed, last)
    own = age - last
    life = scale * ((own / scale) ** shape + rng.exponential(size=count)) ** (1 / shape)
    stays = np.minimum(life - own, watched)
    failed = life - own < watched
    return taken_over(np.arange(count), age, age + stays, failed, np.ones(count), np.arange(count) % groups)


def test_with_known_ages_it_is_the_plain_grid():
    rng = np.random.default_rng(1)
    exit = rng.uniform(1, 9, 50)
    spells = (np.zeros(50), exit, exit < 4, np.ones(50), np.arange(50) % 2)
    before = Before(2, 0.05, 10.0)
    grid, found = unseen_shape_grid(spells, NOBODY, np.ones(2), np.full(2, 10.0), np.zeros(2), before)
    plain = shape_grid(*spells, **vars(before))
    np.testing.assert_array_equal(grid.weight, plain.weight)
    assert found.likely.shape[0] == 0


def test_weights_of_shapes_are_near_the_integral_of_the_averaged_likelihood_over_the_scale():
    """Slow re-derivation: prior of the rate x likelihood averaged over ages, summed over a fine grid of rates."""
    over, before = positions(np.random.default_rng(2), 60), Before(1, 0.05, 10.0, ["wear-out"])
    grid, _ = unseen_shape_grid(NONE, over, np.array([2.2]), np.array([9.0]), np.zeros(1), before)
    height = JointLikelihood(NONE, over, 1, np.zeros(1), AGES, many=())
    rates = np.exp(np.linspace(-4, 3, 400))
    slow = []
    for shape in grid.shape[0]:
        scale = before.unit * rates ** (-1 / shape)
        told = np.array([height(np.log([[shape], [one / height.largest[0]]]))[0] for one in scale])
        slow.append(np.log(np.trapezoid(np.exp(told - before.hazard * rates) * rates, np.log(rates))))
    slow = np.array(slow) + before.log_prior(np.log(grid.shape))[0]
    wanted = np.exp(slow - slow.max())
    wanted /= wanted.sum()
    mean, spread = moments(grid.weight[0], grid.shape[0])
    other_mean, other_spread = moments(wanted, grid.shape[0])
    assert mean == pytest.approx(other_mean, abs=0.3 * other_spread)
    assert spread == pytest.approx(other_spread, rel=0.2)


def moments(weight, shape):
    mean = weight @ np.log(shape)
    return mean, np.sqrt(weight @ (np.log(shape) - mean) ** 2)


def test_doubt_about_ages_widens_what_is_known_of_the_shape():
    """The same lives with ages known, and with ages that nobody saw."""
    over = positions(np.random.default_rng(3), 400)
    before = Before(1, 0.05, 10.0, ["wear-out"])
    seen = (over.entry, over.exit, over.failed, over.weight, np.zeros(400, int))
    known = shape_grid(*seen, **vars(before))
    grid, _ = unseen_shape_grid(NONE, over, np.array([2.5]), np.array([9.0]), np.zeros(1), before)
    assert moments(grid.weight[0], grid.shape[0])[1] > moments(known.weight[0], known.shape[0])[1]


def test_ages_given_a_steeper_shape_are_other_ages_and_always_add_to_one():
    over, before = positions(np.random.default_rng(4), 80, groups=2), Before(2, 0.05, 10.0)
    grid, found = unseen_shape_grid(NONE, over, np.full(2, 2.0), np.full(2, 9.0), np.zeros(2), before)
    assert found.likely.shape == (80, AGES + 1, grid.shape.shape[1])
    np.testing.assert_allclose(found.likely.sum(axis=1), 1.0)
    assert np.abs(found.likely[..., 0] - found.likely[..., -1]).max() > 0.05


def odd():
    few = positions(np.random.default_rng(5), 5)
    age, count = np.array([3.0, 8.0, 12.0]), np.ones(3)
    return {
        "no failure": taken_over(np.arange(3), age, age + 2, np.zeros(3, bool), count, np.zeros(3, int)),
        "all failed at once": taken_over(np.arange(3), age, age + 1e-9, np.ones(3, bool), count, np.zeros(3, int)),
        "silent from the start": taken_over(
            np.arange(3), age, age + 2, np.zeros(3, bool), np.full(3, 0.4), np.zeros(3, int)
        ),
        "young appliances": taken_over(np.arange(3), age / 1e6, age, age > 9, count, np.zeros(3, int)),
        "a few": few,
    }


@pytest.mark.parametrize("case", odd())
@pytest.mark.parametrize(("shape", "scale"), [(1.0, 1e3), (0.3, 1e5), (7.0, 2.0)])
def test_odd_positions_give_a_forecast_and_never_a_nan(case, shape, scale):
    over, before = odd()[case], Before(1, 0.02, 10.0)
    grid, found = unseen_shape_grid(NONE, over, np.array([shape]), np.array([scale]), np.zeros(1), before)
    assert np.isfinite(grid.weight).all()
    assert np.isfinite(found.likely).all()
    many = found.younger.shape[1]
    age = np.maximum(over.age[:, None] + 2 - found.younger, 0).ravel()
    weight = found.likely.reshape(-1, found.likely.shape[2])
    told = forecast(grid, age, np.zeros(age.size, int), 0.25, weight=weight)
    assert age.size == many * over.age.size
    assert 0 < told.mean[0] < 10
    assert (told.interval()[0] <= told.interval()[1]).all()


def test_a_weight_for_each_shape_is_taken_shape_by_shape():
    before = Before(1, 0.05, 10.0)
    grid = shape_grid(*NONE, **vars(before))
    half = np.full((2, grid.shape.shape[1]), 0.5)
    both = forecast(grid, [4.0, 4.0], [0, 0], 0.3, weight=half)
    assert both.mean[0] == pytest.approx(forecast(grid, [4.0], [0], 0.3).mean[0])
