"""Weibull fits of many groups: always a result or a named status, whatever comes in."""

import warnings

import numpy as np
import pytest

from jobs.reliability.life import WeibullFits, fit_weibull

FIGURES = [name for name in WeibullFits.__dataclass_fields__ if name != "status"]


@pytest.fixture(autouse=True)
def _no_warning_is_silent():
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        yield


def fitted(entry, exit, failed, **options):
    return fit_weibull(np.asarray(entry, float), np.asarray(exit, float), np.asarray(failed, bool), **options)


@pytest.mark.parametrize(
    ("entry", "exit", "failed", "status"),
    [
        ([], [], [], None),
        ([0, 0], [3, 5], [0, 0], "no-failures"),
        ([0, 0], [3, 5], [0, 1], "one-failure"),
        ([0, 0, 0], [4, 4, 9], [1, 1, 0], "all-ages-equal"),
        ([0, 0, 0], [0, 0, 0], [0, 0, 0], "no-failures"),
        ([3, 4], [3, 4], [1, 1], "shape-at-edge"),
        ([0, 0, 7, 9], [2, 2, 7, 9], [0, 0, 1, 1], "shape-at-edge"),
        ([1, 1, 2, 2, 3], [1.1, 1.2, 2.3, 30, 40], [1, 1, 1, 0, 0], "shape-at-edge"),
        ([0, 0, 0], [0, 3, 5], [1, 1, 1], "fitted"),
        ([0, 0, 5], [2, 6, 5], [1, 1, 1], "fitted"),
    ],
)
def test_every_group_has_a_status(entry, exit, failed, status):
    fits = fitted(entry, exit, failed, groups=1)
    assert fits.status[0] == (status or "no-failures")
    assert np.isfinite(fits.shape[0]) == (status == "fitted")


def test_groups_do_not_touch_each_other():
    rng = np.random.default_rng(5)
    exit, failed, group = rng.exponential(5, 90), rng.random(90) < 0.6, rng.integers(0, 4, 90)
    entry = exit * rng.random(90) * (rng.random(90) < 0.5)
    together = fitted(entry, exit, failed, group=group, groups=6)
    for number in range(4):
        own = group == number
        alone = fitted(entry[own], exit[own], failed[own])
        for name in FIGURES:
            np.testing.assert_allclose(getattr(together, name)[number], getattr(alone, name)[0], rtol=1e-9)
    assert together.status[4] == together.status[5] == "no-failures"


@pytest.mark.parametrize("seed", range(4))
def test_a_group_among_many_has_the_numbers_that_it_has_alone(seed):
    rng, units = np.random.default_rng(seed), []
    for _ in range(60):
        exit = rng.weibull(rng.choice([0.1, 0.7, 1.5, 10, 200]), rng.choice([3, 5, 8, 20])) * 10 ** rng.uniform(-3, 3)
        units.append((exit * rng.uniform(0, 1, exit.size) * (rng.random() < 0.5), exit, rng.random(exit.size) < 0.8))
    columns = [np.concatenate([unit[k] for unit in units]) for k in range(3)]
    together = fit_weibull(*columns, group=np.repeat(np.arange(60), [len(unit[0]) for unit in units]))
    alone = [fit_weibull(*unit) for unit in units]
    for name in set(WeibullFits.__dataclass_fields__) - {"status"}:
        each = np.array([getattr(one, name)[0] for one in alone])
        np.testing.assert_allclose(getattr(together, name), each, rtol=1e-8, err_msg=name)


def test_a_shape_found_by_halving_is_as_close_as_one_found_by_newton():
    entry, exit = [0.4746730835, 3.4915072791], [0.5487243679, 3.4923344223]
    low, high, t, u = 3.3, 3.5, np.array(exit), np.array(entry)
    for _ in range(60):  # the slope of the profile, halved by hand
        b = (low + high) / 2
        hazard, slope = np.sum(t**b - u**b), np.sum(t**b * np.log(t) - u**b * np.log(u))
        low, high = (b, high) if 2 / b + np.sum(np.log(t)) > 2 * slope / hazard else (low, b)
    np.testing.assert_allclose(fit_weibull(entry, exit, [1, 1]).shape[0], b, rtol=1e-9)


def test_a_count_is_so_many_equal_rows():
    exit, failed, count = np.array([3.0, 5, 8, 9]), np.array([1, 0, 1, 1], bool), np.array([2, 5, 1, 0])
    counted = fitted(np.zeros(4), exit, failed, weight=count)
    rows = fitted(np.zeros(8), np.repeat(exit, count), np.repeat(failed, count))
    for name in FIGURES:
        assert getattr(counted, name)[0] == pytest.approx(getattr(rows, name)[0], rel=1e-10)


@pytest.mark.parametrize("unit", [1e-9, 1e-3, 1e9])
def test_ages_scale_with_the_unit_and_shapes_do_not(unit):
    entry, exit, failed = [0, 1, 0, 2, 0, 3], [4, 6, 7, 3, 9, 8], [1, 1, 0, 1, 1, 0]
    one, other = fitted(entry, exit, failed), fitted(np.multiply(entry, unit), np.multiply(exit, unit), failed)
    for name in FIGURES:
        factor = 1.0 if name.startswith("shape") or name == "lr_p" else unit
        assert getattr(other, name)[0] == pytest.approx(factor * getattr(one, name)[0], rel=1e-8, nan_ok=True)


def test_exponential_lives_give_exposure_over_failures_at_shape_one():
    quantiles = -np.log1p(-(np.arange(2000) + 0.5) / 2000) * 7
    fits = fitted(np.zeros(2000), quantiles, np.ones(2000))
    assert fits.shape[0] == pytest.approx(1.0, abs=0.005)
    assert fits.mean[0] == pytest.approx(7.0, rel=0.005)
    assert fits.lr_p[0] > 0.9


def test_late_entry_split_into_two_spells_changes_nothing():
    """A unit watched from 0 to 9 is one watched from 0 to 4 and then from 4 to 9."""
    whole = fitted([0, 0, 0, 0], [9, 5, 7, 8], [1, 1, 0, 1])
    split = fitted([0, 4, 0, 0, 2, 0], [4, 9, 5, 2, 7, 8], [0, 1, 1, 0, 0, 1])
    for name in FIGURES:
        assert getattr(split, name)[0] == pytest.approx(getattr(whole, name)[0], rel=1e-9)


def test_units_that_all_come_late_may_leave_the_shape_without_lower_limit():
    fits = fitted([1, 1, 2, 2, 3], [1.1, 1.2, 2.3, 30, 40], [0, 0, 1, 1, 1])
    assert fits.status[0] == "fitted"
    assert np.isfinite(fits.shape_high[0])
    assert np.isnan(
        [getattr(fits, f"{name}_{end}")[0] for name in ("scale", "mean", "b10") for end in ("low", "high")]
    ).all()


def test_limits_enclose_the_estimate_in_every_wild_small_group():
    rng = np.random.default_rng(11)
    for kind in range(5):
        group = np.repeat(np.arange(300), rng.integers(0, 9, 300))
        exit = rng.exponential(size=group.size) * 10.0 ** rng.integers(-9, 10)
        exit = np.round(exit, 1) if kind == 1 else exit
        entry = [
            0 * exit,
            0 * exit,
            exit * rng.random(exit.size),
            np.where(rng.random(exit.size) < 0.3, exit, 0),
            exit * rng.random(exit.size) ** 0.05,
        ][kind]
        fits = fitted(
            entry, exit, rng.random(exit.size) < 0.6, weight=rng.integers(0, 4, exit.size), group=group, groups=300
        )
        there = fits.status == "fitted"
        assert there.any()
        assert "not-converged" not in fits.status
        for name in ("shape", "scale", "mean", "b10"):
            low, middle, high = (getattr(fits, name + end)[there] for end in ("_low", "", "_high"))
            assert (middle >= 0).all()
            assert (np.isnan(low) | (low <= middle)).all()
            assert (np.isnan(high) | (high >= middle)).all()
            assert np.isnan(getattr(fits, name)[~there]).all()


def test_two_failures_close_together_give_a_steep_life_not_an_error():
    fits = fitted([0, 0], [1e6, 1e6 + 0.1], [1, 1])
    assert fits.status[0] == "fitted"
    assert fits.shape[0] > 1e6


def test_a_million_rows_are_fitted_at_once():
    rng = np.random.default_rng(2)
    group = np.sort(rng.integers(0, 50, 1_000_000))
    entry = rng.uniform(0, 5, group.size)
    life = 10 * ((entry / 10) ** 2.5 + rng.exponential(size=group.size)) ** 0.4
    exit = np.minimum(life, entry + 4)
    fits = fitted(entry, exit, life <= entry + 4, group=group, groups=50)
    assert (fits.status == "fitted").all()
    np.testing.assert_allclose(fits.shape, 2.5, rtol=0.1)
    np.testing.assert_allclose(fits.scale, 10.0, rtol=0.05)


def test_profile_limits_of_the_shape_cover_as_they_say():
    """4,000 samples of twenty units, all failed: 90 % limits hold the truth in 86 to 92 % of them."""
    rng = np.random.default_rng(8)
    group = np.repeat(np.arange(4000), 20)
    fits = fitted(np.zeros(group.size), 10 * rng.weibull(2.5, group.size), np.ones(group.size), group=group)
    for name, true in (("shape", 2.5), ("scale", 10.0)):
        covered = np.mean((getattr(fits, f"{name}_low") <= true) & (true <= getattr(fits, f"{name}_high")))
        assert 0.86 < covered < 0.92
