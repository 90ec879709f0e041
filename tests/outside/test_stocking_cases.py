"""The published and constructed cases of stock for repair (fixtures/cases/stocking.json), each with its source there.

Where the product needs no such formula (base-stock with a fixed cost, steady-state fill rates, depot pipelines),
the case is worked out here from the product's loss functions or scipy.
"""

import json
from itertools import product
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from inventory.stocking.demand import (
    Demand,
    negative_binomial_loss,
    poisson_loss,
    smallest_level,
)
from inventory.stocking.reorder import best_discounted_quantity, economic_order_quantity

CASES = {case["id"]: case for case in json.loads(Path("fixtures/cases/stocking.json").read_text())}


def case(name):
    found = CASES[name]
    return found["inputs"], found["expected"], found["tolerance"]


def test_every_case_has_a_test_here():
    text = "".join(path.read_text() for path in Path(__file__).parent.glob("test_stocking_*.py"))
    assert [name for name in CASES if f'case("{name}")' not in text] == []


def test_economic_order_quantity():
    given, expected, near = case("P01-eoq")
    quantity, cost = economic_order_quantity(given["fixed_cost"], given["holding_cost"], given["demand_rate"])
    assert (quantity, cost) == pytest.approx((expected["Q"], expected["cost"]), rel=near)


def test_newsvendor_under_normal_demand():
    given, expected, near = case("P02-newsvendor-normal")
    h, p, mean, sd = (given[k] for k in ("h", "p", "mean", "sd"))
    level = stats.norm.ppf(p / (h + p), mean, sd)
    short = sd * (stats.norm.pdf((level - mean) / sd) - (level - mean) / sd * stats.norm.sf(level, mean, sd))
    assert (level, h * (level - mean + short) + p * short) == pytest.approx((expected["S"], expected["cost"]), rel=near)


def test_newsvendor_under_poisson_demand():
    given, expected, near = case("P03-newsvendor-poisson")
    level = smallest_level(given["p"] / (given["h"] + given["p"]), stats.poisson(given["mean"]))
    short, over = poisson_loss(level, given["mean"])
    assert level == expected["S"]
    assert given["h"] * over + given["p"] * short == pytest.approx(expected["cost"], rel=near)


def test_poisson_loss():
    given, expected, near = case("P04-poisson-loss")
    found = poisson_loss(given["x"], given["mean"])
    assert found == pytest.approx((expected["EBO"], expected["complementary"]), abs=near)


def test_negative_binomial_loss():
    given, expected, near = case("P05-negbin-loss")
    found = negative_binomial_loss(given["x"], given["r"], given["p"])
    assert found == pytest.approx((expected["EBO"], expected["complementary"]), abs=near)


def test_order_up_to_levels_with_a_fixed_cost():
    """By renewal reward over Poisson(6) periods (Snyder & Shen, section 4.4), all (s, S) tried."""
    given, expected, near = case("P06-sS")
    h, p, fixed = given["h"], given["p"], given["K"]
    law = stats.poisson(6).pmf(np.arange(60))
    levels = np.arange(-20, 31)
    losses = [poisson_loss(max(y, 0), 6) for y in levels]
    period = np.array([h * over + p * (short - min(y, 0)) for y, (short, over) in zip(levels, losses, strict=True)])
    visits = np.zeros(51)  # expected periods spent d below S before ordering
    for d in range(51):
        visits[d] = ((d == 0) + sum(visits[j] * law[d - j] for j in range(d))) / (1 - law[0])
    best = min(
        ((fixed + sum(visits[d] * period[S - d + 20] for d in range(S - s))) / visits[: S - s].sum(), s, S)
        for S, s in product(range(1, 25), range(-10, 24))
        if s < S
    )
    assert best == pytest.approx((expected["cost"], expected["s"], expected["S"]), rel=near)


def test_quantity_discount_on_all_units():
    given, expected, near = case("P07-quantity-discount")
    quantity, region, cost = best_discounted_quantity(
        given["K"], given["i"], given["D"], given["breakpoints"], given["unit_costs"]
    )
    assert (quantity, region, cost) == pytest.approx((expected["Q"], expected["region"], expected["cost"]), rel=near)


def test_spares_for_thirty_parts():
    given, expected, near = case("P08-nomograph-30")
    mean = given["parts"] * given["hours_per_day"] * given["days"] / given["mtbf_h"]
    law = stats.poisson(mean)
    assert (mean, smallest_level(given["P"], law)) == pytest.approx((expected["mean"], expected["spares"]))
    assert (law.cdf(11), law.cdf(10)) == pytest.approx((expected["P_at_11"], expected["P_at_10"]), rel=near)


def test_smallest_level_over_a_table_of_poisson_means():
    given, expected, _ = case("P09-poisson-table")
    for mean, levels in expected.items():
        assert [smallest_level(p, stats.poisson(float(mean))) for p in given["P"]] == levels


def test_one_part_and_its_spares():
    given, expected, near = case("P10-one-part-one-spare")
    mean = -np.log(given["R"])
    found = [stats.poisson.cdf(1, mean), stats.poisson.cdf(2, mean), stats.poisson.cdf(1, 2 * mean)]
    assert found == pytest.approx(expected, abs=near)


def test_spares_where_nothing_has_failed_yet():
    given, expected, near = case("P11-nb-no-failures")
    demand = Demand.single(
        given["prior_shape"] + given["failures"], given["hours"] + given["prior_rate"], given["hours_to_go"]
    )
    below = np.cumsum(demand.pmf(20))
    assert demand.mean == pytest.approx(expected["mean"], rel=near)
    assert [int(np.searchsorted(below, p)) for p in (0.9, 0.95)] == [expected["spares_P90"], expected["spares_P95"]]


def test_two_parts_by_best_gain_per_cost():
    given, expected, near = case("P12-two-item-marginal")
    short = [[poisson_loss(s, mean)[0] for s in range(9)] for mean in given["pipeline"]]
    assert short[0][:4] == pytest.approx(expected["EBO1"], abs=near)
    assert short[1][:8] == pytest.approx(expected["EBO2"], abs=near)
    at, path = [0, 0], []
    for _ in expected["greedy_path"]:
        path.append([*at, at[0] * 5 + at[1], short[0][at[0]] + short[1][at[1]]])
        gains = [(short[i][at[i]] - short[i][at[i] + 1]) / given["cost"][i] for i in (0, 1)]
        at[int(np.argmax(gains))] += 1
    assert np.array(path) == pytest.approx(np.array(expected["greedy_path"]), abs=near)


def metric(given, depot_level, level):
    """Depot pipeline, base pipeline, all bases short: Poisson throughout (Sherbrooke 1968, Operations Research 16)."""
    depot = given["bases"] * given["lam"] * (1 - given["r"]) * given["D"]
    wait = poisson_loss(depot_level, depot)[0] / (given["bases"] * given["lam"] * (1 - given["r"]))
    base = given["lam"] * (given["r"] * given["T"] + (1 - given["r"]) * (given["O"] + wait))
    return depot, base, given["bases"] * poisson_loss(level, base)[0]


def test_pipelines_of_bases_and_depot():
    given, expected, near = case("P13-metric-pipeline")
    found = metric(given, 0, 0)
    assert found == pytest.approx([expected[k] for k in ("depot_pipeline", "base_pipeline", "EBO_total")], rel=near)
    assert found[2] == pytest.approx(CASES["P13-metric-pipeline"]["simulated"], rel=0.01)


def test_two_moments_come_nearer_to_simulation_than_the_mean_alone():
    """Base pipeline = own Poisson part + a binomial share of the depot's shortage (Graves 1985)."""
    given, expected, near = case("P14-metric-vs-variance")
    bases, s0 = CASES["P13-metric-pipeline"]["inputs"], given["s0"]
    depot, base, total = metric(bases, s0, 1)
    assert total == pytest.approx(expected["METRIC"], abs=near["METRIC"])
    counts = np.arange(60)
    short = np.maximum(counts - s0, 0)
    law = stats.poisson.pmf(counts, depot)
    mean = law @ short
    variance = law @ short**2 - mean**2
    share = 1 / bases["bases"]
    spread = base - share * mean + share**2 * variance + share * (1 - share) * mean
    r, p = base**2 / (spread - base), base / spread
    two_moments = bases["bases"] * negative_binomial_loss(1, r, p)[0]
    assert two_moments == pytest.approx(expected["two_moment_NB"], abs=near["two_moment_NB"])
    assert two_moments == pytest.approx(expected["simulation"], abs=near["simulation"])


def fill(levels, rates, means):
    waits = [lam * stats.poisson.cdf(s - 1, mean) for s, lam, mean in zip(levels, rates, means, strict=True)]
    return sum(waits) / sum(rates)


def test_undominated_stocks_of_two_parts():
    given, expected, near = case("P15-kettelle-2")
    means = [lam * tat for lam, tat in zip(given["lam"], given["tat"], strict=True)]
    found = sorted(
        (a * 200 + b * 100, -fill((a, b), given["lam"], means), [a, b])
        for a, b in product(range(6), range(11))
        if a * 200 + b * 100 <= given["max_cost"]
    )
    kept, best = [], -1.0
    for cost, less, levels in found:
        if -less > best + 1e-12:
            kept.append([cost, levels, -less])
            best = -less
    assert [row[:2] for row in kept] == [row[:2] for row in expected]
    assert [row[2] for row in kept] == pytest.approx([row[2] for row in expected], abs=near)
