"""The same figures from independent libraries, run live: scipy and surpyval."""

import numpy as np
import pytest
import surpyval
from scipy import stats
from scipy.optimize import minimize_scalar
from surpyval import recurrent

from jobs.reliability.constant_rate import compare_rates, mtbf_limits
from jobs.reliability.curves import mean_repairs, survival_curve
from jobs.reliability.life import fit_weibull
from jobs.reliability.shrinkage import plug_in
from jobs.reliability.trend import trend


def sample(seed, size=60, late=True, shape=2.2, scale=10.0):
    """Entry, exit and failed of units, some of them watched from a later age on, stopped after a while."""
    rng = np.random.default_rng(seed)
    entry = np.where(rng.random(size) < 0.6, rng.uniform(0, 8, size), 0.0) * late
    life = scale * ((entry / scale) ** shape + rng.exponential(size=size)) ** (1 / shape)
    end = entry + rng.uniform(1, 12, size)
    return entry, np.minimum(life, end), life <= end


@pytest.mark.parametrize("seed", range(5))
def test_fit_without_late_entries_equals_scipy(seed):
    entry, exit, failed = sample(seed, late=False)
    shape, _, scale = stats.weibull_min.fit(
        stats.CensoredData(uncensored=exit[failed], right=exit[~failed]),
        floc=0,
        method="mle",
        optimizer=lambda f, start, args, disp: _polish(f, start, args),
    )
    ours = fit_weibull(entry, exit, failed)
    assert ours.shape[0] == pytest.approx(shape, rel=1e-6)
    assert ours.scale[0] == pytest.approx(scale, rel=1e-6)


def _polish(function, start, args):
    """scipy's own likelihood, minimised far enough to compare at 1e-6."""
    from scipy.optimize import minimize

    found = minimize(
        function, start, args=args, method="Nelder-Mead", options={"xatol": 1e-11, "fatol": 1e-13, "maxiter": 5000}
    )
    return found.x


@pytest.mark.parametrize("seed", range(5))
def test_fit_with_late_entries_equals_surpyval(seed):
    entry, exit, failed = sample(seed, size=80)
    theirs = surpyval.Weibull.fit(exit, (~failed).astype(int), tl=entry)
    ours = fit_weibull(entry, exit, failed)
    assert theirs.params == pytest.approx([ours.scale[0], ours.shape[0]], rel=2e-6)


@pytest.mark.parametrize("seed", range(3))
def test_limits_equal_a_direct_profile_of_each_quantity(seed):
    """Slow re-derivation: fix the quantity, maximise the likelihood over the shape, find where it has fallen."""
    from scipy.optimize import brentq
    from scipy.special import gammaln

    entry, exit, failed = sample(seed + 20, size=30)
    ours = fit_weibull(entry, exit, failed, level=0.9)
    drop = stats.chi2.ppf(0.9, 1) / 2

    def height(shape, scale):
        hazard = np.sum((exit / scale) ** shape - (entry / scale) ** shape)
        return np.sum(np.log(shape / scale) + (shape - 1) * np.log(exit[failed] / scale)) - hazard

    best = height(ours.shape[0], ours.scale[0])
    scale_at = {"scale": lambda b: 0.0, "mean": lambda b: gammaln(1 + 1 / b), "b10": lambda b: np.log(-np.log(0.9)) / b}

    def profile(name, value):
        found = minimize_scalar(
            lambda x: -height(np.exp(x), np.exp(np.log(value) - scale_at[name](np.exp(x)))),
            bounds=(np.log(ours.shape_low[0] / 2), np.log(ours.shape_high[0] * 2)),
            method="bounded",
            options={"xatol": 1e-10},
        )
        return best + found.fun - drop

    for name in scale_at:
        estimate = getattr(ours, name)[0]
        low = brentq(lambda value, name=name: profile(name, value), estimate / 6, estimate, rtol=1e-12)
        high = brentq(lambda value, name=name: profile(name, value), estimate, estimate * 6, rtol=1e-12)
        assert getattr(ours, f"{name}_low")[0] == pytest.approx(low, rel=1e-6)
        assert getattr(ours, f"{name}_high")[0] == pytest.approx(high, rel=1e-6)


def test_survival_curve_equals_scipy_without_late_entries():
    _, exit, failed = sample(3, late=False)
    theirs = stats.ecdf(stats.CensoredData(uncensored=exit[failed], right=exit[~failed])).sf
    with pytest.warns(RuntimeWarning, match="undefined at some observations"):
        limits = theirs.confidence_interval(0.9, method="log-log")
    ours = survival_curve(np.zeros(exit.size), exit, failed, level=0.9)
    there = np.isin(theirs.quantiles, ours.age)
    np.testing.assert_allclose(ours.survival, theirs.probabilities[there], rtol=1e-12)
    inside = ours.survival > 0
    np.testing.assert_allclose(ours.low[inside], limits.low.probabilities[there][inside], rtol=1e-10)
    np.testing.assert_allclose(ours.high[inside], limits.high.probabilities[there][inside], rtol=1e-10)


def test_survival_curve_with_late_entries_equals_surpyval():
    entry, exit, failed = sample(4)
    entry, exit = np.round(entry, 1), np.round(exit + 0.1, 1)
    theirs = surpyval.KaplanMeier.fit(exit, (~failed).astype(int), tl=entry)
    hazard = surpyval.NelsonAalen.fit(exit, (~failed).astype(int), tl=entry)
    ours = survival_curve(entry, exit, failed)
    there = np.isin(theirs.x, ours.age)
    np.testing.assert_allclose(ours.survival, theirs.R[there], rtol=1e-12, atol=1e-15)
    np.testing.assert_allclose(ours.cumulative_hazard, hazard.H[there], rtol=1e-12)
    ends = hazard.cb(ours.age, on="Hf", alpha_ci=0.10)
    np.testing.assert_allclose(np.stack([ours.hazard_low, ours.hazard_high], axis=1), ends, rtol=1e-10)


@pytest.mark.parametrize(("failures", "exposure"), [(1, 12.0), (4, 1990.0), (250, 9.5)])
def test_mtbf_limits_equal_scipys_exact_poisson_limits(failures, exposure):
    ours = mtbf_limits([failures], [exposure], level=0.9)
    low, high = stats.chi2.ppf(0.05, 2 * failures) / 2, stats.chi2.ppf(0.95, 2 * failures + 2) / 2
    assert ours.high[0] == pytest.approx(exposure / low, rel=1e-10)
    assert ours.low[0] == pytest.approx(exposure / high, rel=1e-10)


@pytest.mark.parametrize(("r1", "t1", "r2", "t2"), [(3, 10.0, 9, 100.0), (0, 7.0, 4, 3.0), (40, 1.0, 20, 1.0)])
def test_two_rates_equal_scipys_binomial_test(r1, t1, r2, t2):
    ours = compare_rates(r1, t1, r2, t2, level=0.9)
    share = t1 / (t1 + t2)
    tails = [stats.binomtest(r1, r1 + r2, share, alternative=side).pvalue for side in ("less", "greater")]
    limits = stats.binomtest(r1, r1 + r2, share).proportion_ci(0.9, method="exact")
    assert ours.p == pytest.approx(min(1.0, 2 * min(tails)), rel=1e-10)
    assert ours.low == pytest.approx(limits.low / (1 - limits.low) * t2 / t1, rel=1e-9)
    assert ours.high == pytest.approx(limits.high / (1 - limits.high) * t2 / t1, rel=1e-9)


def test_gamma_posterior_equals_scipy():
    ours = plug_in(0.8, 1.25, [5, 0], [94.0, 3.0], level=0.9)
    posterior = stats.gamma([5.8, 0.8], scale=1 / np.array([95.25, 4.25]))
    np.testing.assert_allclose(ours.mtbf, 1 / posterior.mean(), rtol=1e-12)
    np.testing.assert_allclose(ours.low, 1 / posterior.ppf(0.95), rtol=1e-8)
    np.testing.assert_allclose(ours.high, 1 / posterior.ppf(0.05), rtol=1e-8)


def test_laplace_test_is_scipys_normal_of_the_mean_place():
    times = np.array([2.0, 3.0, 7.0, 11.0, 18.0])
    ours = trend(times, 20.0)
    z = (times.mean() / 20 - 0.5) * np.sqrt(12 * times.size)
    assert ours.laplace[0] == pytest.approx(z, rel=1e-12)
    assert ours.laplace_p[0] == pytest.approx(2 * stats.norm.sf(abs(z)), rel=1e-12)
    assert ours.mil_p[0] == pytest.approx(2 * min(stats.chi2.cdf(ours.mil[0], 10), stats.chi2.sf(ours.mil[0], 10)))


@pytest.mark.parametrize("failure_terminated", [False, True])
@pytest.mark.parametrize("seed", range(3))
def test_trend_tests_equal_surpyval(seed, failure_terminated):
    times = np.sort(30 * np.random.default_rng(seed).random(12) ** 0.7)
    end = times[-1] if failure_terminated else 31.0
    ours = trend(times, end, failure_terminated=failure_terminated)
    centre = recurrent.laplace(times, T=None if failure_terminated else end)
    growth = recurrent.mil_hdbk_189c(times, T=None if failure_terminated else end)
    assert ours.laplace[0] == pytest.approx(centre.statistic, rel=1e-9)
    assert ours.laplace_p[0] == pytest.approx(centre.p_value, rel=1e-9)
    assert ours.mil[0] == pytest.approx(growth.statistic, rel=1e-9)
    assert ours.mil_p[0] == pytest.approx(growth.p_value, rel=1e-9)


@pytest.mark.parametrize("late", [False, True])
def test_mean_repairs_and_their_limits_equal_surpyval(late):
    rng = np.random.default_rng(7)
    start, end = rng.uniform(0, 4, 15) * late, rng.uniform(5, 12, 15)
    system = rng.integers(0, 15, 40)
    age = np.round(start[system] + (end - start)[system] * rng.uniform(0.01, 1, 40), 2)
    ours = mean_repairs(system, age, end, start, level=0.9)
    theirs = surpyval.NonParametricCounting.fit(
        np.append(age, end),
        np.append(system, np.arange(15)),
        np.repeat([0, 1], [40, 15]),
        tl=np.append(start[system], start) if late else None,
    )
    np.testing.assert_allclose(ours.mean, theirs.mcf(ours.age), rtol=1e-9)
    low, high = theirs.mcf_cb(ours.age, alpha_ci=0.1).T
    np.testing.assert_allclose(ours.low, low, rtol=1e-6)
    np.testing.assert_allclose(ours.high, high, rtol=1e-6)


def test_limits_of_a_curve_with_late_entries_equal_surpyval():
    entry, exit, failed = sample(9)
    entry, exit = np.round(entry, 1), np.round(exit + 0.1, 1)
    ours = survival_curve(entry, exit, failed, level=0.9)
    theirs = surpyval.KaplanMeier.fit(exit, (~failed).astype(int), tl=entry)
    inside = (ours.survival > 0) & (ours.survival < 1)
    limits = np.sort(theirs.R_cb(ours.age[inside], alpha_ci=0.1, bound_type="exp"), axis=1)
    np.testing.assert_allclose(ours.low[inside], limits[:, 0], rtol=1e-6)
    np.testing.assert_allclose(ours.high[inside], limits[:, 1], rtol=1e-6)
