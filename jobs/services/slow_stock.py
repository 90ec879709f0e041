"""Expensive slow parts and which one van should hold them; stock that nobody will need where it lies."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import ROUND_HALF_UP, Decimal

import numpy as np
from django.db.models import Max

from inventory.models import AverageCost, Offer, Part, Place, Stock
from inventory.stocking.slow import FirstPiece
from jobs.models import Fitted
from jobs.services.standing_stock import StandingStock

IDLE_DAYS = 365  # not fitted anywhere for so long
ONE_A_YEAR = 1.0  # wanted by all vans together, for the store to have it
YEARS_OF_SUPPLY = 2.0  # what lasts longer than this in the whole firm is too much
HANDLING = 5.0  # money for each piece that changes its place; common practice, no source


@dataclass(frozen=True)
class SlowPart:
    """A part of which one in every van would cost more to hold than all of them together would save.

    place: the one van or the store that should hold it; None: none should. worth_per_year: what it saves there,
    less holding. free_now: [(place, free pieces)].
    """

    part: Part
    price: Decimal
    expected_per_year: float
    place: Place | None
    worth_per_year: float
    free_now: tuple[tuple[Place, int], ...]
    why: str


@dataclass(frozen=True)
class DeadStock:
    """advice: one of ADVICE. to: the van or the store that should have it. value: at average cost, None: unknown."""

    place: Place
    part: Part
    quantity: Decimal
    value: Decimal | None
    last_use: date | None
    advice: str
    to: Place | None
    supplier: object
    why: str


PASS_ON, TO_STORE, TO_SUPPLIER, WRITE_OFF, USE_UP, KEEP = ADVICE = (
    "pass-on",
    "return-to-store",
    "return-to-supplier",
    "write-off",
    "use-up",
    "keep",
)


def slow_rows(stock: StandingStock, pieces: dict[str, dict[str, FirstPiece]]) -> tuple[SlowPart, ...]:
    """Those held, or to be held, somewhere, the dearest first. pieces: part to van to what the first one is worth."""
    holding, vans = stock.problem.money.holding_per_year, len(stock.problem.vans)
    here, found = _free_now(stock), []
    for part in stock.problem.parts:
        first = pieces.get(part.part, {})
        if not first or part.price * holding * vans < stock.problem.money.second_visit:
            continue
        if sum(one.money for one in first.values()) < holding * part.price * vans:
            found.append(_slow_row(stock, part, first, here[part.part]))
    told = (row for row in found if row.place is not None or row.free_now)
    return tuple(sorted(told, key=lambda row: (-row.price, row.part.number)))


def _slow_row(stock, part, first, here):
    van, best = max(first.items(), key=lambda item: (item[1].money, item[0]))
    cost, wanted = stock.problem.money.holding_per_year * part.price, stock.wanted[part.part]
    saves = f"{best.jobs:,.2f} second visits a year ({stock.sign}{best.money:,.0f})"
    price = f"{stock.sign}{cost:,.0f} a year to hold"
    if best.money > cost:
        place, why = stock.places[van], f"On {stock.places[van]} it saves {saves}, most of all vans, and costs {price}."
    elif part.same_day:
        place, why = None, f"No van saves more with it than the {price}; it can be had the same day when wanted."
    elif stock.store is not None and wanted >= ONE_A_YEAR:
        place = stock.store
        why = f"No van saves more with it than the {price}: at best {stock.places[van]}, {saves}."
    else:
        place, why = None, f"No van saves more with it than the {price}, and the store would seldom hand it out."
    worth = best.money - cost if best.money > cost else 0.0
    price_each = Decimal(repr(part.price)).quantize(Decimal("0.01"), ROUND_HALF_UP)
    return SlowPart(stock.parts[part.part], price_each, wanted, place, worth, tuple(here), why)


def _free_now(stock: StandingStock):
    found = defaultdict(list)
    for van in stock.problem.vans:
        for part, n in van.now.items():
            found[part].append((stock.places[van.van], n))
    for part, n in stock.in_store.items():
        if n and stock.store is not None:
            found[part].append((stock.store, n))
    return found


def dead_rows(stock: StandingStock, pieces: dict[str, dict[str, FirstPiece]], day: date) -> tuple[DeadStock, ...]:
    """Free stock that the firm has not fitted for a year and that lasts for years, the most value first."""
    rows = list(Stock.objects.filter(place__kind__in=Place.HELD).there().free().select_related("place", "part"))
    used = dict(Fitted.objects.standing().order_by().values_list("part").annotate(last=Max("visit__on")))
    costs = dict(AverageCost.objects.values_list("part", "unit_cost"))
    offers = _taken_back(row.part_id for row in rows)
    held: dict[int, float] = defaultdict(float)
    for row in rows:
        held[row.part_id] += float(row.free)
    idle = [row for row in rows if row.free > 0 and _idle(used.get(row.part_id), day)]
    wanted = _wanted(stock, {row.part for row in idle})
    found = [
        _dead_row(stock, row, used.get(row.part_id), costs.get(row.part_id), wanted[row.part_id], offers, pieces)
        for row in idle
        if wanted[row.part_id] * YEARS_OF_SUPPLY < held[row.part_id]
    ]
    return tuple(sorted(found, key=lambda row: (-(row.value or 0), row.part.number, row.place.key)))


def _idle(last, day):
    return last is None or last < day - timedelta(days=IDLE_DAYS)


def _taken_back(parts):
    """Part pk to a supplier that still sells it, to be asked to take it back."""
    offers = Offer.objects.filter(part__in=set(parts), availability=Offer.Availability.AVAILABLE)
    return {o.part_id: o.supplier for o in offers.select_related("supplier").order_by("-supplier__name")}


def _wanted(stock: StandingStock, parts):
    """Part pk to the jobs in a year that could take it, also of one that is superseded or may not be advised."""
    jobs: dict[tuple[str, str], float] = defaultdict(float)
    for need in stock.problem.needs:
        component, model = need.need.split(" / ", 1)
        jobs[component, model] += stock.problem.intervals_per_year * sum(d.mean for d in need.demand.values())
    found = {}
    for part in Part.objects.filter(pk__in=[p.pk for p in parts]).prefetch_related("covers", "fits"):
        covers, fits = {c.key for c in part.covers.all()}, {m.key for m in part.fits.all()}
        own = sum(n for (c, m), n in jobs.items() if c in covers and (part.fits_any or m in fits))
        found[part.pk] = max(own, stock.wanted.get(part.number, 0.0))
    return found


def _dead_row(stock, row, last, unit_cost, wanted, offers, pieces):
    part = row.part
    advice, to, supplier, why = _advice(stock, row, wanted, offers.get(row.part_id), pieces.get(part.number, {}))
    value = None if unit_cost is None else (row.free * unit_cost).quantize(Decimal("0.01"), ROUND_HALF_UP)
    return DeadStock(row.place, part, row.free, value, last, advice, to, supplier, why)


def _advice(stock, row, wanted, supplier, first):
    ended = row.part.superseded_by_id is not None or row.part.no_longer_made_since is not None
    state = "superseded" if row.part.superseded_by_id else "no longer made"
    said = (
        f"about {wanted:,.1f} a year could be used in the whole firm" if wanted >= 0.05 else "nothing in care needs it"
    )
    if ended and wanted < 0.05:
        return WRITE_OFF, None, None, f"It is {state} and {said}."
    best = _best_van(stock, row, first)
    if best is not None:
        van, piece = best
        worth = f"{stock.sign}{piece.money:,.0f} a year"
        return PASS_ON, stock.places[van], None, f"On {stock.places[van]} one would save {worth}; {said}."
    if ended:
        return USE_UP, None, None, f"It is {state}: no supplier takes it back; use it up, {said}."
    if row.place.kind == Place.Kind.VAN and stock.store is not None and wanted >= 0.05:
        return TO_STORE, stock.store, None, f"On no van does it save what it costs to hold; {said}."
    if supplier is not None and row.condition == "new":
        return TO_SUPPLIER, None, supplier, f"{supplier} still sells it: ask what they give for it; {said}."
    if row.place.kind == Place.Kind.VAN and stock.store is not None:
        return TO_STORE, stock.store, None, f"It only takes up room on board; {said}."
    return KEEP, None, None, f"Nobody is known to take it back; {said}."


def _best_van(stock, row, first):
    """(van, piece) where one piece would save more than it costs to hold and to hand over, other than here."""
    price = {p.part: p.price for p in stock.problem.parts}.get(row.part.number, np.inf)
    cost = stock.problem.money.holding_per_year * price + HANDLING
    now = {van.van: van.now.get(row.part.number, 0) for van in stock.problem.vans}
    fitting = [(one.money, van, one) for van, one in first.items() if van != row.place.key and not now[van]]
    money, van, one = max(fitting, default=(0.0, "", None), key=lambda item: item[:2])
    return (van, one) if money > cost else None
