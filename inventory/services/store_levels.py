"""When the store should order each part, and how much at once."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date
from math import ceil

import numpy as np
from django.utils import timezone

from firm.models import Setting
from firm.words import SIGNS
from inventory.models import CarryLevel, Offer, Part, Place
from inventory.services import pricing
from inventory.services.issues import DAYS_PER_YEAR, Issues, issues
from inventory.stocking.reorder import StoreLevel, Terms, lumpy_demand, store_level

TIMES_A_YEAR = 2  # that a part leaves the store, to be kept there; half as often where a van carries it


@dataclass(frozen=True)
class StoreRow:
    """Order `quantity` pieces (`packs` of `pack`) of `part` when what is free and on order is down to `level`.

    level −1: not kept on the shelf, because holding one costs more than a second visit for each that leaves.
    demand_per_year: pieces that leave the store. wanted: pieces expected over `days`, lead time and review together.
    fill_rate: share of pieces found on the shelf. cost_per_year: of ordering and holding. words: why.
    """

    part: Part
    offer: Offer
    price: float
    demand_per_year: float
    wanted: float
    days: int
    level: int
    quantity: int
    packs: int
    pack: int
    least: int
    fill_rate: float
    mean_stock: float
    cost_per_year: float
    words: str


def store_levels(as_of: date | None = None) -> tuple[StoreRow, ...]:
    """Level and quantity of every part that leaves the store now and then or that somebody is to carry.

    Superseded numbers count for the living one; parts without a price on that day are left out.
    """
    day = as_of or timezone.localdate()
    known, setting = issues(day), Setting.current()
    parts = _kept_parts(known)
    offers: dict[int, Offer] = {}
    for offer in pricing.offers_of(list(parts), day):
        offers.setdefault(offer.part_id, offer)
    found = [_row(parts[pk][0], offers[pk], parts[pk][1], known.years, setting) for pk in parts if pk in offers]
    return tuple(sorted(found, key=lambda row: row.part.number))


def _kept_parts(known: Issues):
    """Living part pk to (part, its lumps) of those that leave often enough, or whose level somebody agreed."""
    levels = CarryLevel.objects.filter(level__gt=0).values_list("part", "place__kind")
    agreed = {part for part, kind in levels if kind == Place.Kind.STORE}
    carried = {part for part, _ in levels}
    asked = Part.objects.filter(pk__in={*known.lumps, *agreed}, counted=True).select_related("superseded_by")
    found: dict[int, tuple[Part, list[int]]] = {}
    fewest: dict[int, float] = defaultdict(lambda: TIMES_A_YEAR * known.years)
    for part in asked:
        living, lumps = pricing.living(part), known.lumps.get(part.pk, [])
        found.setdefault(living.pk, (living, []))[1].extend(lumps)
        times = 0.0 if part.pk in agreed else 0.5 if part.pk in carried else 1.0
        fewest[living.pk] = min(fewest[living.pk], times * TIMES_A_YEAR * known.years)
    return {pk: kept for pk, kept in found.items() if len(kept[1]) >= fewest[pk]}


def _row(part, offer, lumps, years, setting):
    pack, least = ceil(offer.now_pack), ceil(offer.now_pack * offer.now_minimum)
    lead = offer.supplier.lead_time_days if offer.lead_time_days is None else offer.lead_time_days
    days = lead + setting.restock_days
    sizes = np.bincount(lumps or [1])[1:] / max(len(lumps), 1) if lumps else np.ones(1)
    pmf = lumpy_demand(len(lumps), years, sizes, days / DAYS_PER_YEAR)
    demand = (len(lumps) + 0.5) / years * float(sizes @ np.arange(1, len(sizes) + 1))
    price = float(offer.now_price_per_piece)
    terms = Terms(float(setting.order_cost), float(setting.holding_per_year), price, pack, ceil(least / pack))
    seldom = terms.holding_rate * price > demand * float(setting.second_visit)
    found = _when_wanted(terms, demand) if seldom else store_level(pmf, demand, terms, float(setting.target_fill_rate))
    wanted = float(pmf @ np.arange(len(pmf)))
    return StoreRow(
        part=part,
        offer=offer,
        price=price,
        demand_per_year=demand,
        wanted=wanted,
        days=days,
        level=found.level,
        quantity=found.quantity,
        packs=found.quantity // pack,
        pack=pack,
        least=least,
        fill_rate=found.fill_rate,
        mean_stock=found.mean_stock,
        cost_per_year=found.cost,
        words=_words(found, offer, pack, wanted, days, setting),
    )


def _when_wanted(terms: Terms, demand):
    """Nothing on the shelf: ordered once something is lacking."""
    quantity = terms.pack * terms.minimum
    return StoreLevel(-1, quantity, 0.0, 0.0, terms.order_cost * demand / quantity)


def _words(found: StoreLevel, offer, pack, wanted, days, setting):
    sign, packs = SIGNS.get(setting.currency, setting.currency + " "), found.quantity // pack
    if found.level < 0:
        return (
            f"Not on the shelf: holding one would cost more than a second visit for each of the few that leave in a "
            f"year. Order it from {offer.supplier} when it is wanted."
        )
    packed = f" ({packs} pack{'s' if packs > 1 else ''} of {pack})" if pack > 1 else ""
    left = f"only {found.level} is left" if found.level == 1 else f"{found.level or 'none'} are left"
    leave = f"about {wanted:,.1f} leave" if wanted >= 0.05 else "hardly any leaves"
    return (
        f"Order {found.quantity}{packed} from {offer.supplier} when {left}, what is on order counted: {leave} in the "
        f"{days} days until the next order is here; {found.fill_rate:.0%} find theirs on the shelf, and ordering and "
        f"holding cost {sign}{found.cost:,.0f} a year."
    )
