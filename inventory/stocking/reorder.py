"""How much the store orders at once, and when."""

import numpy as np


def economic_order_quantity(order_cost, holding, demand):
    """(quantity, cost per year) that balances ordering against holding, without packs or minimum.

    order_cost: money per order. holding: money per piece and year. demand: pieces per year.
    Source: Harris (1913), Factory 10(2), 135-136; Snyder & Shen, 2nd ed. 2019, section 3.2.

    >>> economic_order_quantity(8, 0.225, 1300)[0].round(2)
    np.float64(304.05)
    """
    quantity = np.sqrt(2 * order_cost * demand / holding)
    return quantity, np.sqrt(2 * order_cost * demand * holding)


def best_discounted_quantity(order_cost, holding_rate, demand, from_quantity, price):
    """(quantity, price level, cost per year) where a larger order lowers the price of all its pieces.

    from_quantity: where each price begins, rising from 0, (k,). price: per piece, (k,). holding_rate: per year.
    Cost = purchase + orders + holding. Source: Snyder & Shen, 2nd ed. 2019, section 3.3 (all-units discounts).
    """
    start, price = np.asarray(from_quantity, float), np.asarray(price, float)
    wanted, _ = economic_order_quantity(order_cost, holding_rate * price, demand)
    quantity = np.maximum(wanted, start)
    cost = demand * price + order_cost * demand / quantity + holding_rate * price * quantity / 2
    cost[wanted >= np.append(start[1:], np.inf)] = np.inf  # there the next price holds already
    best = int(cost.argmin())
    return float(quantity[best]), best, float(cost[best])
