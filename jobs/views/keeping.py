"""Parts kept for a job: kept, moved to the van that goes there, let go; and needs that are settled."""

from django import forms
from django.contrib import messages
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.http import require_POST

from firm.roles import office_required
from inventory.models import Held, Place
from inventory.services import holding, movements
from inventory.services.ledger import NotThere
from inventory.views.asking import whole
from inventory.views.once import OnceForm, press_once
from jobs.forms import QUANTITY, PartField
from jobs.models import Job, Needed


class KeepForm(OnceForm):
    part = PartField(max_length=80, label="Part number")
    quantity = forms.DecimalField(initial=1, label="How many", **QUANTITY)
    place = forms.ModelChoiceField(
        Place.objects.held().filter(retired_on=None), label="Where it lies", empty_label="Choose"
    )


def kept_for(job, visits):
    """Rows of (held, the van of the next visit where it is another place)."""
    coming = next((visit.place for visit in visits if not visit.outcome and visit.place), None)
    rows = Held.objects.filter(job_number=job.number, released_at=None).select_related("part", "place")
    return [(held, coming if coming and coming != held.place else None) for held in rows]


def _job_of(held):
    return get_object_or_404(Job, number=held.job_number)


@office_required
@require_POST
def keep_move(request, pk):
    """Put what is kept into the van of the next visit."""
    held = get_object_or_404(Held.objects.select_related("part", "place"), pk=pk)
    van = get_object_or_404(Place.objects.held(), pk=whole(request.POST.get("to")) or 0)
    job = _job_of(held)

    def move(_typed, event):
        fields = {"event": event, "by": request.user, "job_number": held.job_number}
        movements.move(held.part, held.quantity, held.place, van, **fields)
        return {"to": str(van)}

    if answer := press_once(request, "keep-moved", move, (NotThere,)):
        messages.success(request, f"{held.part.description} is in {answer['to']} now, kept for this job.")
    return redirect("job_detail", job.pk)


@office_required
@require_POST
def keep_release(request, pk):
    """Keep it no longer: it is free for everybody."""
    held = get_object_or_404(Held.objects.select_related("part"), pk=pk)
    job = _job_of(held)

    def release(_typed, event):
        return {"pk": holding.release(held, event=event, by=request.user).pk}

    if press_once(request, "keep-released", release):
        messages.success(request, f"{held.part.description} is free again.")
    return redirect("job_detail", job.pk)


@office_required
@require_POST
def need_settle(request, pk):
    """What was needed is needed no longer."""
    needed = get_object_or_404(Needed.objects.select_related("visit"), pk=pk)

    def settle(_typed, _event):
        return {"lines": Needed.objects.filter(pk=pk, settled_on=None).update(settled_on=timezone.localdate())}

    if press_once(request, "need-settled", settle):
        messages.success(request, "Needed no longer.")
    return redirect("job_detail", needed.visit.job_id)
