"""Every case of fixtures/cases/life.json, its source beside it in the name of the check."""

import json
import warnings
from io import StringIO

import numpy as np
import pytest
from django.core.management import call_command

from jobs.reliability.constant_rate import compare_rates, mtbf_limits
from jobs.reliability.curves import mean_repairs, survival_curve
from jobs.reliability.life import fit_weibull
from jobs.reliability.renewal import forward_survival, renewal_table
from jobs.reliability.replacement import age_replacement
from jobs.reliability.shrinkage import marginal_prior, plug_in
from jobs.reliability.trend import trend
from tests.outside.life_cases import CASES, SOURCES, cases, close, columns

STATUS_OF = {
    "no failures": "no-failures",
    "one failure": "one-failure",
    "one failure age": "all-ages-equal",
    "shape at its edge (no finite maximum)": "shape-at-edge",
}
FIGURES = [name + end for name in ("shape", "scale", "mean", "b10") for end in ("", "_low", "_high")] + ["lr_p"]


def test_every_case_has_a_check_and_a_source():
    kinds = {"life", "curve", "mcf", "trend", "rates", "shrink", "replacement", "renewal", "forward-recurrence"}
    assert {case["kind"] for case in CASES} == kinds
    assert {case["id"] for case in CASES} == set(SOURCES)


@pytest.mark.parametrize("case", cases("life"))
def test_lives_and_constant_rates(case):
    names, group, entry, exit, failed, count = columns(case)
    fits = fit_weibull(entry, exit, failed, count, group, groups=len(names), level=case["level"])
    failures = np.bincount(group, failed * count)
    exposure = np.bincount(group, count * (exit - entry))
    rate = mtbf_limits(failures, exposure, case["level"])
    for number, name in enumerate(names):
        wanted = case["expected"].get(name)
        if wanted is None:
            continue
        told = {
            "failures": failures,
            "exposure": exposure,
            "mtbf": rate.mtbf,
            "mtbf_low": rate.low,
            "mtbf_high": rate.high,
        } | vars(fits)
        for figure in ("failures", "exposure", "mtbf", "mtbf_low", "mtbf_high", *FIGURES):
            close(told[figure][number], wanted.get(figure), case["tolerance"])
        assert fits.status[number] == STATUS_OF.get(wanted.get("why"), "fitted")
        if "published" in case:
            for figure in set(case["published"]) - {"tolerance", "from_memory"}:
                close(told[figure][number], case["published"][figure], case["published"]["tolerance"])


@pytest.mark.parametrize("case", cases("life"))
def test_command_life_tells_the_same(case, tmp_path):
    file, out = tmp_path / "ages.csv", StringIO()
    file.write_text(case["data"], encoding="utf-8")
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        call_command("life", str(file), "--level", str(case["level"]), "--json", stdout=out)
    groups = {group["group"]: group for group in json.loads(out.getvalue())["groups"]}
    for name, wanted in case["expected"].items():
        for figure in ("failures", "exposure", "mtbf", "mtbf_low", "mtbf_high", *FIGURES):
            close(
                [groups[name][figure] if groups[name][figure] is not None else np.nan],
                wanted.get(figure),
                case["tolerance"],
            )
        assert groups[name]["status"] == STATUS_OF.get(wanted.get("why"), "fitted")


@pytest.mark.parametrize("case", cases("curve"))
def test_survival_curves(case):
    names, group, entry, exit, failed, count = columns(case)
    curve = survival_curve(entry, exit, failed, count, group, groups=len(names), level=case["level"])
    for number, name in enumerate(names):
        own = curve.group == number
        got = np.stack(
            [curve.age, curve.at_risk, curve.events, curve.survival, curve.low, curve.high, curve.cumulative_hazard],
            axis=1,
        )[own]
        wanted = np.array(case["expected"][name], float)
        np.testing.assert_allclose(got, wanted, rtol=case["tolerance"], atol=1e-15)
        if case.get("published", {}).get("group") == name:
            for age, survival in case["published"]["survival"].items():
                assert got[got[:, 0] == float(age), 3] == pytest.approx(survival, abs=case["published"]["tolerance"])


@pytest.mark.parametrize("case", cases("mcf"))
def test_mean_repairs(case):
    systems = case["data"]["systems"]
    system = np.repeat(np.arange(len(systems)), [len(one["events"]) for one in systems])
    age = np.concatenate([one["events"] for one in systems])
    curve = mean_repairs(system, age, [one["end"] for one in systems])
    got = np.stack([curve.age, curve.watched, curve.events, curve.mean], axis=1)
    np.testing.assert_allclose(got, case["expected"], rtol=case["tolerance"])


@pytest.mark.parametrize("case", cases("trend"))
def test_trends(case):
    found = trend(case["data"]["times"], case["data"]["end"], failure_terminated=case["data"]["failure_terminated"])
    for figure, wanted in case["expected"].items():
        close(getattr(found, figure)[0], wanted, case["tolerance"])
    if "published" in case:
        close(found.power_shape, case["published"]["power_shape"], case["published"]["tolerance"])


@pytest.mark.parametrize("case", cases("rates"))
def test_two_rates(case):
    data = case["data"]
    found = compare_rates(data["r1"], data["T1"], data["r2"], data["T2"], case["level"])
    for figure, got in (("p", found.p), ("ratio", found.ratio), ("ratio_low", found.low), ("ratio_high", found.high)):
        close(got, case["expected"][figure], case["tolerance"])


@pytest.mark.parametrize("case", cases("shrink"))
def test_gamma_priors(case):
    failures, exposure, wanted = case["data"]["failures"], case["data"]["exposure"], case["expected"]
    prior = marginal_prior(failures, exposure)
    close([prior.mean_rate], wanted["prior_mean_rate"], case["tolerance"])
    if wanted["prior_shape"] is None:
        assert prior.shape is prior.rate is None
        assert prior.reason == "groups not told apart"
        close(np.full(len(failures), 1 / prior.mean_rate), wanted["mtbf"], case["tolerance"])
        return
    close([prior.shape, prior.rate], [wanted["prior_shape"], wanted["prior_rate"]], case["tolerance"])
    shrunk = plug_in(prior.shape, prior.rate, failures, exposure, case["level"])
    for figure, got in (("mtbf", shrunk.mtbf), ("mtbf_low", shrunk.low), ("mtbf_high", shrunk.high)):
        close(got, wanted[figure], case["tolerance"])


@pytest.mark.parametrize("case", cases("replacement"))
def test_age_replacement(case):
    found = age_replacement(**case["data"])
    for figure, wanted in case["expected"].items():
        close(getattr(found, figure), wanted, case["tolerance"])
    if "published" in case:
        close(found.age, case["published"]["age"], case["published"]["tolerance"])


@pytest.mark.parametrize("case", cases("renewal"))
def test_renewal_function(case):
    for shape, expected in case["expected"].items():
        table = renewal_table([float(shape)], reach=2.0)
        for age, wanted in expected.items():
            close(table.at([float(age)])[0], wanted, case["tolerance"])


@pytest.mark.parametrize("case", cases("forward-recurrence"))
def test_position_taken_over(case):
    for row in case["expected"]:
        table = renewal_table([row["shape"]], reach=2.0)
        close(forward_survival(table, [row["age"]], [row["later"]])[0], row["survival"], case["tolerance"])
