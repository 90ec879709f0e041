"""How much cash sits in the store and the vans, how long it has been idle, and what is above or below its level."""

from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET

from firm.models import Setting
from firm.roles import owner_required
from firm.tables import Column, Filter, Table, figure
from firm.words import count, money, number, per_cent
from inventory.models import Place
from jobs.idle_stock import AGES, cash


@owner_required
@require_GET
def cash_list(request):
    currency, found = Setting.current().currency, cash(timezone.localdate())
    tables = [_places(request, found, currency), _lines(request, found, currency)]
    for table in tables:
        if table.response:
            return table.response
    return render(request, "jobs/cash_list.html", {
        "found": found, "places": tables[0], "lines": tables[1], "figures": _figures(found, currency),
        "idle_share": found.whole.idle / found.whole.value if found.whole.value else None, "moves": found.moves[:5],
        "ages": [(age, age.value / found.whole.value if found.whole.value else None) for age in found.ages],
    })  # fmt: skip


def _figures(found, currency):
    whole = found.whole
    vans = sum(row.value for row in found.places if row.place.kind == Place.Kind.VAN)
    holding = whole.value * Setting.current().holding_per_year
    return [
        figure(
            "Cash in stock",
            money(whole.value, currency, 0),
            "at average cost" + (f"; {count(whole.unknown, 'line')} without a known cost" if whole.unknown else ""),
        ),
        figure("In the vans", money(vans, currency, 0), f"{per_cent(vans / whole.value)} of it" if whole.value else ""),
        figure(
            "Not used for a year",
            money(whole.idle, currency, 0),
            f"{per_cent(whole.idle / whole.value)} of it" if whole.value else "",
        ),
        figure(
            "Above the agreed levels",
            money(whole.over, currency, 0),
            f"{money(found.movable, currency, 0)} of it missing elsewhere",
        ),
        figure(
            "Costs a year to hold",
            money(holding, currency, 0),
            f"at {per_cent(Setting.current().holding_per_year)} of its price",
        ),
    ]


def _places(request, found, currency):
    def shown(value):
        return money(value, currency)

    columns = [
        Column(
            "place",
            "Place",
            value=lambda row: str(row.place),
            sub=lambda row: str(row.place.engineer or ""),
            href=_place,
        ),
        Column("lines", "Lines", numeric=True),
        Column("pieces", "Pieces", numeric=True, show=lambda v: number(v, None)),
        Column("value", "Worth", numeric=True, show=shown, sub=lambda row: _budget(row, currency)),
        Column("over", "Above level", numeric=True, show=shown),
        Column("short", "Missing to level", numeric=True, show=shown),
        Column("idle", "Idle for a year", numeric=True, show=shown),
        Column(
            "counts_wanted",
            "To count",
            numeric=True,
            chip=lambda row: ("care", "warn", count(row.counts_wanted, "part")) if row.counts_wanted else (),
            sub=lambda row: f"counted {row.counted_on:%-d %b %Y}" if row.counted_on else "never counted",
        ),
    ]
    return Table(
        request,
        found.places,
        columns,
        name="stock-by-place",
        caption="Stock by place",
        prefix="p-",
        sort="place",
        css="mid",
        empty="No place yet: import places, and their stock appears here.",
    )


def _budget(row, currency):
    if row.place.budget is None:
        return ""
    return f"{'over' if row.value > row.place.budget else 'of'} {money(row.place.budget, currency, 0)} agreed"


def _place(row):
    return reverse("van_detail", args=[row.place.pk]) if row.place.kind == Place.Kind.VAN else ""


def _lines(request, found, currency):
    columns = [
        Column(
            "part",
            "Part",
            href=lambda row: reverse("part_detail", args=[row["part_pk"]]),
            sub=lambda row: row["description"],
        ),
        Column("place", "Place"),
        Column("on_hand", "On hand", numeric=True, show=lambda v: number(v, None)),
        Column("level", "Level", numeric=True, show=lambda v: "none" if v is None else number(v, None)),
        Column("value", "Worth", numeric=True, show=lambda v: money(v, currency)),
        Column("used", "Used last", show=lambda day: f"{day:%-d %b %Y}" if day else "never"),
    ]
    ages = [(word, label) for word, label, _ in AGES]
    places = [(str(row.place), str(row.place)) for row in found.places]
    return Table(
        request,
        found.lines,
        columns,
        name="stock",
        caption="Stock, line by line",
        sort="-value",
        per_page=25,
        filters=[
            Filter("age", "Used last", lambda rows, text: [r for r in rows if r["age"] == text], ages),
            Filter("place", "Place", lambda rows, text: [r for r in rows if r["place"] == text], places),
            Filter("q", "Part", _with_text),
        ],
        empty="Nothing is in stock yet.",
    )


def _with_text(rows, text):
    text = text.casefold()
    return [row for row in rows if text in f"{row['part']} {row['description']}".casefold()]
