"""Lives where positions were taken over in mid-life and earlier renewals were not seen."""

import numpy as np
import pytest
from scipy.integrate import quad

from jobs.reliability.life import fit_weibull
from jobs.reliability.renewal import renewal_table
from jobs.reliability.taken_over import JointLikelihood, fit_taken_over, taken_over
from jobs.reliability.two_parameters import region_drop, region_limits
from tests.by_differences import maximum
from tests.outside.life_cases import CASES

NONE = tuple(np.zeros(0, kind) for kind in (float, float, bool, float, int))


def one_position(entries, exits, failed, weight=1.0):
    count = len(entries)
    return taken_over([0] * count, entries, exits, failed, [weight] * count, [0] * count)


def height(over, shape, scale, **options):
    joint = JointLikelihood(NONE, over, 1, **options)
    density_unit = over.failed.sum() * np.log(joint.largest[0])
    return joint(np.array([[np.log(shape)], [np.log(scale / joint.largest[0])]]))[0] - density_unit


def invented_firm(rng, appliances, shape, scale, lost):
    """Spells of renewals on failure and for other causes, watched from an age between 0.5 and 16 for up to 6 years."""
    spells = []
    for number in range(appliances):
        start, last, seen = rng.uniform(0.5, 16), 0.0, False
        end = start + rng.uniform(1, 6)
        while last < end:
            life, other = scale * rng.weibull(shape), rng.exponential(1 / lost)
            until = last + min(life, other)
            if until > start:
                origin = last if seen else 0.0
                spells.append(
                    (number, max(last, start) - origin, min(until, end) - origin, life <= other and until <= end, seen)
                )
                seen = True
            last = until
    return [np.array(column) for column in zip(*spells, strict=True)]


@pytest.mark.parametrize("row", next(case for case in CASES if case["id"] == "B02-taken-over")["expected"])
def test_a_position_that_only_survives_has_the_likelihood_of_case_b02(row):
    """Cox (1962), Renewal Theory: P(no failure for x | taken over at age a)."""
    over = one_position([row["age"]], [row["age"] + row["later"]], [False])
    assert np.exp(height(over, row["shape"], 1.0)) == pytest.approx(row["survival"], abs=5e-5)


def test_likelihood_equals_numerical_integration_over_the_unseen_renewals():
    """Slow re-derivation: one repair in place, a gap, then a failure; other renewals at 0.05 a year."""
    shape, scale, lost, age = 2.2, 9.0, 0.05, 7.0
    table = renewal_table([shape], reach=1.0, steps=2048, lost_rate=lost * scale)
    grid = np.linspace(0, scale, 2049)

    def followed(then):
        shift = then - age
        hazard = lambda t: shape / scale * ((t + shift) / scale) ** (shape - 1)  # noqa: E731
        passed = lambda a, b: ((b + shift) / scale) ** shape - ((a + shift) / scale) ** shape  # noqa: E731
        return hazard(8.5) * np.exp(-passed(7.0, 8.5)) * hazard(10.0) * np.exp(-passed(8.6, 10.0))

    def weight(then):
        return np.exp(-((then / scale) ** shape) - lost * then)

    density = np.gradient(table.expected[0], grid)
    at = lambda s: np.interp(s, grid, density)  # noqa: E731
    above = weight(age) * followed(age) + quad(lambda s: at(s) * weight(age - s) * followed(age - s), 0, age)[0]
    below = weight(age) + quad(lambda s: at(s) * weight(age - s), 0, age)[0]
    over = one_position([7.0, 8.6], [8.5, 10.0], [True, True])
    assert height(over, shape, scale, lost_rate=lost) == pytest.approx(np.log(above / below), abs=2e-5)


@pytest.mark.parametrize("shape", [0.7, 0.9, 1.2, 2.0, 3.5, 8.0])
def test_as_many_ages_as_a_position_needs_tell_what_very_many_tell(shape):
    """Watched for a third of the scale from ages up to 1.6 times it, failed or not."""
    for age in (0.2, 0.5, 1.0, 1.6):
        for failed in (False, True):
            over = one_position([age], [age + 0.3], [failed])
            fine = height(over, shape, 1.0, lost_rate=0.02, nodes=400, steps=2048)
            near = np.array([[shape], [1 / (age + 0.3)]])
            told = height(over, shape, 1.0, lost_rate=0.02, near=near, steps=128)
            assert told == pytest.approx(fine, abs=5e-6 if 1 < shape < 8 else 3e-5)


@pytest.mark.parametrize("shape", [0.8, 1.5, 3.0])
def test_slopes_are_the_differences_of_the_likelihood(shape):
    """Ordinary spells, positions of one piece and of several, silent tails, in three groups."""
    rng = np.random.default_rng(2)
    unit = np.sort(rng.integers(0, 40, 90))
    begins = np.diff(unit, prepend=-1) != 0
    entry = 3 + rng.uniform(0, 5, 40)[unit] + np.cumsum(rng.uniform(0.1, 0.5, 90))
    entry = np.where(begins, entry, np.roll(entry, 1) + 0.3)
    exit, weight = entry + 0.3, np.where(begins, 1.0, 0.6)
    over = taken_over(unit, entry, exit, begins & (rng.random(90) < 0.4), weight, unit // 14)
    plain = rng.exponential(4, 20)
    spells = (plain / 3, plain, rng.random(20) < 0.5, np.ones(20), rng.integers(0, 3, 20))
    joint = JointLikelihood(spells, over, 3, lost_rate=0.03)
    at, step = np.array([[np.log(shape)] * 3, [-0.5, 0.0, 0.4]]), 1e-4
    found = joint.slopes(at)
    np.testing.assert_allclose(found[0], joint(at), rtol=1e-12)
    for row, way in ((1, [[1.0], [0.0]]), (2, [[0.0], [1.0]])):
        differences = (joint(at + step * np.array(way)) - joint(at - step * np.array(way))) / (2 * step)
        np.testing.assert_allclose(found[row], differences, atol=2e-4, rtol=1e-5)


@pytest.mark.parametrize("shape", [0.8, 1.5, 3.0])
def test_slopes_of_what_is_on_a_grid_are_those_of_each_position(shape):
    """To what the grid leaves out and numbers of 24 bits do; some groups alone tell what they tell among all."""
    rng = np.random.default_rng(3)
    age, group = rng.uniform(2, 9, 400), np.repeat(np.arange(4), 100)
    over = taken_over(np.arange(400), age, age + rng.uniform(1, 4, 400), rng.random(400) < 0.4, np.ones(400), group)
    plain = rng.exponential(4, 20)
    spells = (plain / 3, plain, rng.random(20) < 0.5, np.ones(20), rng.integers(0, 4, 20))
    grid = JointLikelihood(spells, over, 4, lost_rate=0.03, nodes=16, many=((1, (16, 10)),))
    each = grid.like(nodes=16, points=())
    at = np.array([[np.log(shape)] * 4, [-0.3, 0.0, 0.1, 0.4]])
    assert (len(grid.grids), len(grid.kept), len(each.grids)) == (1, 0, 0)
    np.testing.assert_allclose(grid.slopes(at), each.slopes(at), rtol=1e-3, atol=3e-3)
    np.testing.assert_allclose(grid(at), each(at), rtol=1e-4)
    some = np.array([1, 3])
    for told in (grid, each):
        few = told.like(some, nodes=16, points=() if told is each else None)
        np.testing.assert_allclose(few.slopes(at[:, some]), told.slopes(at)[:, some], rtol=1e-9, atol=1e-9)


def test_the_fit_of_many_positions_is_the_maximum_of_the_likelihood_of_each_by_itself():
    rng = np.random.default_rng(6)
    age, group = rng.uniform(0.5, 12, 1200), np.repeat(np.arange(6), 200)
    life = 11 * ((age / 11) ** 2.5 + rng.exponential(size=1200)) ** 0.4
    until = age + rng.uniform(1, 6, 1200)
    over = taken_over(np.arange(1200), age, np.minimum(life, until), life <= until, np.ones(1200), group)
    found = fit_taken_over(*NONE, over, groups=6, lost_rate=0.02)
    joint = JointLikelihood(NONE, over, 6, lost_rate=0.02, many=())
    at, best, bend, settled = maximum(joint, np.stack([np.log(found.shape), np.log(found.scale / joint.largest)]))
    assert settled.all()
    np.testing.assert_allclose(found.shape, np.exp(at[0]), rtol=3e-4)
    np.testing.assert_allclose(found.scale, np.exp(at[1]) * joint.largest, rtol=3e-4)
    exact = region_limits(joint, at, best, bend, 0.90, joint.totals()[0])
    for name, values in exact.items():
        unit = 1.0 if name.startswith("shape") else joint.largest
        half = np.abs(np.log(getattr(found, name.split("_")[0])) - np.log(np.exp(values) * unit))
        assert (np.abs(np.log(getattr(found, name)) - values - np.log(unit)) < 0.03 * half).all()


def test_at_shape_one_the_unseen_past_makes_no_difference():
    over = one_position([7.0, 8.6], [8.5, 10.0], [True, False])
    assert height(over, 1.0, 9.0) == pytest.approx(-np.log(9.0) - 2.9 / 9.0, abs=1e-9)


def test_without_positions_taken_over_the_fit_is_the_plain_one():
    exit, failed = np.array([3.0, 5, 8, 9]), np.array([1, 1, 0, 1], bool)
    columns = (np.zeros(4), exit, failed, np.ones(4), np.zeros(4, int))
    joint = fit_taken_over(*columns, taken_over([], [], [], [], [], []), groups=1)
    assert joint.shape[0] == fit_weibull(*columns).shape[0]


def test_maximum_and_limits_of_any_likelihood_agree_with_the_plain_fit():
    """The ordinary Weibull likelihood, climbed the general way, against Newton on the profile."""
    rng = np.random.default_rng(3)
    group = np.repeat(np.arange(6), 40)
    exit = 7 * rng.weibull(np.repeat([0.8, 1, 1.5, 2, 3, 5], 40))
    failed = rng.random(240) < 0.6
    columns = (np.zeros(240), exit, failed, np.ones(240), group)
    plain = fit_weibull(*columns, groups=6)
    joint = JointLikelihood(columns, taken_over([], [], [], [], [], []), 6)
    at, best, bend, settled = maximum(joint, np.stack([np.zeros(6), np.zeros(6)]))
    assert settled.all()
    np.testing.assert_allclose(np.exp(at[0]), plain.shape, rtol=1e-4)
    np.testing.assert_allclose(np.exp(at[1]) * joint.largest, plain.scale, rtol=1e-4)
    limits = region_limits(joint, at, best, bend, 0.90)
    for name in ("shape", "scale", "mean", "b10"):
        unit = 1.0 if name == "shape" else joint.largest
        for end in ("low", "high"):
            wanted = getattr(plain, f"{name}_{end}")
            np.testing.assert_allclose(np.exp(limits[f"{name}_{end}"]) * unit, wanted, rtol=2e-3)


def test_few_failures_widen_the_region_as_students_t_widens_a_mean_and_many_do_not():
    """Mean of r normal ages: the interval by likelihood is Student's: 2.353 at 3 degrees, 90 %, in any t table."""
    drop = region_drop(0.90, np.array([4.0, 1e6, np.inf]))
    assert drop[0] == pytest.approx(2 * np.log1p(2.353**2 / 3), rel=1e-3)
    assert drop[1] == pytest.approx(region_drop(0.90), rel=1e-4)
    assert drop[2] == region_drop(0.90) == pytest.approx(2.7055 / 2, rel=1e-4)


@pytest.mark.parametrize(("shape", "scale"), [(2.5, 13.0), (3.5, 11.0)])
def test_estimates_are_near_the_truth_where_the_original_is_not(shape, scale):
    """Sixteen firms of 500 appliances, one part in 33 a year renewed for other causes."""
    rng = np.random.default_rng(1)
    spells = [invented_firm(rng, 500, shape, scale, 0.03) for _ in range(16)]
    group = np.repeat(np.arange(16), [one[0].size for one in spells])
    unit, entry, exit, failed, seen = (np.concatenate(column) for column in zip(*spells, strict=True))
    unit, weight = unit + 1000 * group, np.ones(group.size)
    known = tuple(column[seen] for column in (entry, exit, failed, weight, group))
    over = taken_over(*(column[~seen] for column in (unit, entry, exit, failed, weight, group)))
    joint = fit_taken_over(*known, over, groups=16, lost_rate=0.03)
    first = fit_weibull(entry, exit, failed, weight, group, groups=16)
    assert (joint.status == "fitted").all()
    assert joint.shape.mean() == pytest.approx(shape, rel=0.06)
    assert joint.scale.mean() == pytest.approx(scale, rel=0.04)
    assert first.shape.mean() < 0.85 * shape
    assert np.mean((joint.shape_low < shape) & (joint.shape_high > shape)) >= 0.75


def test_groups_without_enough_failures_keep_their_status():
    over = taken_over([0, 1, 2], [4.0, 5, 6], [6.0, 7, 8], [False, True, False], np.ones(3), [0, 1, 2])
    joint = fit_taken_over(*NONE, over, groups=4)
    assert joint.status.tolist() == ["no-failures", "one-failure", "no-failures", "no-failures"]
    assert np.isnan(joint.shape).all()


def test_wild_small_groups_give_a_fit_or_a_status_and_never_a_number_that_is_none():
    rng = np.random.default_rng(4)
    group = np.repeat(np.arange(200), rng.integers(1, 9, 200))
    entry = rng.exponential(4, group.size) * 10.0 ** rng.integers(-6, 7)
    exit = entry + rng.exponential(2, group.size) * entry
    over = taken_over(np.arange(group.size), entry, exit, rng.random(group.size) < 0.6, np.ones(group.size), group)
    joint = fit_taken_over(*NONE, over, groups=200)
    there = joint.status == "fitted"
    assert there.any()
    assert np.isfinite(joint.shape[there]).all()
    assert np.isnan(joint.shape[~there]).all()
    assert (np.isnan(joint.shape_low) | (joint.shape_low <= joint.shape)).all()


def test_large_groups_end_on_a_fine_grid_close_to_each_position_by_itself(monkeypatch):
    rng = np.random.default_rng(11)
    entry = rng.uniform(1, 15, 3000)
    end = entry + rng.uniform(1, 6, 3000)
    life = 13 * ((entry / 13) ** 2.2 + rng.exponential(size=3000)) ** (1 / 2.2)
    over = taken_over(
        np.arange(3000), entry, np.minimum(life, end), life <= end, np.ones(3000), np.zeros(3000, int)
    )  # fmt: skip
    nothing = [np.zeros(0, kind) for kind in (float, float, bool, float, int)]
    large = fit_taken_over(*nothing, over, groups=1, lost_rate=0.01)
    monkeypatch.setattr("jobs.reliability.taken_over.GRIDS", ((10_000, (16, 10)), (20_000, (24, 14))))
    single = fit_taken_over(*nothing, over, groups=1, lost_rate=0.01)
    assert large.shape == pytest.approx(single.shape, rel=1e-4)
    assert large.scale == pytest.approx(single.scale, rel=1e-4)
