"""Prices: the newest files, what rose, and what one need costs from whom."""

from datetime import timedelta
from decimal import Decimal

from django.db.models import F, OuterRef, Subquery
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET

from firm import words
from firm.models import Setting
from firm.roles import office_required
from firm.tables import Column, Filter, Table
from inventory.models import Part, Price, PriceFile, Supplier
from inventory.services import pricing
from inventory.views.asking import whole
from inventory.views.asking import words as words_asked

LOOK_BACK = {"30": "a month", "90": "three months", "365": "a year"}
LARGE_RISE = Decimal("0.10")
MOST_CHANGES = 5000


def changes(since, until):
    """Prices of these days that differ from the one before, as rows with `share`, the change over the old price."""
    before = Price.objects.filter(offer=OuterRef("offer"), valid_from__lt=OuterRef("valid_from")).order_by(
        "-valid_from", "-pk"
    )
    rows = Price.objects.filter(valid_from__range=(since, until))
    rows = rows.annotate(before=Subquery(before.values("price_per_piece")[:1])).exclude(before=None)
    rows = rows.exclude(before=F("price_per_piece")).select_related("offer__supplier", "offer__part")
    found = list(rows.order_by("-valid_from", "-pk")[:MOST_CHANGES])
    for row in found:
        row.share = (row.price_per_piece - row.before) / row.before if row.before else None
    return found


def _change_chip(row):
    if row.share is None:
        return ("note", "eye", "was nil")
    percent = f"{abs(row.share) * 100:.1f}%"
    if row.share >= LARGE_RISE:
        return ("bad", "up", f"up {percent}")
    return ("care", "up", f"up {percent}") if row.share > 0 else ("good", "down", f"down {percent}")


def _columns(currency):
    money = lambda n: words.money(n, currency)  # noqa: E731
    return [
        Column(
            "part",
            "Part",
            value=lambda p: p.offer.part.description,
            sub=lambda p: p.offer.part.number,
            href=lambda p: reverse("part_detail", args=[p.offer.part_id]),
        ),
        Column("supplier", "From", value=lambda p: str(p.offer.supplier), sub=lambda p: p.offer.supplier_part),
        Column("before", "Before, one piece", numeric=True, show=money),
        Column("price_per_piece", "Now, one piece", numeric=True, show=money),
        Column(
            "share",
            "Change",
            value=lambda p: None if p.share is None else round(float(p.share), 4),
            numeric=True,
            chip=_change_chip,
        ),
        Column("valid_from", "From", show=lambda day: f"{day:%-d %b %Y}".replace(" ", "\N{NO-BREAK SPACE}")),
    ]


def _filters():
    return [
        Filter(
            "q", "Part or number", lambda rows, text: [r for r in rows if text.lower() in str(r.offer.part).lower()]
        ),
        Filter(
            "supplier",
            "Supplier",
            lambda rows, key: [r for r in rows if r.offer.supplier.key == key],
            [(s.key, s.name) for s in Supplier.objects.all()],
        ),
        Filter(
            "what",
            "Which",
            lambda rows, what: [r for r in rows if _is(r, what)],
            [("large", "rises of a tenth or more"), ("up", "all rises"), ("down", "falls")],
        ),
    ]


def _is(row, what):
    share = row.share or Decimal(0)
    return share >= LARGE_RISE if what == "large" else share > 0 if what == "up" else share < 0


@office_required
@require_GET
def price_list(request):
    today = timezone.localdate()
    days = request.GET.get("days") if request.GET.get("days") in LOOK_BACK else "90"
    rows = changes(today - timedelta(days=int(days)), today)
    table = Table(
        request,
        rows,
        _columns(Setting.current().currency),
        name="price-changes",
        caption="Price changes",
        filters=_filters(),
        sort="-share",
        empty="No price has changed in this time.",
    )
    if table.response:
        return table.response
    shown = {
        "table": table,
        "days": days,
        "choices": LOOK_BACK.items(),
        "rises": sum(_is(row, "large") for row in rows),
        "files": PriceFile.objects.select_related("supplier", "by").defer("content")[:12],
        **_compared(request, today),
    }
    return render(request, "inventory/price_list.html", shown)


def _compared(request, today):
    """The comparison that the address asks for: part and pieces."""
    text = words_asked(request, "part")
    quantity = Decimal(whole(request.GET.get("pieces"), least=1, most=9999) or 1)
    found = Part.objects.filter(number__iexact=text).first() or Part.objects.filter(maker_part__iexact=text).first()
    if not text or found is None:
        return {"asked": text, "quantity": quantity, "compared": None}
    living = pricing.living(found)
    return {
        "asked": text,
        "quantity": quantity,
        "compared": living,
        "sources": pricing.sources(living, quantity, today),
        "instead_of": found if living != found else None,
    }
