"""How much the store orders at once, and when."""

from dataclasses import dataclass

import numpy as np

LONGEST, TRIED = 2000, 400


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


def lumpy_demand(lumps, years, sizes, ahead, tail=1e-6):
    """Distribution of the pieces that leave the store within `ahead` years, from 0 to a negligible tail.

    lumps: top-ups counted over `years`, their rate gamma(lumps + ½, years). sizes: P(lump of 1, 2, … pieces), sum 1.
    Compound negative binomial by Panjer's recursion (1981, ASTIN Bulletin 12(1), 22-26); ½ after Jeffreys.
    """
    shape, chance = lumps + 0.5, ahead / (years + ahead)
    sizes = np.asarray(sizes, float)
    found, left = [(1 - chance) ** shape], 1 - (1 - chance) ** shape
    while left > tail and len(found) < LONGEST:
        x = len(found)
        y = np.arange(1, min(x, len(sizes)) + 1)
        found.append(float(((1 + (shape - 1) * y / x) * chance * sizes[y - 1]) @ np.array(found)[x - y]))
        left -= found[-1]
    return np.array(found) / sum(found)


def store_level(pmf, demand, terms: Terms, target: float) -> StoreLevel:
    """The level and quantity of least yearly cost whose fill rate is at least `target`, packs and minimum kept.

    pmf: of the pieces wanted over lead time and review interval, from 0, sum 1. demand: pieces per year, > 0.
    What is on hand and on order is taken as equally likely from level + 1 to level + quantity (exact where pieces
    leave one by one); target < 1. Source: Hadley & Whitin, Analysis of Inventory Systems, 1963, section 4-7.
    """
    pmf = np.asarray(pmf, float)
    least = terms.pack * terms.minimum
    ideal, _ = economic_order_quantity(terms.order_cost, max(terms.holding_rate * terms.price, 1e-9), demand)
    many = np.arange(least, int(max(least, min(2 * ideal, 4 * demand))) + terms.pack, terms.pack)
    if len(many) > TRIED:
        many = many[np.unique(np.geomspace(1, len(many), TRIED).astype(int) - 1)]
    below = np.cumsum(np.append(pmf, np.zeros(len(pmf) + int(many[-1]) + 2)))  # P(X <= y)
    ready = np.concatenate([[0.0, 0.0], np.cumsum(below)])  # up to y: sum of P(X < y)
    left = np.append(0.0, np.cumsum(np.append(0.0, np.cumsum(below))))  # up to y: sum of E max(y − X, 0)
    level = np.arange(len(pmf) + 1)
    fill = (ready[level + many[:, None] + 1] - ready[level + 1]) / many[:, None]
    enough = np.where((fill >= target).any(axis=1), (fill >= target).argmax(axis=1), len(pmf))
    stock = (left[enough + many + 1] - left[enough + 1]) / many
    cost = terms.order_cost * demand / many + terms.holding_rate * terms.price * stock
    i = int(cost.argmin())
    return StoreLevel(int(enough[i]), int(many[i]), float(fill[i, enough[i]]), float(stock[i]), float(cost[i]))


@dataclass(frozen=True)
class OrderLine:
    """A line of an order to one supplier; pieces 0: not due yet. pack, least: pieces.

    position: on hand and on order, pieces. demand: pieces per year.
    """

    part: str
    pieces: int
    pack: int
    price: float
    position: float
    demand: float
    least: int = 1


def filled_up(lines, carriage, free_over, holding_rate):
    """The pieces of each line, whole packs added up to the carriage-free sum where that saves more than it holds.

    lines: OrderLines, also those not due that may go along. carriage: money, free from `free_over` on. A piece bought
    early is held until all before it are used. Returns {part: pieces}; as given where filling up does not pay.
    """
    pieces = {line.part: line.pieces for line in lines}
    bare = sum(line.pieces * line.price for line in lines)
    usable = [line for line in lines if line.demand > 0 and line.price > 0]
    if carriage is None or free_over is None or bare >= free_over or not usable:
        return pieces
    filled, total, held = dict(pieces), bare, 0.0
    while total < free_over:
        line = min(usable, key=lambda x: _years_held(x, filled))
        more = _step(line, filled)
        held += holding_rate * line.price * more * _years_held(line, filled)
        filled[line.part] += more
        total += line.price * more
        if held >= carriage:
            return pieces
    return filled


def _step(line, filled):
    return line.pack if filled[line.part] else max(line.pack, line.least)


def _years_held(line, filled):
    """How long the pieces of one pack more would lie there on average."""
    return (line.position + filled[line.part] + _step(line, filled) / 2) / line.demand
