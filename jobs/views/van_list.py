"""The store and the vans at a glance: cash, room, what each lacks, what wants a count."""

from collections import defaultdict
from decimal import Decimal

from django.db.models import Count
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET

from firm import words
from firm.roles import office_required
from firm.tables import Column, Table
from inventory.models import CarryLevel, CountWanted, Place, Stock, VanUse
from jobs.holdings import NONE
from jobs.views.parts import currency


@office_required
@require_GET
def van_list(request):
    places = Place.objects.held().filter(retired_on=None).select_related("engineer")
    places = sorted(places, key=lambda place: (place.kind, len(place.key), place.key))  # van 2 before van 10
    table = Table(
        request,
        _summaries(places),
        _columns(),
        name="vans",
        caption="The store and the vans",
        per_page=100,
        empty="No van yet. Load places.csv with import_firm, or add a place under Administration.",
    )
    return table.response or render(request, "jobs/van_list.html", {"table": table})


def _summaries(places):
    """One row for each place, in a fixed number of queries; money is reckoned here, never in SQL."""
    rows = {p.pk: {"place": p, "lines": 0, "cash": NONE, "unknown": 0, "litres": NONE, "missing": 0} for p in places}
    free = {}
    fields = ["place", "part", "on_hand", "free", "part__average__unit_cost", "part__litres"]
    for place, part, on_hand, loose, cost, litres in (
        Stock.objects.filter(place__in=rows).there().free().values_list(*fields)
    ):
        row = rows[place]
        row["lines"] += 1
        row["cash"] += (on_hand * cost).quantize(Decimal("0.01")) if cost is not None else NONE
        row["unknown"] += cost is None
        row["litres"] += on_hand * litres if litres is not None else NONE
        free[place, part] = free.get((place, part), NONE) + loose
    for place, part, level in CarryLevel.objects.filter(place__in=rows).values_list("place", "part", "level"):
        rows[place]["missing"] += free.get((place, part), NONE) < level
    wanted = dict(CountWanted.objects.filter(done_at=None).order_by().values_list("place").annotate(n=Count("pk")))
    today = timezone.localdate()
    drivers = defaultdict(list)
    for use in (
        VanUse.objects.filter(van__in=rows, since__lte=today).exclude(until__lt=today).select_related("engineer")
    ):
        drivers[use.van_id].append(str(use.engineer))
    for pk, row in rows.items():
        row["wanted"] = wanted.get(pk, 0)
        row["driver"] = ", ".join(drivers[pk]) or str(row["place"].engineer or "")
    return list(rows.values())


def _columns():
    sign = currency()
    return [
        Column(
            "place",
            "Place",
            value=lambda r: str(r["place"]),
            href=lambda r: reverse("van_detail", args=[r["place"].pk]),
            sub=lambda r: r["driver"],
        ),
        Column("areas", "Area", value=lambda r: ", ".join(r["place"].post_areas)),
        Column("lines", "Parts on board", numeric=True),
        Column(
            "cash",
            "Cash in stock",
            numeric=True,
            show=lambda n: words.money(n, sign, 0),
            sub=lambda r: f"{r['unknown']} of unknown cost" if r["unknown"] else "",
        ),
        Column(
            "litres",
            "Room",
            numeric=True,
            show=lambda n: f"{words.number(n, 0)} l",
            sub=lambda r: f"of {words.number(r['place'].litres, 0)}" if r["place"].litres else "",
        ),
        Column("missing", "Below level", numeric=True, chip=_missing_chip),
        Column("wanted", "To count", numeric=True, chip=_wanted_chip),
    ]


def _missing_chip(row):
    what = "to order" if row["place"].kind == Place.Kind.STORE else "to top up"
    return ("care", "down", f"{row['missing']} {what}") if row["missing"] else ("good", "tick", "Full")


def _wanted_chip(row):
    return ("care", "eye", f"Count {row['wanted']}") if row["wanted"] else None
