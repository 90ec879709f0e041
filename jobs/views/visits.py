"""A visit and its steps: fit a part, need one, nothing needed, found, outcome, taken out again. Phone and desk."""

from django.contrib import messages
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET

from firm.roles import staff_required
from inventory.views.asking import whole
from inventory.views.once import save_once
from jobs import likely
from jobs.cautions import warnings_for
from jobs.forms import FoundForm, NeedForm, NothingNeededForm, OutcomeForm, TakenOutForm
from jobs.models import Fitted, Visit
from jobs.services import fitting, work
from jobs.services.fitting import Impossible
from jobs.views.job_table import outcome_chip


def visit_or_404(pk):
    visits = Visit.objects.for_lists().select_related("job__address", "job__return_of")
    return get_object_or_404(visits.prefetch_related("job__symptoms"), pk=pk)


def base_for(user):
    """Engineers see these pages as on the phone, the office as on the desk."""
    return "firm/phone.html" if user.is_engineer or not user.sees_office else "firm/base.html"


def back_to(request, visit):
    """Where a finished step leads: the visit, or for the office its job."""
    if base_for(request.user) == "firm/base.html":
        return redirect("job_detail", visit.job_id)
    return redirect("visit_detail", visit.pk)


def shown(request, visit, **more):
    """What every page about a visit shows."""
    return {
        "base": base_for(request.user),
        "visit": visit,
        "job": visit.job,
        "appliance": visit.job.appliance,
        "age": age_in_words(visit.job.appliance, visit.on),
        **more,
    }


def age_in_words(appliance, on):
    """«11 years old», or the plain truth where nobody knows."""
    if appliance.installed_on is None:
        return "age not known"
    years = (on - appliance.installed_on).days // 365.25
    return "new" if years < 1 else f"{years:.0f} year{'s' if years >= 2 else ''} old"


@staff_required
@require_GET
def visit_detail(request, pk):
    visit = visit_or_404(pk)
    hope = likely.prospects([visit.job], {visit.job_id: visit.place}).get(visit.job_id)
    fitted = Fitted.objects.standing().filter(visit=visit).select_related("part", "component", "taken_out")
    just = next((row for row in fitted if str(row.pk) == request.GET.get("fitted")), None)
    more = {
        "hope": hope,
        "said": likely.spoken(visit.job),
        "chip": outcome_chip(visit),
        "fitted": fitted,
        "needed": visit.needed.select_related("component", "part"),
        "findings": visit.findings.select_related("component"),
        "other_visits": visit.job.visits.exclude(pk=pk).prefetch_related("engineers__engineer"),
        "just": just,
        "after": warnings_for([just.component]).after if just else [],
        "warnings": warnings_for(
            [part.component for part in hope.parts] if hope else [], visit.job.appliance.model.kind
        ),
    }
    return render(request, "jobs/visit_detail.html", shown(request, visit, **more))


@staff_required
def visit_need(request, pk):
    """What was missing: the office orders it."""
    visit = visit_or_404(pk)
    form = NeedForm(request.POST or None, visit=visit, initial={"component": whole(request.GET.get("component"))})

    def need(typed, event):
        fields = {name: typed[name] for name in ("component", "part", "quantity")}
        return {"pk": fitting.need(event=event, visit=visit, by=request.user, **fields).pk}

    if request.method == "POST" and save_once(request, form, "needed", need, (Impossible,)):
        messages.success(request, "Noted. The office sees it under Orders.")
        return back_to(request, visit)
    return _form_page(request, visit, form, "need", "Need a part", "Needed")


@staff_required
def visit_nothing(request, pk):
    """Found something that needed no part: a valve, a setting, a frozen pipe."""
    visit = visit_or_404(pk)
    form = NothingNeededForm(request.POST or None)

    def found(typed, event):
        finding = work.add_finding(visit, no_part_cause=typed["no_part_cause"], by=request.user)
        if typed["ends"]:
            outcome = Visit.Outcome.NO_PART_NEEDED
            work.record_outcome(event=event, visit=visit, outcome=outcome, minutes=typed["minutes"], by=request.user)
        return {"pk": finding.pk}

    if request.method == "POST" and save_once(request, form, "nothing", found, (Impossible,)):
        messages.success(request, "Noted: no part was needed.")
        return back_to(request, visit)
    return _form_page(request, visit, form, "nothing", "No part needed", "Save")


@staff_required
def visit_found(request, pk):
    """A component that had failed, whether or not it was renewed."""
    visit = visit_or_404(pk)
    form = FoundForm(request.POST or None, visit=visit)

    def found(typed, _event):
        fields = {name: typed[name] for name in ("component", "position", "failure_mode")}
        return {"pk": work.add_finding(visit, by=request.user, **fields).pk}

    if request.method == "POST" and save_once(request, form, "finding", found, (Impossible,)):
        messages.success(request, "Noted.")
        return back_to(request, visit)
    return _form_page(request, visit, form, "found", "What was found", "Save")


@staff_required
def visit_outcome(request, pk):
    """How the visit ended, and how long it took."""
    visit = visit_or_404(pk)
    mine = next((row.minutes for row in visit.engineers.all() if row.engineer_id == request.user.pk), None)
    form = OutcomeForm(request.POST or None, initial={"outcome": visit.outcome, "minutes": mine})

    def end(typed, event):
        fields = {name: typed[name] for name in ("outcome", "minutes")}
        return {"pk": work.record_outcome(event=event, visit=visit, by=request.user, **fields).pk}

    if request.method == "POST" and save_once(request, form, "outcome", end, (Impossible,)):
        messages.success(request, f"Visit: {visit.get_outcome_display().lower()}.")
        if visit.outcome == Visit.Outcome.PART_NEEDED and not visit.needed.exists():
            return redirect("visit_need", visit.pk)
        return back_to(request, visit)
    return _form_page(request, visit, form, "outcome", "How it ended", "Save")


@staff_required
def fitted_out(request, pk):
    """A fitted part came out again: it was not the fault."""
    fitted = get_object_or_404(Fitted.objects.select_related("part", "component"), pk=pk)
    visit = visit_or_404(fitted.visit_id)
    form = TakenOutForm(request.POST or None)

    def out(typed, event):
        done = fitting.take_out(event=event, fitted=fitted, condition=typed["condition"], by=request.user)
        return {"pk": done.pk}

    if request.method == "POST" and save_once(request, form, "taken-out", out, (Impossible,)):
        messages.success(request, f"{fitted.part.description} is out again. It renewed nothing.")
        return back_to(request, visit)
    warnings = warnings_for([fitted.component], visit.job.appliance.model.kind)
    heading = f"Take out again: {fitted.part.description}"
    return _form_page(request, visit, form, "out", heading, "Out again", warnings=warnings)


def _form_page(request, visit, form, step, heading, button, **more):
    page = shown(request, visit, form=form, step=step, heading=heading, button=button, **more)
    return render(request, "jobs/visit_step.html", page, status=400 if form.errors else 200)
