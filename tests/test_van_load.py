"""The best load of each van, against trying everything and against jobs that arrive one by one."""

import numpy as np
import pytest

from inventory.stocking.clusters import clusters_of
from inventory.stocking.problem import from_plain
from inventory.stocking.search import searched_values
from inventory.stocking.tables import tables_of
from inventory.stocking.van_load import plan
from tests.brute_force import best_net, take, tried, within
from tests.random_problems import mixed, several_parts_a_job, small_problem, wide_problem


def net(data, found):
    return sum(v.worth_per_year - data["money"]["holding_per_year"] * v.spend for v in found.vans)


@pytest.mark.parametrize("seed", [s for s in range(24) if s != 4])
def test_no_load_is_better_than_the_plan(seed):
    data = small_problem(np.random.default_rng(seed), vans=1 + seed % 3)
    assert net(data, plan(from_plain(data))) == pytest.approx(best_net(data), rel=1e-6, abs=1e-6)


@pytest.mark.parametrize("seed", range(100, 108))
def test_the_plan_keeps_its_limits_and_adds_up(seed):
    data = small_problem(np.random.default_rng(seed))
    van, load = data["vans"][0], plan(from_plain(data)).vans[0]
    names = [p["part"] for p in data["parts"]]
    levels = tuple(load.levels.get(p, 0) for p in names)
    [found] = [row for row in within(data, van, tried(data, van)) if row[0] == levels]
    assert (load.spend, load.litres, load.kilograms) == pytest.approx(found[2:5])
    assert load.expected_done_per_interval == pytest.approx(found[5], abs=1e-7)
    assert {line.part: line.level for line in load.lines if line.level} == load.levels


@pytest.mark.parametrize("seed", [1, 7, 10, 13, 16])
def test_no_load_beats_the_frontier(seed):
    data = small_problem(np.random.default_rng(seed))
    van = data["vans"][0]
    rows = within(data, dict(van, budget=None), tried(data, van))
    mean = sum(
        n["failures"] / n["exposure_years"] * van["exposure_per_interval"].get(n["need"], 0) for n in data["needs"]
    )
    points = plan(from_plain(data)).frontier
    assert len(points) >= 10
    assert all(a.spend < b.spend for a, b in zip(points, points[1:], strict=False))
    for point in points:
        best = max(row[5] for row in rows if row[2] <= point.spend + 1e-6)
        assert point.first_visit_fix_rate == (None if mean == 0 else pytest.approx(best / mean, abs=1e-6))


SHARED = {
    "money": {"second_visit": 90, "merchant_run": 25, "holding_per_year": 0.25},
    "intervals_per_year": 52,
    "max_per_part": 3,
    "parts": [{"part": p, "price": 10} for p in "ABC"],
    "needs": [
        {"need": "1", "failures": 2, "exposure_years": 3, "recipes": [{"A": 1}, {"B": 1}]},
        {"need": "2", "failures": 1.5, "exposure_years": 2, "recipes": [{"B": 1, "C": 2}]},
        {"need": "3", "failures": 1, "exposure_years": 2, "recipes": [{"C": 1}, {"A": 1}]},
    ],
    "vans": [{"van": "v", "exposure_per_interval": {"1": 1, "2": 0.7, "3": 1}}],
}


def simulated_done(levels, intervals, rng):
    """Jobs done per interval, drawn: a gamma rate for each need, a Poisson count, a random order."""
    recipes = [[{0: 1}, {1: 1}], [{1: 1, 2: 2}], [{2: 1}, {0: 1}]]
    done = 0
    rates = rng.gamma([2, 1.5, 1], [1 / 3, 0.7 / 2, 1 / 2], size=(intervals, 3))
    for counts in rng.poisson(rates):
        stock = tuple(levels)
        for kind in rng.permutation(np.repeat(np.arange(3), counts)):
            stock, hit = take(stock, recipes[kind])
            done += hit
    return done / intervals


@pytest.mark.parametrize("levels", [(1, 1, 2), (2, 1, 3), (0, 1, 2)])
def test_shared_parts_are_worth_what_simulated_jobs_find(levels):
    [table] = tables_of(from_plain(SHARED), np.random.default_rng(1))
    expected = table.values[0].at(0, np.array(levels))[1]
    assert simulated_done(levels, 20_000, np.random.default_rng(3)) == pytest.approx(expected, rel=0.02)


def test_the_search_for_large_clusters_comes_near_the_exact_answer():
    problem = from_plain(SHARED)
    [cluster] = clusters_of(problem, "v")
    demands = [[problem.needs[n].demand["v"] for n in job.needs] for job in cluster.jobs]
    searched = searched_values(problem, cluster, [0] * 3, [3] * 3, demands, np.random.default_rng(2))
    [table] = tables_of(problem, np.random.default_rng(1))
    spend = searched.levels @ [10, 10, 10]
    for budget in (20, 40, 60):
        best = max(table.worth[i] for i in range(len(table.worth)) if table.use[i, 0] <= budget)
        top = int(np.argmax(np.where(spend <= budget, searched.worth[0], 0)))
        assert searched.worth[0, top] == pytest.approx(best, rel=0.03)
        assert table.values[0].at(0, searched.levels[top])[0] >= 0.98 * best


def test_equal_worth_takes_less_cash_then_fewer_pieces():
    data = {
        **SHARED,
        "parts": [{"part": "A", "price": 0}, {"part": "B", "price": 0}, {"part": "C", "price": 9}],
        "money": {**SHARED["money"], "holding_per_year": 0},
        "needs": [{"need": "1", "failures": 2, "exposure_years": 3, "recipes": [{"C": 1}, {"A": 1}]}],
        "vans": [{"van": "v", "litres": 0, "exposure_per_interval": {"1": 1}}],
    }
    bulky = [{**p, "litres": 1.0 if p["part"] == "A" else 0.0} for p in data["parts"]]
    load = plan(from_plain({**data, "max_per_part": 1, "parts": bulky}))
    assert load.vans[0].levels == {"C": 1}
    assert load.vans[0].binding == "litres"
    free = plan(
        from_plain(
            {
                **data,
                "max_per_part": 2,
                "needs": [{**data["needs"][0], "recipes": [{"A": 1}, {"C": 1}]}],
                "vans": [{"van": "v", "budget": 0, "exposure_per_interval": {"1": 1}}],
            }
        )
    )
    assert free.vans[0].levels == {"A": 2}


def test_pins_beat_limits_and_the_most_per_part_with_a_warning():
    data = {**SHARED, "vans": [{**SHARED["vans"][0], "budget": 15, "pins": {"A": [5, 5]}}]}
    found = plan(from_plain(data))
    assert found.vans[0].levels == {"A": 5}
    assert found.vans[0].spend == 50
    assert len(found.warnings) == 2


def test_a_van_without_demand_carries_nothing_and_has_no_rate():
    data = {**SHARED, "vans": [{"van": "idle"}]}
    found = plan(from_plain(data))
    assert (found.vans[0].levels, found.vans[0].first_visit_fix_rate, found.vans[0].binding) == ({}, None, "none")
    assert len(found.frontier) >= 10
    assert found.frontier[0].first_visit_fix_rate is None


def test_every_line_says_why():
    data = {**SHARED, "max_per_part": 2, "vans": [{**SHARED["vans"][0], "budget": 30, "now": {"B": 2}}]}
    lines = {line.part: line for line in plan(from_plain(data), currency="€").vans[0].lines}
    assert set(lines) == {"A", "B", "C"}
    assert all(f"Carry {line.level}" in line.reason or not line.level for line in lines.values())
    assert "second visits, €" in lines["A"].reason
    assert "the cash does more elsewhere" in "".join(line.reason for line in lines.values())


@pytest.mark.parametrize("seed", [51, 52])
def test_the_predicted_rate_of_pairs_shared_parts_and_mixtures_is_within_a_point_of_simulated_jobs(seed):
    rng = np.random.default_rng(seed)
    data = mixed(rng, several_parts_a_job(rng, parts=24, vans=1, budget=500))
    problem = from_plain(data)
    load, intervals = plan(problem).vans[0], 6000
    names = [p.part for p in problem.parts]
    recipes = [[{names.index(p): n for p, n in r.items()} for r in need.recipes] for need in problem.needs]
    counts = np.stack([drawn(need.demand["0"], intervals, rng) for need in problem.needs], axis=1)
    done = 0
    for row in counts:
        stock = tuple(load.levels.get(p, 0) for p in names)
        for kind in rng.permutation(np.repeat(np.arange(len(recipes)), row)):
            stock, hit = take(stock, recipes[kind])
            done += hit
    assert load.first_visit_fix_rate == pytest.approx(done / counts.sum(), abs=0.01)


def drawn(demand, intervals, rng):
    which = rng.choice(len(demand.weights), size=intervals, p=demand.weights)
    return rng.poisson(rng.gamma(demand.failures[which], demand.per_interval[which] / demand.exposure[which]))


def test_the_predicted_rate_is_within_a_point_of_simulated_intervals():
    data = wide_problem(np.random.default_rng(21), parts=60, budget=900, litres=60)
    problem = from_plain(data)
    load, rng, intervals = plan(problem).vans[0], np.random.default_rng(22), 20_000
    done = wanted = 0
    for need in problem.needs:
        demand = need.demand["0"]
        [part] = need.recipes[0]
        rate = rng.gamma(demand.failures[0], demand.per_interval[0] / demand.exposure[0], intervals)
        counts = rng.poisson(rate)
        wanted += counts.sum()
        done += np.minimum(counts, load.levels.get(part, 0)).sum()
    assert load.first_visit_fix_rate == pytest.approx(done / wanted, abs=0.01)
