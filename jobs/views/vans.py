"""Vans: what each holds against what it should, topping up, passing on, counting."""

import re
from datetime import timedelta
from decimal import Decimal

from django.contrib import messages
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from firm import words
from firm.roles import office_required
from firm.tables import Column, Filter, Table
from inventory.models import CarryLevel, CountWanted, Place, Stock
from inventory.models import Count as CountMade
from inventory.services import movements
from inventory.services.places import store
from inventory.views.asking import plain
from inventory.views.once import OnceForm, save_once
from jobs.holdings import NONE, holdings
from jobs.van_forms import CountForm, DriverForm, LevelForm, PassForm
from jobs.views.phone import counting_refusals

AMOUNT = re.compile(r"[0-9]{1,6}(\.[0-9]{1,3})?")


def _kind_of(row):
    return "missing" if row.missing else "level" if row.level is not None else "none"


@office_required
@require_GET
def van_detail(request, pk):
    place = get_object_or_404(Place.objects.held().select_related("engineer"), pk=pk)
    return render_van(request, place)


def render_van(request, place, status=200, typed=None, **forms):
    """The page of one place, with forms that may have been refused; typed: what was to be brought, by part."""
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
    for row in rows:
        row.typed = (typed or {}).get(row.part.pk)
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
        "driver_form": DriverForm(initial={"since": timezone.localdate()}),
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
            "which",
            "Show",
            lambda rows, what: [r for r in rows if _kind_of(r) == what],
            [("missing", "below level"), ("level", "full"), ("none", "without a level")],
        ),
    ]


def _fixed_words(row):
    if not row.fixed:
        return ""
    until = f" until {row.fixed.until:%-d %b %Y}" if row.fixed.until else ""
    return f"fixed by {row.fixed.fixed_by or 'the office'}{until}"


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
            sub=_fixed_words,
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
    lines = [(row.part, plain(request.POST.get(f"bring-{row.part.pk}", ""), 12)) for row in holdings(place, store())]

    def bring(_typed, event):
        wanted = [(part, Decimal(text)) for part, text in lines if text]
        wanted = [(part, quantity) for part, quantity in wanted if quantity > 0]
        if not wanted:
            raise movements.NotThere("There is nothing to bring.")
        movements.top_up(place, wanted, event=event, by=request.user)
        return {"lines": len(wanted)}

    bad = next((part for part, text in lines if text and not AMOUNT.fullmatch(text)), None)
    if bad:
        messages.error(request, f"{bad}: the quantity is no number. Nothing was moved.")
    elif answer := save_once(request, form, "top-up", bring, (movements.NotThere,)):
        messages.success(request, f"{answer['lines']} parts are on board of {place} now.")
        return redirect("van_detail", pk)
    else:
        messages.error(request, f"Nothing was moved. {' '.join(form.non_field_errors())}")
    return render_van(request, place, status=400, typed={part.pk: text for part, text in lines})


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
@require_POST
def van_driver(request, pk):
    """Say who drives a van from a day on. Without a last day it ends whatever was open before."""
    van = get_object_or_404(Place.objects.vans(), pk=pk)
    form = DriverForm(request.POST)

    def drive(typed, _event):
        if typed["until"] is None:
            before = typed["since"] - timedelta(days=1)
            van.uses.filter(until=None, since__lt=typed["since"]).update(until=before)
        fields = {name: typed[name] for name in ("engineer", "since", "until")}
        return {"pk": van.uses.create(**fields).pk}

    if save_once(request, form, "van-driver", drive):
        messages.success(request, f"{form.cleaned_data['engineer']} drives {van}.")
        return redirect("van_detail", pk)
    return render_van(request, van, status=400, driver_form=form)


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
