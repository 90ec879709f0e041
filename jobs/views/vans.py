"""Vans: what each holds against what it should, topping up, passing on, counting."""

from collections import defaultdict
from dataclasses import dataclass
from decimal import Decimal

from django import forms
from django.contrib import messages
from django.db.models import Count
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from firm import words
from firm.roles import office_required
from firm.tables import Column, Filter, Table
from inventory.models import CarryLevel, Count as CountMade, CountWanted, Place, Stock, VanUse
from inventory.services import movements
from inventory.services.places import store
from inventory.views.once import OnceForm, save_once
from jobs.forms import PartField, PassForm
from jobs.views.counts import CountForm
from jobs.views.parts import currency
from jobs.views.phone import counting_refusals

NONE = Decimal(0)


@dataclass
class Holding:
    """One part of a place: level, what is there, what is free, what is missing to the level."""

    part: object
    level: int | None = None
    fixed: object = None
    on_hand: Decimal = NONE
    free: Decimal = NONE
    opened: Decimal = NONE
    in_store: Decimal = NONE
    shelf: str = ""
    unit_cost: Decimal | None = None

    @property
    def held(self):
        return self.on_hand - self.free

    @property
    def missing(self):
        return max(Decimal(self.level or 0) - self.free, NONE)

    @property
    def to_bring(self):
        """Pieces of the missing that the store has free."""
        return min(self.missing, max(self.in_store, NONE))


def holdings(place, other=None):
    """A Holding for each part that the place holds or should hold; `other` is the store that tops it up."""
    rows = {}
    stock = Stock.objects.filter(place=place).there().free().select_related("part__average")
    for row in stock:
        kept = rows.setdefault(row.part_id, Holding(row.part, unit_cost=_cost(row.part)))
        kept.on_hand += row.on_hand
        kept.free += row.on_hand if row.condition != "new" else row.free
        kept.opened += row.on_hand if row.condition != "new" else NONE
        kept.shelf = kept.shelf or row.shelf
    for level in CarryLevel.objects.filter(place=place).select_related("part__average", "fixed_by"):
        kept = rows.setdefault(level.part_id, Holding(level.part, unit_cost=_cost(level.part)))
        kept.level, kept.fixed = level.level, level if level.fixed else None
    if other is not None and other != place:
        for row in Stock.objects.filter(place=other, part__in=rows, condition="new").there().free():
            rows[row.part_id].in_store = row.free
    return sorted(rows.values(), key=lambda row: row.part.description.casefold())


def _cost(part):
    average = getattr(part, "average", None)
    return average.unit_cost if average else None


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


def _kind_of(row):
    return "missing" if row.missing else "level" if row.level is not None else "none"


@office_required
@require_GET
def van_detail(request, pk):
    place = get_object_or_404(Place.objects.held().select_related("engineer"), pk=pk)
    return render_van(request, place)


def render_van(request, place, status=200, **forms):
    """The page of one place, with forms that may have been refused."""
    source = store()
    rows = holdings(place, source)
    table = Table(
        request,
        rows,
        _stock_columns(),
        name=f"stock-{place.key}",
        caption=f"What is in {place}",
        per_page=60,
        filters=_stock_filters(),
        empty="Nothing on board and no level set. Work out what it should carry under Load.",
    )
    if request.method == "GET" and table.response:
        return table.response
    short = sorted((row for row in rows if row.missing), key=lambda row: not row.to_bring)
    shown = {
        "place": place,
        "table": table,
        "store": source,
        "short": short if source and source != place else [],
        "can_bring": any(row.to_bring for row in short),
        "wanted": CountWanted.objects.filter(place=place, done_at=None).select_related("part"),
        "last_count": CountMade.objects.filter(place=place).select_related("by").first(),
        "uses": place.uses.select_related("engineer")[:6],
        "totals": _totals(rows),
        "top_up_form": OnceForm(),
        "pass_form": PassForm(source=place),
        "level_form": LevelForm(),
        **forms,
    }
    return render(request, "jobs/van_detail.html", shown, status=status)


def _totals(rows):
    known = [(row.on_hand * row.unit_cost).quantize(Decimal("0.01")) for row in rows if row.unit_cost is not None]
    return {
        "cash": sum(known, NONE),
        "unknown": sum(row.unit_cost is None and row.on_hand > 0 for row in rows),
        "lines": sum(row.on_hand > 0 for row in rows),
        "litres": sum((row.on_hand * row.part.litres for row in rows if row.part.litres is not None), NONE),
        "kilograms": sum((row.on_hand * row.part.kilograms for row in rows if row.part.kilograms is not None), NONE),
    }


def _stock_filters():
    return [
        Filter("q", "Number or words", lambda rows, text: [r for r in rows if text.lower() in str(r.part).lower()]),
        Filter(
            "show",
            "Show",
            lambda rows, what: [r for r in rows if _kind_of(r) == what],
            [("missing", "below level"), ("level", "full"), ("none", "without a level")],
        ),
    ]


def _stock_columns():
    plain = lambda n: words.number(n, None)  # noqa: E731
    return [
        Column(
            "part",
            "Part",
            value=lambda r: r.part.description,
            sub=lambda r: r.part.number,
            href=lambda r: reverse("part_detail", args=[r.part.pk]),
        ),
        Column("shelf", "Shelf"),
        Column(
            "on_hand",
            "On hand",
            numeric=True,
            show=plain,
            sub=lambda r: f"{plain(r.opened)} opened" if r.opened else "",
        ),
        Column("held", "Kept for jobs", numeric=True, show=plain),
        Column("free", "Free", numeric=True, show=plain),
        Column(
            "level",
            "Level",
            numeric=True,
            show=lambda n: "none" if n is None else plain(n),
            sub=lambda r: f"fixed by {r.fixed.fixed_by or 'the office'}" if r.fixed else "",
        ),
        Column(
            "missing",
            "Missing",
            numeric=True,
            show=lambda n: plain(n) if n else "",
            sub=lambda r: f"store has {plain(r.in_store)}" if r.missing else "",
        ),
    ]


@office_required
@require_POST
def van_top_up(request, pk):
    """Bring what the page listed from the store to the van, all of it or nothing."""
    place = get_object_or_404(Place.objects.vans(), pk=pk)
    form = OnceForm(request.POST)
    lines = [(row.part, request.POST.get(f"bring-{row.part.pk}", "").strip()) for row in holdings(place, store())]

    def bring(_typed, event):
        wanted = [(part, Decimal(text)) for part, text in lines if text]
        wanted = [(part, quantity) for part, quantity in wanted if quantity > 0]
        if not wanted:
            raise movements.NotThere("There is nothing to bring.")
        movements.top_up(place, wanted, event=event, by=request.user)
        return {"lines": len(wanted)}

    bad = next((part for part, text in lines if text and not text.replace(".", "", 1).isdigit()), None)
    if bad:
        messages.error(request, f"{bad}: the quantity is no number. Nothing was moved.")
    elif answer := save_once(request, form, "top-up", bring, (movements.NotThere,)):
        messages.success(request, f"{answer['lines']} parts are on board of {place} now.")
    else:
        messages.error(request, f"Nothing was moved. {' '.join(form.non_field_errors())}")
    return redirect("van_detail", pk)


@office_required
@require_POST
def van_pass(request, pk):
    """Move pieces from this place to another."""
    place = get_object_or_404(Place.objects.held(), pk=pk)
    form = PassForm(request.POST, source=place)

    def move(typed, event):
        movements.move(typed["part"], typed["quantity"], place, typed["to"], event=event, by=request.user)
        return {"words": f"{typed['part'].description}: now in {typed['to']}."}

    if answer := save_once(request, form, "move", move, (movements.NotThere,)):
        messages.success(request, answer["words"])
        return redirect("van_detail", pk)
    return render_van(request, place, status=400, pass_form=form)


class LevelForm(OnceForm):
    """The agreed level of one part, and whether a proposal may change it."""

    part = PartField(max_length=80, label="Part number")
    level = forms.IntegerField(min_value=0, max_value=999, label="Carry")
    fixed = forms.BooleanField(required=False, label="Fixed: no proposal changes it")
    why = forms.CharField(required=False, max_length=240, label="Why")
    until = forms.DateField(
        required=False, label="Until", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )

    def clean(self):
        typed = super().clean()
        if typed.get("fixed") and not typed.get("why"):
            self.add_error("why", "Say why it is fixed, so that the next one knows.")
        return typed


@office_required
@require_POST
def van_level(request, pk):
    """Agree on a level for one part of a place."""
    place = get_object_or_404(Place.objects.held(), pk=pk)
    form = LevelForm(request.POST)

    def agree(typed, _event):
        fields = {"level": typed["level"], "fixed": typed["fixed"], "why": typed["why"], "until": typed["until"]}
        fields["fixed_by"] = request.user if typed["fixed"] else None
        CarryLevel.objects.update_or_create(place=place, part=typed["part"], defaults=fields)
        return {"words": f"{place} carries {typed['level']} of {typed['part'].description}."}

    if answer := save_once(request, form, "level", agree):
        messages.success(request, answer["words"])
        return redirect("van_detail", pk)
    return render_van(request, place, status=400, level_form=form)


@office_required
def van_count(request, pk):
    """The count sheet: printed empty, or typed in here."""
    place = get_object_or_404(Place.objects.held(), pk=pk)
    rows = Stock.objects.filter(place=place).there().select_related("part").order_by("shelf", "part__description")
    form = CountForm(request.POST or None, rows=rows)
    if request.method == "POST" and save_once(
        request, form, "count", form.booker(place, request.user), counting_refusals()
    ):
        messages.success(request, f"{place} is counted. The book now says what was found.")
        return redirect("van_detail", pk)
    shown = {"place": place, "form": form, "today": timezone.localdate()}
    return render(request, "jobs/van_count.html", shown, status=400 if form.errors else 200)
