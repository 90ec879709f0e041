"""Fit a part in two steps: which part, then why and save, with the cautions of that part before anything else."""

from decimal import Decimal

from django.contrib import messages
from django.shortcuts import redirect, render
from django.urls import reverse

from firm.roles import staff_required
from inventory.models import Part, Place, Stock, Supplier
from inventory.services.places import counter, place_of_supplier
from inventory.views.asking import plain, words
from inventory.views.once import save_once
from jobs import likely
from jobs.cautions import warnings_for
from jobs.forms import FitForm, components_in
from jobs.services import fitting
from jobs.services.fitting import Impossible
from jobs.views.visits import back_to, base_for, shown, visit_or_404

MOST_SHOWN = 40


@staff_required
def visit_fit(request, pk):
    """Without a part: which one. With it: cautions, why, how many, from where."""
    visit = visit_or_404(pk)
    number = plain(request.POST.get("part") or request.GET.get("part", ""))
    part = Part.objects.prefetch_related("covers").filter(number=number).first()
    return _why(request, visit, part) if part else _which(request, visit, number)


def _which(request, visit, typed):
    """Parts that fit this appliance, those on board first."""
    text = words(request, "q", typed)
    model = visit.job.appliance.model
    wanted = Part.objects.filter(counted=True).search(text) if text else Part.objects.living().fitting(model)
    if key := words(request, "component"):
        wanted = wanted.filter(covers__key=key)
    parts = list(wanted.prefetch_related("covers").distinct()[: 5 * MOST_SHOWN])
    if not text:
        parts = [part for part in parts if advised(part)]
    on_board = board_of(visit.place, parts)
    hope = likely.prospects([visit.job], {visit.job_id: visit.place}).get(visit.job_id)
    likely_keys = {p.component.key: n for n, p in enumerate(hope.parts)} if hope else {}

    def order(part):
        nearest = min((likely_keys[c.key] for c in part.covers.all() if c.key in likely_keys), default=99)
        return (nearest, not on_board.get(part.pk), part.description)

    rows = [(part, on_board.get(part.pk, Decimal(0)), advised(part)) for part in sorted(parts, key=order)[:MOST_SHOWN]]
    more = {"rows": rows, "text": text, "found": len(parts), "warnings": warnings_for([], model.kind)}
    return render(request, "jobs/visit_fit_which.html", shown(request, visit, **more))


def advised(part):
    """Whether this part may be advised: no copy or reconditioned part where the class demands approved new ones."""
    return part.advisable_where_approved_new or not any(c.approved_new_only for c in part.covers.all())


def board_of(place, parts):
    """Free quantity of each part in a place, by primary key."""
    rows = Stock.objects.filter(place=place, part__in=parts).there().free() if place else []
    board = {}
    for row in rows:
        board[row.part_id] = board.get(row.part_id, Decimal(0)) + row.on_hand
    return board


def _why(request, visit, part):
    components, positions = _candidates(visit, part)
    chosen = [c for c in components if str(c.pk) == request.POST.get("component")] or components
    form = FitForm(
        request.POST or None,
        components=components,
        positions=positions,
        sources=_sources(visit, part),
        initial={"part": part.number, "quantity": 1},
    )

    def fit(typed, event):
        fitted = fitting.fit(
            event=event,
            visit=visit,
            part=part,
            component=typed["component"],
            quantity=typed["quantity"],
            why=typed["why"],
            position=typed.get("position"),
            source=_source_of(typed["source"]),
            by=request.user,
        )
        return {"pk": fitted.pk}

    if request.method == "POST" and (answer := save_once(request, form, "fitted", fit, (Impossible,))):
        messages.success(request, f"Fitted: {part.description}.")
        if base_for(request.user) == "firm/phone.html":
            return redirect(f"{reverse('visit_detail', args=[visit.pk])}?fitted={answer['pk']}")
        return back_to(request, visit)
    more = {
        "form": form,
        "part": part,
        "on_board": board_of(visit.place, [part]).get(part.pk, Decimal(0)),
        "advised": advised(part),
        "warnings": warnings_for(chosen, visit.job.appliance.model.kind),
    }
    return render(request, "jobs/visit_fit.html", shown(request, visit, **more), status=400 if form.errors else 200)


def _candidates(visit, part):
    """Component types that the part may be fitted for here, and the most positions that one of them has."""
    model = visit.job.appliance.model
    counts = {row.component_id: row.count for row in model.holds.all()}
    covered = list(part.covers.all())
    held = [c for c in covered if c.pk in counts]
    components = held or covered or list(components_in(model))
    return components, max((counts.get(c.pk, 1) for c in components), default=1)


def _sources(visit, part):
    """Where it may have come from: this van, places that hold it, a counter, the customer."""
    rows = Stock.objects.filter(part=part).there().select_related("place").order_by("place__kind", "place__key")
    held = {row.place: row.on_hand for row in rows if row.place.is_held and row.place != visit.place}
    van = f"{visit.place} (this visit’s van)" if visit.place else "The engineer’s van"
    return [
        ("", van),
        *((f"place-{place.pk}", f"{place}, {quantity:g} there") for place, quantity in held.items()),
        *(
            (f"counter-{s.pk}", f"Bought at the counter: {s}")
            for s in Supplier.objects.filter(offers__part=part).distinct()
        ),
        ("own", "The customer’s own"),
    ]


def _source_of(text):
    kind, _, pk = text.partition("-")
    if kind == "place":
        return Place.objects.get(pk=pk)
    if kind == "counter":
        return place_of_supplier(Supplier.objects.get(pk=pk))
    return counter(Place.Kind.CUSTOMERS_OWN) if kind == "own" else None
