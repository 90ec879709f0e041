"""One appliance: its components with their ages, what is known from before care, and its jobs."""

from django.contrib import messages
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from firm.models import Setting
from firm.roles import office_required
from firm.tables import Table
from inventory.views.asking import whole
from inventory.views.once import save_once
from jobs.appliance_outlook import appliance_outlook
from jobs.cautions import warnings_for
from jobs.customer_forms import EarlierForm
from jobs.models import Appliance, Earlier, Job
from jobs.positions import positions
from jobs.views.job_table import job_columns, with_last_visit
from jobs.views.visits import age_in_words


@office_required
@require_GET
def appliance_detail(request, pk):
    appliance = get_object_or_404(Appliance.objects.for_lists(), pk=pk)
    return _page(request, appliance)


def _page(request, appliance, status=200, form=None):
    today = timezone.localdate()
    jobs = (
        with_last_visit(Job.objects.for_lists())
        .filter(appliance=appliance)
        .select_related("appliance__address")
        .prefetch_related("symptoms")
    )
    columns = [c for c in job_columns() if c.key not in {"customer", "address", "appliance"}]
    table = Table(
        request,
        jobs,
        columns,
        name=f"jobs-{appliance.number}",
        caption="Jobs",
        sort="-reported_on",
        per_page=20,
        empty="No job yet. New job takes one in.",
    )
    if request.method == "GET" and table.response:
        return table.response
    outlook = appliance_outlook(appliance, today, positions(appliance))
    asked = {word: whole(request.GET.get(word)) for word in ("component", "position")}
    shown = {
        "appliance": appliance,
        "age": age_in_words(appliance, today),
        "outlook": outlook,
        "table": table,
        "form": form or EarlierForm(appliance=appliance, initial={k: v for k, v in asked.items() if v}),
        "warnings": warnings_for(outlook.touched, appliance.model.kind),
        "months": Setting.current().service_interval_months,
        "components": outlook.rows and request.user.sees_owner,
    }
    return render(request, "jobs/appliance_detail.html", shown, status=status)


@office_required
@require_POST
def earlier_new(request, pk):
    """Say what is known of one component from before care."""
    appliance = get_object_or_404(Appliance.objects.for_lists(), pk=pk)
    form = EarlierForm(request.POST, appliance=appliance)

    def keep(typed, _event):
        known = {"renewed_on": typed["day"], "precision": typed["precision"]}
        where = {"component": typed["component"], "position": typed["position"]}
        return {"pk": Earlier.objects.update_or_create(appliance=appliance, **where, defaults=known)[0].pk}

    if save_once(request, form, "earlier", keep):
        messages.success(request, "Kept. The next life estimates use it.")
        return redirect("appliance_detail", pk)
    return _page(request, appliance, status=400, form=form)
