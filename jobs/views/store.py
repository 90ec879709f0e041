"""The store: at what level it orders how much of each part, and what it sends to the vans at the next top-up."""

from collections import defaultdict
from datetime import timedelta
from decimal import Decimal

from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET

from firm.models import Setting
from firm.roles import office_required
from firm.tables import Column, Filter, Table, figure
from firm.words import count, money, number, per_cent
from inventory.models import Place, Stock
from inventory.services import ordering
from inventory.services.places import store
from inventory.services.store_levels import store_levels
from inventory.views.asking import whole
from jobs.part_states import waiting_parts
from jobs.top_ups import top_ups

WAITING = timedelta(days=120)  # as far back as a visit's word that it needs a part still counts


@office_required
@require_GET
def top_up_list(request):
    """What to bring to each van, to print: one list a van, or one alone with ?van=."""
    source = store()
    vans = sorted(Place.objects.vans().filter(retired_on=None), key=lambda van: (len(van.key), van.key))
    asked = whole(request.GET.get("van"))
    lists = [(van, lines) for van, lines in top_ups(source, vans) if asked in (None, van.pk)]
    shown = {
        "store": source,
        "lists": [(van, lines, sum(line.bring > 0 for line in lines)) for van, lines in lists if lines],
        "full": [van for van, lines in lists if not lines],
        "vans": vans,
        "one": asked,
        "today": timezone.localdate(),
    }
    return render(request, "jobs/top_up_list.html", shown)


@office_required
@require_GET
def store_level_list(request):
    """When the store should order each part and how much at once, and why."""
    today, setting = timezone.localdate(), Setting.current()
    due = _due(today)
    rows = [_Row(row, due.get(row.part.pk)) for row in store_levels(today)]
    _with_stock(rows)
    table = _table(request, rows, setting.currency)
    if table.response:
        return table.response
    figures = [
        figure("Parts that the store should keep", number(len(rows), None)),
        figure("To be ordered now", count(len(due), "part")),
        figure(
            "Stock on average", money(sum(row.mean_worth for row in rows), setting.currency, 0), "at today’s prices"
        ),
        figure(
            "Ordering and holding",
            money(sum(row.levels.cost_per_year for row in rows), setting.currency, 0),
            f"a year, at {money(setting.order_cost, setting.currency)} an order line",
        ),
    ]
    context = {"table": table, "figures": figures, "target": setting.target_fill_rate, "to_order": len(due)}
    return render(request, "jobs/store_levels.html", context)


class _Row:
    """A StoreRow with what the store has and what is to be ordered now: (pieces, why) or None."""

    def __init__(self, levels, due):
        self.levels, self.due, self.free = levels, due, Decimal(0)

    @property
    def mean_worth(self):
        return self.levels.mean_stock * self.levels.price


def _due(today):
    """Part pk to (pieces, why) of what the order page proposes to order for the shelves."""
    proposals, _ = ordering.propose_orders(today, waiting_parts(today - WAITING))
    found = defaultdict(list)
    for proposal in proposals:
        for source, _, why, _ in proposal.rows:
            found[source.part.pk].append((source.pieces, why))
    return {pk: (sum(pieces for pieces, _ in lines), "; ".join(why for _, why in lines)) for pk, lines in found.items()}


def _with_stock(rows):
    free = defaultdict(Decimal)
    for row in Stock.objects.filter(place__kind=Place.Kind.STORE, condition="new").there().free():
        free[row.part_id] += row.free
    for row in rows:
        row.free = free[row.levels.part.pk]


def _table(request, rows, currency):
    def of(name):
        return lambda row: getattr(row.levels, name)

    suppliers = sorted({(row.levels.offer.supplier.key, row.levels.offer.supplier.name) for row in rows})
    columns = [
        Column(
            "part",
            "Part",
            value=lambda row: row.levels.part.description,
            href=lambda row: reverse("part_detail", args=[row.levels.part.pk]),
            sub=lambda row: row.levels.part.number,
        ),
        Column("free", "Free now", numeric=True, show=lambda n: number(n, None)),
        Column("level", "Order at", value=of("level"), numeric=True),
        Column("quantity", "Order", value=of("quantity"), numeric=True, sub=_packs),
        Column("due", "Now", value=lambda row: row.due[0] if row.due else None, chip=_due_chip),
        Column("demand", "Leaves a year", value=of("demand_per_year"), numeric=True, show=number),
        Column("fill_rate", "On the shelf", value=of("fill_rate"), numeric=True, show=per_cent),
        Column("cost", "Costs a year", value=of("cost_per_year"), numeric=True, show=lambda v: money(v, currency, 0)),
        Column("words", "Why", value=of("words"), whole=True, order=""),
    ]
    more = [
        Column("number", "Part number", value=lambda row: row.levels.part.number),
        Column("supplier", "Supplier", value=lambda row: row.levels.offer.supplier.name),
        Column("price", "Price of a piece", value=of("price")),
    ]
    return Table(
        request,
        rows,
        columns,
        name="store-levels",
        caption="When the store orders, and how much",
        sort="part",
        more=more,
        filters=[
            Filter("show", "Show", lambda found, _: [row for row in found if row.due], [("due", "to be ordered now")]),
            Filter(
                "supplier",
                "Supplier",
                lambda found, key: [row for row in found if row.levels.offer.supplier.key == key],
                suppliers,
            ),
            Filter("q", "Part", _with_text),
        ],
        empty="No part leaves the store often enough, and no van has a level yet.",
    )


def _with_text(rows, text):
    return [row for row in rows if text.casefold() in str(row.levels.part).casefold()]


def _packs(row):
    return f"{count(row.levels.packs, 'pack')} of {row.levels.pack}" if row.levels.pack > 1 else ""


def _due_chip(row):
    return ("care", "down", f"Order {number(row.due[0], None)}") if row.due else ()
