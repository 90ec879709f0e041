"""The constructed cases of van loads (fixtures/cases/stocking.json), each with its source there."""

from itertools import product

import numpy as np
import pytest
from scipy import stats

from inventory.stocking.demand import Demand, expected_min
from inventory.stocking.problem import from_plain
from inventory.stocking.van_load import plan
from tests.outside.test_stocking_cases import case, fill


def van_of(given, exposure, **limits):
    return {
        "van": "1",
        "exposure_per_interval": exposure,
        **{k: given[k] for k in ("budget", "litres") if k in given},
        **limits,
    }


def test_the_best_load_of_six_parts_under_cash_and_litres():
    given, expected, near = case("P16-knapsack-van")
    skus = given["skus"]
    load = plan(
        from_plain(
            {
                "money": {"second_visit": 1, "merchant_run": 0, "holding_per_year": 0},
                "intervals_per_year": 1,
                "max_per_part": given["max_per_sku"],
                "parts": [{"part": s["sku"], "price": s["price"], "litres": s["litres"]} for s in skus],
                "needs": [
                    {"need": s["sku"], "failures": s["a"], "exposure_years": s["b"], "recipes": [{s["sku"]: 1}]}
                    for s in skus
                ],
                "vans": [van_of(given, {s["sku"]: s["e"] for s in skus})],
            }
        )
    ).vans[0]
    assert [load.levels.get(s["sku"], 0) for s in skus] == expected["levels"]
    assert load.expected_done_per_interval == pytest.approx(expected["expected_fixes_per_interval"], rel=near)
    assert load.first_visit_fix_rate == pytest.approx(expected["fvfr"], rel=near)
    assert (load.spend, load.litres) == pytest.approx((expected["spend"], expected["litres"]))


def test_recipes_with_one_job_an_interval():
    """Jobs so rare that two in an interval do not count: the limit of our model is the one-job model."""
    given, expected, _ = case("P17-recipes-one-job")
    rare = 1e-7
    load = plan(
        from_plain(
            {
                "money": {"second_visit": 1, "merchant_run": 0, "holding_per_year": 0},
                "intervals_per_year": 1 / rare,
                "max_per_part": 1,
                "parts": [{"part": str(i), "price": price} for i, price in enumerate(given["price"])],
                "needs": [
                    {
                        "need": str(i),
                        "failures": t["rate"],
                        "exposure_years": 1,
                        "recipes": [{str(p): 1 for p in recipe} for recipe in t["recipes"]],
                    }
                    for i, t in enumerate(given["types"])
                ],
                "vans": [van_of(given, {str(i): rare for i in range(len(given["types"]))})],
            }
        )
    ).vans[0]
    assert load.expected_done_per_interval / rare == pytest.approx(expected["job_completion"], abs=1e-5)
    assert load.spend <= given["budget"]


def test_what_each_piece_saves_in_a_winter_of_weeks():
    given, expected, near = case("P18-carry-weekly")
    weeks = given["window_days"] / given["interval_days"]
    law = stats.poisson(given["expected_in_window"] / weeks).pmf(np.arange(4))
    saved = weeks * np.diff(expected_min(law, [0, 1, 2, 3]))
    assert saved == pytest.approx(expected["trips_saved"], rel=near)
    assert saved * given["second_visit_cost"] == pytest.approx(expected["money"], rel=near)
    certain = Demand.single(1e9, 1e9, given["expected_in_window"] / weeks)  # a rate that is known tends to Poisson
    assert weeks * certain.at_least(3) == pytest.approx(expected["trips_saved"], rel=1e-5)


def test_steady_state_fill_rate_traps_a_greedy_rule():
    given, expected, near = case("P19-greedy-trap-fillrate")
    means = [lam * tat for lam, tat in zip(given["lam"], given["tat"], strict=True)]
    tops = [range(int(given["budget"] // cost) + 1) for cost in given["cost"]]
    affordable = [x for x in product(*tops) if np.dot(x, given["cost"]) <= given["budget"]]
    best = max(affordable, key=lambda x: fill(x, given["lam"], means))
    assert list(best) == expected["best_levels"]
    assert fill(best, given["lam"], means) == pytest.approx(expected["best_fill"], abs=near)
    at, step = np.zeros(4, int), np.zeros(4, int)
    while (at + step) @ given["cost"] <= given["budget"]:
        at = at + step
        gains = [
            (fill(at + more, given["lam"], means) - fill(at, given["lam"], means)) / cost
            for more, cost in zip(np.eye(4, dtype=int), given["cost"], strict=True)
        ]
        step = np.eye(4, dtype=int)[int(np.argmax(gains))]
    assert (at.tolist(), at @ given["cost"]) == (
        expected["single_step_greedy_levels"],
        expected["single_step_greedy_cost"],
    )


def test_pairs_are_carried_together():
    given, expected, near = case("P20-pairs")
    load = plan(from_plain(given)).vans[0]
    assert load.levels == expected["levels"]
    assert (load.spend, load.expected_done_per_interval, load.first_visit_fix_rate) == pytest.approx(
        [expected[k] for k in ("spend", "expected_done_per_interval", "first_visit_fix_rate")], abs=near
    )
