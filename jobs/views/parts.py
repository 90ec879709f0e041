"""Parts for the office: what fits, where one is now, what it costs from whom, and what would do instead."""

from datetime import timedelta
from decimal import Decimal

from django.db.models import DecimalField, OuterRef, Q, Subquery, Sum, Value
from django.db.models.functions import Coalesce
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET

from firm import words
from firm.models import Setting
from firm.roles import office_required
from firm.tables import Column, Filter, Table
from inventory.models import ApplianceModel, ComponentType, Offer, Part, Place, Price, Recipe, Stock
from inventory.services import pricing
from inventory.views.asking import whole
from jobs.cautions import warnings_for
from jobs.models import Fitted

ZERO = Value(Decimal(0), output_field=DecimalField(max_digits=12, decimal_places=3))


def with_price(parts, on):
    """Annotate `price`: the cheapest price of one piece that holds on a day, from whoever still sells it."""
    newest = Price.objects.filter(offer=OuterRef("pk"), valid_from__lte=on).order_by("-valid_from", "-pk")
    offers = Offer.objects.filter(part=OuterRef("pk")).exclude(availability=Offer.Availability.ENDED)
    cheapest = offers.annotate(now=Subquery(newest.values("price_per_piece")[:1])).exclude(now=None).order_by("now")
    return parts.annotate(price=Subquery(cheapest.values("now")[:1]))


def with_stock(parts):
    """Annotate `there`: pieces in the store and the vans together."""
    held = Stock.objects.filter(part=OuterRef("pk"), place__kind__in=Place.HELD)
    total = held.order_by().values("part").annotate(total=Sum("on_hand")).values("total")
    return parts.annotate(there=Coalesce(Subquery(total), ZERO))


def _place_choices():
    return [(place.key, str(place)) for place in Place.objects.held().filter(retired_on=None)]


def filters():
    return [
        Filter("q", "Number, maker’s number or words", lambda rows, text: rows.search(text)),
        Filter(
            "component",
            "For",
            lambda rows, key: rows.filter(covers__key=key),
            [(c.key, c.name) for c in ComponentType.objects.filter(parts__isnull=False).distinct()],
        ),
        Filter(
            "model",
            "Fits",
            lambda rows, key: rows.filter(Q(fits_any=True) | Q(fits__key=key)).distinct(),
            [(m.key, str(m)) for m in ApplianceModel.objects.all()],
        ),
        Filter(
            "place",
            "In",
            lambda rows, key: rows.filter(stock__place__key=key, stock__on_hand__gt=0).distinct(),
            _place_choices(),
        ),
    ]


def standing(part):
    """(kind, sign, word) of a part: whether it can still be had."""
    if part.superseded_by_id:
        return ("care", "up", f"Now {part.superseded_by.number}")
    if part.no_longer_made_since:
        return ("care", "cross", "No longer made")
    if part.grade == Part.Grade.MAKER_NEW:
        return ("", "tick", "Maker’s new")
    return ("note" if part.advisable_where_approved_new else "care", "eye", part.get_grade_display())


def columns(currency):
    return [
        Column("number", "Part", href=lambda p: reverse("part_detail", args=[p.pk]), sub=lambda p: p.maker_part),
        Column("description", "Words", sub=lambda p: ", ".join(c.name for c in p.covers.all())),
        Column("there", "In store and vans", numeric=True, show=lambda n: words.number(n, None)),
        Column("price", "Best price of one", numeric=True, show=lambda n: words.money(n, currency)),
        Column("state", "State", value=lambda p: standing(p)[2], chip=standing, order=""),
    ]


@office_required
@require_GET
def part_list(request):
    rows = with_stock(with_price(Part.objects.all(), timezone.localdate()))
    table = Table(
        request,
        rows.prefetch_related("covers").select_related("superseded_by"),
        columns(currency()),
        name="parts",
        caption="Parts",
        filters=filters(),
        sort="description",
        empty="No part yet. Load the firm’s files with import_firm, or a price file under Prices.",
    )
    return table.response or render(request, "jobs/part_list.html", {"table": table})


def currency():
    return Setting.current().currency


@office_required
@require_GET
def part_detail(request, pk):
    part = get_object_or_404(
        Part.objects.prefetch_related("covers", "fits", "then_also_needs").select_related("superseded_by"), pk=pk
    )
    today = timezone.localdate()
    living = pricing.living(part)
    quantity = _quantity(request)
    shown = {
        "part": part,
        "state": standing(part),
        "living": living if living != part else None,
        "quantity": quantity,
        "sources": pricing.sources(living, quantity, today),
        "spots": _spots(part),
        "levels": part.carry_levels.select_related("place", "fixed_by"),
        "average": getattr(part, "average", None),
        "history": _price_history(part),
        "lately": _lately(part),
        "year": _year(part, today),
        "alternatives": alternatives(part, today),
        "warnings": warnings_for(part.covers.all(), _kind_of(part)),
        "supersedes": part.supersedes.all(),
    }
    return render(request, "jobs/part_detail.html", shown)


def _quantity(request):
    return Decimal(whole(request.GET.get("pieces"), least=1, most=9999) or 1)


def _spots(part):
    rows = Stock.objects.filter(part=part, place__kind__in=Place.HELD).there().free()
    return rows.select_related("place__engineer").order_by("place__kind", "place__key", "condition")


def _kind_of(part):
    """The kind of appliance that the part fits, where it is one alone."""
    kinds = {model.kind for model in part.fits.all()}
    return kinds.pop() if len(kinds) == 1 and not part.fits_any else ""


def _price_history(part):
    rows = Price.objects.filter(offer__part=part).select_related("offer__supplier")
    return rows.order_by("-valid_from", "offer__supplier__name")[:12]


def _lately(part):
    rows = Fitted.objects.standing().filter(part=part)
    wide = rows.select_related("visit__job__appliance__customer", "appliance__model", "component", "taken_out")
    return wide.order_by("-visit__on", "-pk")[:10]


def _year(part, today):
    """Pieces fitted in the last 365 days."""
    rows = Fitted.objects.standing().filter(part=part, taken_out=None, visit__on__gt=today - timedelta(days=365))
    return rows.aggregate(pieces=Sum("quantity"))["pieces"] or Decimal(0)


def alternatives(part, on):
    """For each component that the part covers, other parts and recipes that renew it on a model that this one fits.

    Rows of {component, parts: [(part, how it differs)], recipes, left_out}: copies and reconditioned parts are left
    out, and counted, where the class demands approved new parts.
    """
    models = [model.pk for model in part.fits.all()]
    fitting = Q() if part.fits_any else Q(fits_any=True) | Q(fits__in=models)
    covers = list(part.covers.all())
    others = with_stock(with_price(Part.objects.living().exclude(pk=part.pk), on))
    others = others.filter(fitting, covers__in=covers).distinct().prefetch_related("covers")
    recipes = Recipe.objects.filter(Q(fits_any=True) | Q(fits__in=models) if models else Q(), component__in=covers)
    recipes = recipes.distinct().prefetch_related("lines__part")
    return [_for_component(component, part, others, recipes) for component in covers] if covers else []


def _for_component(component, part, others, recipes):
    found = [other for other in others if component in other.covers.all()]
    together = [recipe for recipe in recipes if recipe.component_id == component.pk]
    allowed = [other for other in found if may_be_advised(component, [other])]
    good = [recipe for recipe in together if may_be_advised(component, [line.part for line in recipe.lines.all()])]
    return {
        "component": component,
        "parts": [(other, _difference(part, other)) for other in allowed],
        "recipes": good,
        "left_out": len(found) - len(allowed) + len(together) - len(good),
    }


def may_be_advised(component, parts):
    """No copy and nothing reconditioned where the class demands approved new parts."""
    return not component.approved_new_only or all(part.advisable_where_approved_new for part in parts)


def _difference(part, other):
    """How another part differs from this one, in a few words."""
    mine, its = ({c.pk: c.name for c in p.covers.all()} for p in (part, other))
    more, less = [its[pk] for pk in its if pk not in mine], [mine[pk] for pk in mine if pk not in its]
    notes = []
    if more:
        notes.append("also renews " + ", ".join(sorted(more)).lower())
    if less:
        notes.append("leaves the old " + ", ".join(sorted(less)).lower())
    if other.grade != part.grade:
        notes.append(other.get_grade_display().lower())
    return "; ".join(notes) or "does the same"
