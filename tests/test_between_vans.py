"""Passing on between vans, damping, and past jobs replayed."""

from dataclasses import replace

import numpy as np
import pytest

from inventory.stocking.damping import ENOUGH, HANDLING, NEW, Damping, change_of_season, damped
from inventory.stocking.demand import Demand, from_grid
from inventory.stocking.passing import passes, returns
from inventory.stocking.problem import from_plain
from inventory.stocking.replay import PastJob, compared, replay, simple_rule
from inventory.stocking.sensitivity import at_other_costs, cost_of_fixing
from inventory.stocking.van_load import best_levels, load_of, plan


def problem(now, **van):
    return from_plain(
        {
            "money": {"second_visit": 90, "merchant_run": 25, "holding_per_year": 0.25},
            "intervals_per_year": 52,
            "max_per_part": 2,
            "parts": [{"part": "A", "price": 40}, {"part": "B", "price": 30, "litres": 5}],
            "needs": [{"need": p, "failures": 8, "exposure_years": 100, "recipes": [{p: 1}]} for p in "AB"],
            "vans": [
                {"van": "busy", "exposure_per_interval": {"A": 6, "B": 6}, "now": now[0], **van},
                {"van": "quiet", "exposure_per_interval": {"A": 0.5, "B": 0.5}, "now": now[1]},
            ],
        }
    )


def test_a_piece_goes_where_it_is_worth_more():
    found = passes(problem(({}, {"A": 1})), handling=2, intervals=4)
    gain = [90 * (1 - (100 / (100 + e)) ** 8) for e in (6, 0.5)]
    [one] = found
    assert (one.part, one.giver, one.taker) == ("A", "quiet", "busy")
    assert one.worth == pytest.approx(4 * (gain[0] - gain[1]) - 2)
    assert (one.there.money, one.here.money) == pytest.approx(gain)
    assert one.there.jobs == pytest.approx(gain[0] / 90)


def test_nothing_is_passed_that_does_not_pay_its_handling_or_has_no_room():
    assert passes(problem(({}, {"A": 1})), handling=1000, intervals=4) == ()
    assert passes(problem(({}, {"B": 1}), litres=4), handling=2, intervals=4) == ()
    assert passes(problem(({"A": 1}, {"A": 1}), pins={"A": [1, 1]}), handling=0.01, intervals=4) == ()


def test_passing_ends_where_both_vans_gain_nothing_more():
    stated = problem(({}, {"A": 2, "B": 2}))
    found = passes(stated, handling=1, intervals=13, most=10)
    assert [(p.giver, p.taker) for p in found] == [("quiet", "busy")] * len(found)
    assert all(a.worth >= b.worth - 1e-9 for a, b in zip(found, found[1:], strict=False))


def test_a_piece_goes_back_to_the_store_where_holding_it_costs_more_than_it_saves_and_others_want_it():
    stated = problem(({"A": 2}, {"A": 2, "B": 1}))
    second = 52 * 90 * (1 - Demand.single(8, 100, 0.5).pmf(1).sum())
    assert second < 0.25 * 40 - 1
    wanted, empty = {"A": 5.0, "B": 0.4}, {}
    [back] = returns(stated, handling=1, wanted=wanted, in_store=empty)
    assert (back.part, back.giver, back.taker) == ("A", "quiet", "")
    assert back.worth == pytest.approx(0.25 * 40 - second - 1)
    assert returns(stated, handling=1, wanted=wanted, in_store={"A": 5}) == ()
    assert returns(stated, handling=100, wanted=wanted, in_store=empty) == ()


def one_van(stated, name):
    """The problem of that van alone, and its best levels."""
    alone = replace(stated, vans=tuple(v for v in stated.vans if v.van == name))
    return alone, best_levels(alone)[name]


def test_a_proposal_in_small_steps_takes_the_best_changes_first():
    alone, best = one_van(problem(({}, {})), "busy")
    assert best == {"A": 2, "B": 2}
    first = damped(alone, best, Damping(most_changes=1), {})
    gains = {line.part: line.gain_per_year for line in plan(alone).vans[0].lines}
    top = max(gains, key=gains.get)
    assert first.levels == {top: 2}
    [(other, waits)] = first.waiting.items()
    assert (waits.best, waits.why, waits.gain) == (2, ENOUGH, pytest.approx(gains[other]))
    assert damped(alone, best, Damping(most_changes=None), {}).levels == best
    none = damped(alone, best, Damping(handling=1e6), {})
    assert none.levels == {}
    assert {w.why for w in none.waiting.values()} == {HANDLING}


def test_a_new_line_stays_for_eight_weeks_and_fixed_levels_are_followed():
    stated = problem(({}, {"A": 2}), pins={"B": [1, 1]})
    alone, best = one_van(stated, "quiet")
    assert best.get("A", 0) < 2
    young = damped(alone, best, Damping(handling=0), {"A": 3})
    assert (young.levels["A"], young.waiting["A"].why) == (2, NEW)
    assert damped(alone, best, Damping(handling=0), {"A": 9}).levels.get("A", 0) == best.get("A", 0)
    busy, best = one_van(stated, "busy")
    assert damped(busy, best, Damping(handling=1e6), {}).levels == {"B": 1}


def test_what_is_taken_off_to_make_room_comes_with_what_is_put_on():
    alone, best = one_van(problem(({"B": 1}, {}), budget=40), "busy")
    assert best in ({"A": 1}, {"B": 1})
    after = damped(alone, best, Damping(handling=0), {}).levels
    assert sum({"A": 40, "B": 30}[p] * n for p, n in after.items()) <= 40


def pairs(now):
    """A job that takes a seal and a spring, or one kit that costs more."""
    return from_plain(
        {
            "money": {"second_visit": 90, "merchant_run": 25, "holding_per_year": 0.25},
            "intervals_per_year": 52,
            "max_per_part": 1,
            "parts": [{"part": p, "price": c} for p, c in (("seal", 8), ("spring", 8), ("kit", 200))],
            "needs": [
                {
                    "need": "1",
                    "failures": 8,
                    "exposure_years": 100,
                    "recipes": [{"seal": 1, "spring": 1}, {"kit": 1}],
                }
            ],
            "vans": [{"van": "v", "exposure_per_interval": {"1": 1}, "now": now}],
        }
    )


def test_parts_that_only_pay_together_change_together_and_count_as_two():
    alone = pairs({})
    best = best_levels(alone)["v"]
    assert {"seal", "spring"} <= best.keys()
    after = damped(alone, {"seal": 1, "spring": 1}, Damping(most_changes=2), {})
    assert after.levels == {"seal": 1, "spring": 1}
    short = damped(alone, {"seal": 1, "spring": 1}, Damping(most_changes=1), {})
    assert (short.levels, {w.why for w in short.waiting.values()}) == ({}, {ENOUGH})


def test_one_part_for_another_is_worth_only_what_it_saves_beyond_it():
    alone = pairs({"kit": 1})
    best = {"seal": 1, "spring": 1}
    swapped = damped(alone, best, Damping(handling=5, most_changes=3), {})
    kit, pair = 0.25 * 200, 0.25 * 16
    dear = damped(alone, best, Damping(handling=(kit - pair) / 3 + 1, most_changes=3), {})
    assert (swapped.levels, dear.levels) == (best, {"kit": 1})


def test_the_seasons_change_where_the_heavier_half_of_the_year_begins_and_ends():
    winter = [1.7, 1.4, 1.1, 0.9, 0.7, 0.6, 0.5, 0.6, 0.7, 1.2, 1.2, 1.3]
    assert [m for m in range(1, 13) if change_of_season(winter, m)] == [4, 10]
    assert not any(change_of_season([1.0] * 12, m) for m in range(1, 13))


def test_a_fixed_level_costs_what_the_best_load_without_it_would_save():
    stated = problem(({}, {}), pins={"A": [0, 0], "B": [1, 1]})
    alone, fixed = one_van(stated, "busy")
    total, each = cost_of_fixing(alone)
    free = replace(alone, vans=(replace(alone.vans[0], pins={}),))

    def net(levels):
        load = load_of(free, levels)
        return load.worth_per_year - 0.25 * load.spend

    assert each["A"] == pytest.approx(net({"A": 2, "B": 1}) - net(fixed))
    assert total == pytest.approx(net({"A": 2, "B": 2}) - net(fixed))
    assert cost_of_fixing(free) == (0.0, {})


def test_a_line_turns_where_another_cost_of_a_second_visit_gives_another_level():
    alone, best = one_van(problem(({}, {})), "quiet")
    turns = at_other_costs(alone, best)
    for factor in (0.5, 2.0):
        money = replace(alone.money, second_visit=90 * factor)
        other = best_levels(replace(alone, money=money))["quiet"]
        assert {p: t[factor] for p, t in turns.items() if factor in t} == {
            p: other.get(p, 0) for p in "AB" if other.get(p, 0) != best.get(p, 0)
        }
    assert turns


def job(day, *recipes):
    return PastJob(day, tuple({p: 1 for p in recipe} for recipe in recipes), 90)


def test_replay_takes_the_first_recipe_on_board_and_tops_up_on_its_days():
    jobs = [job(1, "A"), job(2, "A", "B"), job(6, "A"), job(7, "A"), job(8, "AB")]
    assert replay({"A": 1, "B": 1}, jobs, 7, 0).tolist() == [True, True, False, True, False]


def test_the_simple_rule_spends_on_own_use_per_pound_then_the_firms():
    levels = simple_rule({"A": 3, "B": 1}, {"C": 9, "B": 9}, {"A": 10, "B": 10, "C": 25}, 60, 4)
    assert levels == {"A": 3, "B": 3}
    assert simple_rule({"A": 3}, {}, {"A": 10}, 60, 4, [({"A": 2}, 3)]) == {"A": 1}


def test_the_interval_of_a_comparison_covers_a_true_difference():
    rng = np.random.default_rng(4)
    covered = 0
    for _ in range(200):
        jobs = [job(int(day), "A") for day in np.sort(rng.integers(0, 364, 300))]
        base = rng.random(len(jobs))
        found = compared(jobs, base < 0.8, base < 0.7, rng=rng, draws=300)
        covered += found.low <= 10 <= found.high
    assert 0.84 <= covered / 200 <= 0.96
    assert (found.visits, found.money, found.jobs) == (pytest.approx(found.points * 3), found.visits * 90, 300)


def test_demand_from_a_grid_of_lives_has_the_mean_of_simulated_lives():
    rng = np.random.default_rng(7)
    weights, shapes = np.array([0.4, 0.6]), np.array([1.0, 2.5])
    failures, exposure = np.array([20.0, 30.0]), np.array([300.0, 20_000.0])
    age = rng.uniform(0, 15, 200)
    demand = from_grid(weights, shapes, failures, exposure, age, 7 / 365.25, season=1.5)
    drawn = np.zeros(20_000)
    which = rng.choice(2, len(drawn), p=weights)
    rate = rng.gamma(failures[which], 1 / exposure[which])
    for k in (0, 1):
        grown = 1.5 * ((age + 7 / 365.25) ** shapes[k] - age ** shapes[k]).sum()
        drawn[which == k] = rng.poisson(rate[which == k] * grown)
    assert demand.mean == pytest.approx(drawn.mean(), rel=0.03)
    assert demand.at_least(2) == pytest.approx([(drawn >= k).mean() for k in (1, 2)], abs=0.01)
