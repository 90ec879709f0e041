"""The parts that would finish each kind of job, what a piece of each costs on a day, and who has it the same day."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date
from math import ceil

from inventory.models import AverageCost, ComponentType, Offer, Part, Recipe


@dataclass(frozen=True)
class VanParts:
    """parts: by number, those with a price. prices: number to price. same_day: numbers that a merchant has at once.

    recipes: (component, model) keys to recipes, each part number to pieces, in the order in which they are tried:
    single parts from the cheapest on, then combinations.
    """

    parts: dict[str, Part]
    prices: dict[str, float]
    same_day: set[str]
    recipes: dict[tuple[str, str], tuple[dict[str, int], ...]]
    warnings: tuple[str, ...]


def van_parts(pairs, *, as_of: date, also=()) -> VanParts:
    """Recipes of the (component, model) pairs that may be advised. also: numbers that are needed in any case."""
    parts = {p.number: p for p in Part.objects.filter(counted=True).prefetch_related("covers", "fits")}
    prices, same_day = prices_on(as_of)
    covering, combined = _covering(parts), _combinations()
    wanted = {pair: [*_alone(pair, covering, prices), *_combined(pair, combined)] for pair in pairs}
    recipes, priceless = {}, set()
    for pair, listed in wanted.items():
        recipes[pair] = tuple(r for r in listed if r.keys() <= prices.keys() and r.keys() <= parts.keys())
        priceless |= {p for r in listed for p in r if p not in prices}
    used = {p for listed in recipes.values() for r in listed for p in r} | ({*also} & parts.keys())
    priceless |= used - prices.keys()
    warnings = [f"left out for want of a price: {_some(priceless)}"] if priceless else []
    bare = [f"{component} / {model}" for (component, model), listed in recipes.items() if not listed]
    if bare:
        warnings.append(f"no part to carry is listed for {_some(bare)}; these jobs take a second visit")
    closed = sorted({c for c, _ in pairs if c in combined.left_out})
    if closed:
        warnings.append(f"combinations left out, because they name a superseded part or a copy: {_some(closed)}")
    used = sorted(used & prices.keys())
    return VanParts({p: parts[p] for p in used}, prices, same_day, recipes, tuple(warnings))


def prices_on(as_of: date):
    """(number to cheapest price per piece valid that day, else average cost; numbers to be had the same day)."""
    offers = (
        Offer.objects.exclude(availability=Offer.Availability.ENDED)
        .priced(as_of)
        .values_list("part__number", "now_price_per_piece", "same_day", "supplier__same_day")
    )
    prices: dict[str, float] = {}
    same_day = set()
    for number, price, own, suppliers in offers:
        if price is not None:
            prices[number] = min(float(price), prices.get(number, float("inf")))
        if suppliers if own is None else own:
            same_day.add(number)
    for number, cost in AverageCost.objects.values_list("part__number", "unit_cost"):
        if cost is not None:
            prices.setdefault(number, float(cost))
    return prices, same_day


def _covering(parts):
    """Component key to the parts that may be advised for it."""
    strict = set(ComponentType.objects.filter(approved_new_only=True).values_list("key", flat=True))
    found = defaultdict(list)
    for part in parts.values():
        if part.superseded_by_id is None:
            for component in part.covers.all():
                if part.advisable_where_approved_new or component.key not in strict:
                    found[component.key].append((part.number, part.fits_any, {m.key for m in part.fits.all()}))
    return found


def _alone(pair, covering, prices):
    component, model = pair
    fitting = [number for number, any_model, models in covering[component] if any_model or model in models]
    return [{number: 1} for number in sorted(fitting, key=lambda n: (prices.get(n, float("inf")), n))]


@dataclass(frozen=True)
class _Combined:
    """advised: component key to [(recipe, fits any, model keys)]. left_out: components of those that may not be."""

    advised: dict[str, list]
    left_out: set[str]


def _combinations() -> _Combined:
    found, left_out = defaultdict(list), set()
    for recipe in Recipe.objects.select_related("component").prefetch_related("lines__part", "fits").order_by("pk"):
        lines = [line for line in recipe.lines.all() if line.part.counted]
        strict = recipe.component.approved_new_only
        fine = all(
            line.part.superseded_by_id is None and (line.part.advisable_where_approved_new or not strict)
            for line in lines
        )
        if lines and fine:
            pieces = {line.part.number: ceil(line.quantity) for line in lines}
            found[recipe.component.key].append((pieces, recipe.fits_any, {m.key for m in recipe.fits.all()}))
        elif lines:
            left_out.add(recipe.component.key)
    return _Combined(found, left_out)


def _combined(pair, combined):
    component, model = pair
    return [pieces for pieces, any_model, models in combined.advised.get(component, []) if any_model or model in models]


def _some(names):
    names = sorted(names)
    return ", ".join(names[:5]) + (f" and {len(names) - 5} more" if len(names) > 5 else "")
