"""The engineer's pages: today, my van, find a part, waiting to send."""

from datetime import timedelta

from django.contrib import messages
from django.db.models import Q
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET

from firm.models import Refusal
from firm.roles import sees_costs, staff_required
from inventory.models import AverageCost, CountWanted, Part, Stock
from inventory.services import counting, movements
from inventory.services.places import van_of
from inventory.views.asking import words
from inventory.views.once import save_once
from jobs import likely
from jobs.models import Visit
from jobs.van_forms import BoughtForm, CountForm, PassForm
from jobs.views.job_table import outcome_chip
from jobs.views.visits import age_in_words

MOST_FOUND = 25
NEAREST = 4


@staff_required
@require_GET
def today(request):
    """My visits of today with what to look at and what to have along; then tomorrow's in short."""
    day = timezone.localdate()
    mine = Visit.objects.of(request.user).for_lists().select_related("job__address")
    visits = list(mine.filter(on__range=(day, day + timedelta(days=1))).prefetch_related("job__symptoms"))
    todays = [visit for visit in visits if visit.on == day]
    van = van_of(request.user, day)
    hopes = likely.prospects([v.job for v in visits], {v.job_id: v.place or van for v in visits})
    first_open = next((visit.pk for visit in todays if not visit.outcome), None)
    entries = [_entry(visit, hopes, first_open) for visit in todays]
    coming = [_entry(visit, hopes, None) for visit in visits if visit.on > day]
    to_fetch = [(visit, part) for visit, part in _fetch(visits, hopes)]
    shown = {"day": day, "entries": entries, "coming": coming, "van": van, "to_fetch": to_fetch}
    return render(request, "jobs/today.html", shown)


def _entry(visit, hopes, first_open):
    return {
        "visit": visit,
        "appliance": visit.job.appliance,
        "said": likely.spoken(visit.job),
        "age": age_in_words(visit.job.appliance, visit.on),
        "hope": hopes.get(visit.job_id),
        "chip": outcome_chip(visit) if visit.outcome else ("note", "wait", "Next") if visit.pk == first_open else None,
    }


def _fetch(visits, hopes):
    """(visit, likely part) that the van lacks and the store has."""
    for visit in visits:
        if visit.outcome or visit.job_id not in hopes:
            continue
        for part in hopes[visit.job_id].parts:
            if not part.on_board and part.spots and part.spots[0][0].kind == "store":
                yield visit, part


def my_stock(van):
    """What a van holds, with what is free of it."""
    rows = Stock.objects.filter(place=van).there().free().select_related("part")
    return rows.order_by("part__description", "part__number")


def phone_page(request, template, van, **more):
    form = more.get("form")
    status = 400 if form is not None and form.errors else 200
    return render(request, template, {"van": van, "day": timezone.localdate(), **more}, status=status)


@staff_required
@require_GET
def my_van(request):
    van = van_of(request.user, timezone.localdate())
    text = words(request, "q")
    rows = my_stock(van) if van else Stock.objects.none()
    if text:
        rows = rows.filter(part__in=Part.objects.search(text))
    wanted = CountWanted.objects.filter(place=van, done_at=None).select_related("part") if van else []
    return phone_page(request, "jobs/my_van.html", van, rows=rows, text=text, wanted=wanted)


@staff_required
def my_van_count(request):
    """Count some parts of my van: what is typed is what is there; what is left empty was not counted."""
    van = van_of(request.user, timezone.localdate())
    if van is None:
        return redirect("my_van")
    form = CountForm(request.POST or None, rows=my_stock(van))
    if request.method == "POST" and save_once(
        request, form, "count", form.booker(van, request.user), counting_refusals()
    ):
        messages.success(request, "Counted. The book now says what you found.")
        return redirect("my_van")
    return phone_page(request, "jobs/my_van_count.html", van, form=form)


def counting_refusals():
    return (counting.CountedTwice, movements.NotThere)


@staff_required
def my_van_pass(request):
    """Hand a part to another van."""
    van = van_of(request.user, timezone.localdate())
    if van is None:
        return redirect("my_van")
    form = PassForm(request.POST or None, source=van, initial={"part": request.GET.get("part")})

    def hand_over(typed, event):
        fields = {"source": van, "destination": typed["to"], "event": event, "by": request.user}
        movements.pass_on(typed["part"], typed["quantity"], **fields)
        return {"to": str(typed["to"])}

    if request.method == "POST" and (answer := save_once(request, form, "pass", hand_over, (movements.NotThere,))):
        messages.success(request, f"Passed to {answer['to']}.")
        return redirect("my_van")
    words = {"heading": "Pass to another van", "button": "Passed on"}
    return phone_page(request, "jobs/my_van_step.html", van, form=form, **words)


@staff_required
def my_van_bought(request):
    """Bought at the counter, for a job or for the van."""
    van = van_of(request.user, timezone.localdate())
    if van is None:
        return redirect("my_van")
    day = timezone.localdate()
    visits = Visit.objects.of(request.user).filter(on__range=(day - timedelta(days=1), day + timedelta(days=1)))
    jobs = {visit.job_id: visit.job for visit in visits.for_lists()}.values()
    initial = {"part": request.GET.get("part"), "job": request.GET.get("job")}
    form = BoughtForm(request.POST or None, jobs=jobs, initial=initial)

    def buy(typed, event):
        fields = {name: typed[name] for name in ("price", "ticket")}
        movements.buy(
            typed["supplier"],
            typed["part"],
            typed["quantity"],
            into=van,
            event=event,
            by=request.user,
            job_number=typed["job"],
            **fields,
        )
        return {"part": typed["part"].description}

    if request.method == "POST" and (answer := save_once(request, form, "bought", buy, (movements.NotThere,))):
        messages.success(request, f"Bought: {answer['part']}. It is on board now.")
        return redirect("my_van")
    return phone_page(
        request, "jobs/my_van_step.html", van, form=form, heading="Bought at the counter", button="Bought"
    )


@staff_required
@require_GET
def find_part(request):
    """Find a part and see who has one near: my van first, then the store, then the other vans."""
    van = van_of(request.user, timezone.localdate())
    text = words(request, "q")
    found = (
        list(Part.objects.search(text).prefetch_related("covers").select_related("superseded_by")[:MOST_FOUND])
        if text
        else []
    )
    spots = likely.free_spots([part.pk for part in found])
    rows = [(part, _nearest_first(spots.get(part.pk, []), van)) for part in found]
    costs = _average_costs(found) if sees_costs(request.user) else {}
    rows = [(part, spots[:NEAREST], len(spots) - NEAREST, costs.get(part.pk)) for part, spots in rows]
    shown = {"rows": rows, "text": text, "most": MOST_FOUND}
    return phone_page(request, "jobs/find_part.html", van, **shown)


def _nearest_first(spots, van):
    """[(place, free)], my van first, then the store, then the other vans by what they have."""
    order = {"store": 1, "van": 2}
    return sorted(spots, key=lambda spot: (0 if van and spot[0].pk == van.pk else order.get(spot[0].kind, 3), -spot[1]))


def _average_costs(parts):
    rows = AverageCost.objects.filter(part__in=parts).exclude(unit_cost=None)
    return dict(rows.values_list("part", "unit_cost"))


@staff_required
@require_GET
def waiting(request):
    """What of this person's phones was refused, until the office has seen to it."""
    mine = Q(by=request.user) | Q(device__user=request.user)
    refused = Refusal.objects.filter(mine, settled_at=None).select_related("device").distinct()
    return render(request, "jobs/waiting.html", {"refused": refused})
