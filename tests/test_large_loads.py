"""Large problems against bounds of HiGHS on the plain whole problem."""

import numpy as np
import pytest
from scipy import sparse
from scipy.optimize import Bounds, LinearConstraint, milp

from inventory.stocking.choose import best_choice
from inventory.stocking.problem import from_plain
from inventory.stocking.tables import tables_of
from inventory.stocking.van_load import best_levels, plan
from tests.random_problems import several_parts_a_job, wide_problem


def whole_problem(options, limits):
    """Bound of HiGHS on the plain problem, its relative gap set to 1e-4."""
    one_each = sparse.csr_array((np.ones(len(options.cluster)), (options.cluster, np.arange(len(options.cluster)))))
    finite = np.isfinite(limits)
    rows = [LinearConstraint(one_each, 1, 1), LinearConstraint(options.use[:, finite].T, -np.inf, limits[finite])]
    answer = milp(
        -options.value,
        integrality=np.ones(len(options.value)),
        bounds=Bounds(0, 1),
        constraints=rows,
        options={"mip_rel_gap": 1e-4, "time_limit": 60},
    )
    return -answer.mip_dual_bound


@pytest.mark.parametrize(
    "limits", [{"budget": 1500}, {"litres": 60, "kilograms": 80}, {"budget": 1500, "litres": 60, "kilograms": 90}]
)
def test_three_hundred_parts_come_within_a_thousandth_of_the_bound(limits):
    problem = from_plain(wide_problem(np.random.default_rng(11), **limits))
    [table] = tables_of(problem, np.random.default_rng(1))
    options = table.options(table.worth * 52 - 0.25 * table.use[:, 0])
    choice = best_choice(options, table.limits())
    assert (options.use[choice.picked].sum(axis=0) <= table.limits() + 1e-6).all()
    assert choice.value >= whole_problem(options, table.limits()) * (1 - 1e-3)


def test_a_shared_budget_over_many_parts_comes_within_a_thousandth_of_its_bound():
    data = wide_problem(np.random.default_rng(12), parts=200, vans=4, litres=80)
    data["money"]["budget"] = 4000
    problem = from_plain(data)
    found = plan(problem)
    tables = tables_of(problem, np.random.default_rng(1))
    bound = np.inf
    for price in np.geomspace(0.05, 20, 40):  # any price of cash gives a bound
        best = [best_choice(t.options(t.worth * 52 - (0.25 + price) * t.use[:, 0]), t.limits()).bound for t in tables]
        bound = min(bound, sum(best) + price * 4000)
    assert sum(v.spend for v in found.vans) <= 4000
    assert sum(v.worth_per_year - 0.25 * v.spend for v in found.vans) >= bound * (1 - 5e-3)
    assert {v.binding for v in found.vans} == {"cash"}


@pytest.mark.parametrize("seed", [31, 32])
@pytest.mark.parametrize("limits", [{"budget": 1500}, {"budget": 1500, "litres": 90, "kilograms": 120}])
def test_twenty_vans_of_three_hundred_parts_are_within_a_thousandth_of_the_bound(seed, limits):
    problem = from_plain(wide_problem(np.random.default_rng(seed), vans=20, **limits))
    levels, value, bound = best_levels(problem), 0.0, 0.0
    for table in tables_of(problem, np.random.default_rng(1)):
        options = table.options(table.worth * 52 - 0.25 * table.use[:, 0])
        bound += whole_problem(options, table.limits())
        value += net_by_hand(problem, table, levels[table.van.van])
    assert value >= bound * (1 - 1e-3)


def net_by_hand(problem, table, levels):
    """Worth less holding of levels of parts that one need each uses, and the limits kept."""
    van, net, used = table.van, 0.0, np.zeros(3)
    part = {p.part: p for p in problem.parts}
    for need in problem.needs:
        [name] = need.recipes[0]
        n, p = levels.get(name, 0), part[name]
        net += 52 * problem.cost_of_missing(need) * need.demand[van.van].at_least(4)[:n].sum() - 0.25 * p.price * n
        used += n * np.array([p.price, p.litres, p.kilograms])
    assert (used <= table.limits() + 1e-6).all()
    return net


@pytest.mark.parametrize("limits", [{"budget": 1200}, {"budget": 1200, "litres": 60, "kilograms": 80}])
def test_jobs_that_need_several_parts_are_within_two_hundredths_of_the_bound(limits):
    problem = from_plain(several_parts_a_job(np.random.default_rng(41), **limits))
    found = plan(problem)
    assert found.warnings == ()  # nothing was searched
    for table, load in zip(tables_of(problem, np.random.default_rng(1)), found.vans, strict=True):
        options = table.options(table.worth * 52 - 0.25 * table.use[:, 0])
        assert load.worth_per_year - 0.25 * load.spend >= whole_problem(options, table.limits()) * (1 - 0.02)
