"""When and how much the store orders, and what it adds for free carriage."""

import numpy as np
import pytest
from scipy import stats

from inventory.stocking.reorder import OrderLine, Terms, filled_up, lumpy_demand, over_lead_time, store_level

LEAD = stats.poisson.pmf(np.arange(40), 3.0)
TERMS = Terms(order_cost=8, holding_rate=0.25, price=20, pack=2, minimum=2)


def simulated(level, quantity, rng, *, yearly=52.0, lead=3 / 52, years=4000):
    """Fill rate and mean stock of a store whose pieces leave one by one, Poisson, lead time fixed."""
    on_hand, position, arrivals, now = level + quantity, level + quantity, [], 0.0
    met = area = 0.0
    wanted = int(yearly * years)
    for gap in rng.exponential(1 / yearly, wanted):
        end = now + gap
        while arrivals and arrivals[0] <= end:
            area += max(on_hand, 0) * (arrivals[0] - now)
            now = arrivals.pop(0)
            on_hand += quantity
        area += max(on_hand, 0) * (end - now)
        now = end
        met += on_hand > 0
        on_hand -= 1
        position -= 1
        if position == level:
            arrivals.append(now + lead)
            position += quantity
    return met / wanted, area / now


def test_fill_rate_and_stock_are_those_of_a_simulated_store():
    found = store_level(LEAD, 52, TERMS, 0.95)
    fill, stock = simulated(found.level, found.quantity, np.random.default_rng(1))
    assert fill == pytest.approx(found.fill_rate, abs=0.005)
    assert stock == pytest.approx(found.mean_stock, rel=0.02)


def test_no_other_level_and_quantity_is_cheaper():
    found = store_level(LEAD, 52, TERMS, 0.95)
    best, law = np.inf, stats.poisson.pmf(np.arange(100), 3.0)
    for quantity in range(4, 40, 2):
        for level in range(30):
            at = np.arange(level + 1, level + quantity + 1)
            fill = np.mean([law[:y].sum() for y in at])
            stock = np.mean([sum((y - x) * law[x] for x in range(y)) for y in at])
            if fill >= 0.95:
                best = min(best, 8 * 52 / quantity + 0.25 * 20 * stock)
                break
    assert found.cost == pytest.approx(best)
    assert found.fill_rate >= 0.95
    assert (found.quantity % 2, found.quantity >= 4) == (0, True)


def test_a_part_nobody_wants_soon_is_ordered_by_its_least():
    found = store_level([1.0], 0.1, TERMS, 0.9)
    assert (found.level, found.quantity) == (0, 4)


def test_top_ups_of_vans_come_as_lumps_and_want_more_in_the_store():
    assert over_lead_time([0.5, 0.2, 0.3], 2) == pytest.approx([0.25, 0.2, 0.34, 0.12, 0.09])
    lumps = over_lead_time([0.9, 0, 0, 0, 0.1], 2)
    single = stats.poisson.pmf(np.arange(30), np.arange(len(lumps)) @ lumps)
    assert store_level(lumps, 20, TERMS, 0.97).level > store_level(single, 20, TERMS, 0.97).level


def test_an_order_is_filled_up_to_free_carriage_only_where_that_saves_more_than_it_holds():
    lines = [OrderLine("quick", 4, 1, 20, 2, 52), OrderLine("slow", 1, 1, 15, 1, 0.5)]
    assert filled_up(lines, 12, 150, 0.25) == {"quick": 7, "slow": 1}
    assert filled_up(lines, 0.5, 150, 0.25) == {"quick": 4, "slow": 1}
    assert filled_up(lines, 12, None, 0.25) == {"quick": 4, "slow": 1}
    assert filled_up(lines, 12, 95, 0.25) == {"quick": 4, "slow": 1}


def test_a_line_that_is_not_due_goes_along_by_its_least_where_it_moves_quickest():
    lines = [OrderLine("due", 4, 1, 20, 0, 4), OrderLine("soon", 0, 2, 5, 1, 52, least=6)]
    assert filled_up(lines, 12, 105, 0.25) == {"due": 4, "soon": 6}
    assert filled_up(lines, 12, 115, 0.25) == {"due": 4, "soon": 8}


def test_lumpy_demand_is_that_of_drawn_lumps():
    rng = np.random.default_rng(3)
    rate = rng.gamma(12.5, 1 / 2, 200_000)
    sizes = np.array([0.7, 0.2, 0.1])
    lumps = rng.poisson(rate * 0.1)
    pieces = np.array([rng.choice(3, n, p=sizes).sum() + n for n in lumps[:40_000]])
    found = lumpy_demand(12, 2.0, sizes, 0.1)
    assert found[:5] == pytest.approx([(pieces == n).mean() for n in range(5)], abs=0.008)
    assert np.arange(len(found)) @ found == pytest.approx(12.5 / 2 * 0.1 * 1.4, rel=1e-3)


def test_lumps_of_one_are_the_plain_negative_binomial():
    law = stats.nbinom(7.5, 2 / (2 + 0.25))
    assert lumpy_demand(7, 2.0, [1.0], 0.25)[:6] == pytest.approx(law.pmf(np.arange(6)), rel=1e-5)
