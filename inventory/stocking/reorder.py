"""How much the store orders at once, and when."""

from dataclasses import dataclass

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


@dataclass(frozen=True)
class StoreLevel:
    """Order `quantity` when what is on hand and on order is down to `level`. cost: orders and holding, per year."""

    level: int
    quantity: int
    fill_rate: float
    mean_stock: float
    cost: float


@dataclass(frozen=True)
class Terms:
    """What ordering costs. order_cost: per order. holding_rate: per year, of price. pack, minimum: pieces, packs."""

    order_cost: float
    holding_rate: float
    price: float
    pack: int = 1
    minimum: int = 1


def over_lead_time(top_up, restocks):
    """Distribution of what leaves the store in that many restocks, top-ups of the vans coming as lumps.

    top_up: pmf of all vans' top-ups at one restock, from 0. restocks: in lead time and review interval together.
    """
    total = np.array([1.0])
    for _ in range(int(np.ceil(restocks))):
        total = np.convolve(total, top_up)
    return total


def store_level(pmf, demand, terms: Terms, target: float) -> StoreLevel:
    """The level and quantity of least yearly cost whose fill rate is at least `target`, packs and minimum kept.

    pmf: of the pieces wanted over lead time and review interval, from 0, sum 1. demand: pieces per year, > 0.
    What is on hand and on order is taken as equally likely from level + 1 to level + quantity (exact where pieces
    leave one by one); target < 1. Source: Hadley & Whitin, Analysis of Inventory Systems, 1963, section 4-7.
    """
    pmf = np.asarray(pmf, float)
    least = terms.pack * terms.minimum
    ideal, _ = economic_order_quantity(terms.order_cost, max(terms.holding_rate * terms.price, 1e-9), demand)
    quantities = np.arange(least, max(least, min(2 * ideal, 4 * demand)) + terms.pack, terms.pack)
    found = [_at_quantity(pmf, demand, terms, target, int(q)) for q in quantities]
    return min(found, key=lambda x: (x.cost, x.quantity))


def _at_quantity(pmf, demand, terms, target, quantity):
    top = len(pmf) + quantity + 1
    below = np.cumsum(np.append(pmf, np.zeros(top - len(pmf))))  # P(X <= y)
    left = np.append(0.0, np.cumsum(below))  # E max(y − X, 0)
    ready = np.append(0.0, np.cumsum(np.append(0.0, below)))  # sums of P(X < y)
    level = 0
    while level + quantity < top and (ready[level + quantity + 1] - ready[level + 1]) / quantity < target:
        level += 1
    fill = (ready[level + quantity + 1] - ready[level + 1]) / quantity
    stock = left[level + 1 : level + quantity + 1].mean()
    cost = terms.order_cost * demand / quantity + terms.holding_rate * terms.price * stock
    return StoreLevel(level, quantity, float(fill), float(stock), float(cost))


@dataclass(frozen=True)
class OrderLine:
    """A line of an order to one supplier. position: on hand and on order, pieces. demand: pieces per year."""

    part: str
    pieces: int
    pack: int
    price: float
    position: float
    demand: float


def filled_up(lines, carriage, free_over, holding_rate):
    """The pieces of each line, whole packs added up to the carriage-free sum where that saves more than it holds.

    lines: OrderLines. carriage: money, free from `free_over` on. A piece bought early is held until all before it
    are used. Returns {part: pieces}; as given where filling up does not pay.
    """
    pieces = {line.part: line.pieces for line in lines}
    bare = sum(line.pieces * line.price for line in lines)
    usable = [line for line in lines if line.demand > 0 and line.price > 0]
    if carriage is None or free_over is None or bare >= free_over or not usable:
        return pieces
    filled, total, held = dict(pieces), bare, 0.0
    while total < free_over:
        line = min(usable, key=lambda x: _years_held(x, filled))
        held += holding_rate * line.price * line.pack * _years_held(line, filled)
        filled[line.part] += line.pack
        total += line.price * line.pack
        if held >= carriage:
            return pieces
    return filled


def _years_held(line, filled):
    """How long the pieces of one pack more would lie there on average."""
    return (line.position + filled[line.part] + line.pack / 2) / line.demand
