"""One appliance: its components with their ages, what is known from before care, and its jobs."""

from collections import defaultdict
from dataclasses import dataclass

from django.contrib import messages
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from firm.roles import office_required
from firm.tables import Table
from inventory.models import ComponentType
from inventory.views.asking import whole
from inventory.views.once import save_once
from jobs.cautions import warnings_for
from jobs.customer_forms import EarlierForm
from jobs.models import Appliance, Earlier, Fitted, Job
from jobs.views.job_table import job_columns, with_last_visit
from jobs.views.visits import age_in_words

YEAR = 365.25


@dataclass
class Position:
    """One component position of an appliance, and since when this one has been in it."""

    component: ComponentType
    number: int
    of: int
    since: object = None
    how: str = "not known"
    precise: str = "day"
    fitted: int = 0

    def age(self, today):
        return None if self.since is None else (today - self.since).days / YEAR


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
    found = positions(appliance)
    shown = {
        "appliance": appliance,
        "age": age_in_words(appliance, today),
        "positions": [(position, position.age(today)) for position in found],
        "table": table,
        "form": form or EarlierForm(appliance=appliance, initial={"component": whole(request.GET.get("component"))}),
        "warnings": warnings_for([], appliance.model.kind),
    }
    return render(request, "jobs/appliance_detail.html", shown, status=status)


def positions(appliance):
    """Its component positions with the day since which each has been there, as far as anybody knows.

    Renewed in care (the newest fitted row that was not taken out; a part renews all that it covers), else what is
    known from before care, else since installation perhaps.
    """
    renewed, earlier = _renewals(appliance), {(e.component_id, e.position): e for e in appliance.earlier.all()}
    rows = []
    for held in appliance.model.holds.select_related("component"):
        for number in range(1, held.count + 1):
            row = Position(held.component, number, held.count)
            _date(row, appliance, renewed[held.component_id], earlier.get((held.component_id, number)))
            rows.append(row)
    return rows


def _renewals(appliance):
    """component -> rows (day, position or None), newest first."""
    fitted = Fitted.objects.standing().filter(appliance=appliance, taken_out=None)
    days = defaultdict(list)
    for row in fitted.select_related("visit").prefetch_related("part__covers").order_by("-visit__on", "-pk"):
        days[row.component_id].append((row.visit.on, row.position))
        for covered in row.part.covers.all():
            if covered.pk != row.component_id:
                days[covered.pk].append((row.visit.on, None))
    return days


def _date(row, appliance, renewals, earlier):
    mine = [day for day, position in renewals if position in (None, row.number)]
    row.fitted = len(mine)
    if mine:
        row.since, row.how = mine[0], "renewed in our care"
    elif earlier and earlier.renewed_on:
        row.since, row.how, row.precise = earlier.renewed_on, "renewed before our care", earlier.precision
    elif earlier and appliance.installed_on:
        row.since, row.how, row.precise = appliance.installed_on, "the original", appliance.installed_precision
    elif appliance.installed_on:
        row.since, row.how, row.precise = appliance.installed_on, "perhaps the original", appliance.installed_precision


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
