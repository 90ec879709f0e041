"""Van loads by trying everything, with plain loops that share nothing with the product."""

from functools import cache
from itertools import product

from scipy.stats import nbinom


def chances(failures, exposure, per_interval, tail=1e-9):
    """[P(N = 0), P(N = 1), …] of one need, down to a negligible tail."""
    if failures == 0 or per_interval == 0:
        return [1.0]
    law = nbinom(failures, exposure / (exposure + per_interval))
    return [float(law.pmf(n)) for n in range(int(law.isf(tail)) + 2)]


def expected_done(levels, recipes, counts_laws, cost):
    """(worth, done) expected from these levels when the jobs of each need arrive in random order."""
    kinds = range(len(recipes))

    @cache
    def served(stock, counts):
        total = sum(counts)
        if not total:
            return 0.0, 0.0
        worth = done = 0.0
        for k in kinds:
            if counts[k]:
                left, hit = take(stock, recipes[k])
                rest = served(left, tuple(n - (j == k) for j, n in enumerate(counts)))
                worth += counts[k] / total * (hit * cost[k] + rest[0])
                done += counts[k] / total * (hit + rest[1])
        return worth, done

    worth = done = 0.0
    for counts in product(*(range(len(law)) for law in counts_laws)):
        chance = 1.0
        for law, n in zip(counts_laws, counts, strict=True):
            chance *= law[n]
        if chance > 1e-12:
            w, d = served(tuple(levels), counts)
            worth, done = worth + chance * w, done + chance * d
    return worth, done


def take(stock, recipes):
    for recipe in recipes:
        if all(stock[p] >= n for p, n in recipe.items()):
            return tuple(s - recipe.get(p, 0) for p, s in enumerate(stock)), 1
    return stock, 0


def tried(data, van):
    """[(levels, net worth a year, spend, litres, kilograms, done)] of every level vector that the pins allow."""
    names = [p["part"] for p in data["parts"]]
    needs = [n for n in data["needs"] if van["exposure_per_interval"].get(n["need"], 0) > 0 and n["recipes"]]
    recipes = [[{names.index(p): n for p, n in r.items()} for r in need["recipes"]] for need in needs]
    laws = [chances(n["failures"], n["exposure_years"], van["exposure_per_interval"][n["need"]]) for n in needs]
    cost = [cost_of_missing(data, n) for n in needs]
    pins = [van.get("pins", {}).get(p, [0, data["max_per_part"]]) for p in names]
    found = []
    for levels in product(*(range(low, high + 1) for low, high in pins)):
        worth, done = expected_done(levels, recipes, laws, cost)
        spend, litres, kilograms = (
            sum(n * p.get(key, 0) for n, p in zip(levels, data["parts"], strict=True))
            for key in ("price", "litres", "kilograms")
        )
        net = worth * data["intervals_per_year"] - data["money"]["holding_per_year"] * spend
        found.append((levels, net, spend, litres, kilograms, done))
    return found


def cost_of_missing(data, need):
    same_day = {p["part"]: p.get("same_day", 0) for p in data["parts"]}
    chance = max(min(same_day[p] for p in recipe) for recipe in need["recipes"])
    return chance * data["money"]["merchant_run"] + (1 - chance) * data["money"]["second_visit"]


def within(data, van, found):
    """Those that keep the van's limits; pins beat them, so what the pinned least takes is always allowed."""
    least = [van.get("pins", {}).get(p["part"], [0, 0])[0] for p in data["parts"]]
    kept = found
    for at, key, limit in (
        (2, "price", van.get("budget")),
        (3, "litres", van.get("litres")),
        (4, "kilograms", van.get("kilograms")),
    ):
        if limit is not None:
            pinned = sum(n * p.get(key, 0) for n, p in zip(least, data["parts"], strict=True))
            kept = [f for f in kept if f[at] <= max(limit, pinned) + 1e-9]
    return kept


def best_net(data):
    """The greatest net worth a year over all vans under every limit, the shared budget included."""
    per_van = [within(data, van, tried(data, van)) for van in data["vans"]]
    budget = data["money"].get("budget")
    if budget is None:
        return sum(max(f[1] for f in found) for found in per_van)
    prices = {p["part"]: p["price"] for p in data["parts"]}
    least = sum(pin[0] * prices[part] for van in data["vans"] for part, pin in van.get("pins", {}).items())
    best = {0.0: 0.0}
    for found in per_van:
        grown = {}
        for spend, net in best.items():
            for f in found:
                cash = round(spend + f[2], 9)
                if cash <= max(budget, least) + 1e-9 and net + f[1] > grown.get(cash, -1e18):
                    grown[cash] = net + f[1]
        best = grown
    return max(best.values())
