"""What lies behind the figures of one component type, line by line and as files: its spells, and its life by age."""

from django.http import Http404
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_GET

from firm.roles import owner_required
from firm.tables import Column, Table
from firm.words import between, number, per_cent
from inventory.models import ComponentType
from jobs.failures import component_life
from jobs.spell_table import link_appliances, spells_table
from jobs.views.assumed import asked_assumption, shown_assumption


@owner_required
@require_GET
def component_spells(request, pk):
    """The stretches of watching, one line each."""
    component, assumed, life = _asked(request, pk)
    table = spells_table(request, component, life)
    if table.response:
        return table.response
    link_appliances(table)
    context = {"component": component, "table": table} | shown_assumption(assumed)
    return render(request, "jobs/component_spells.html", context)


@owner_required
@require_GET
def component_ages(request, pk):
    """Still working and failures added up at each age at which one failed, as counted."""
    component, assumed, life = _asked(request, pk)
    table = _ages(request, component, life)
    if table.response:
        return table.response
    context = {"component": component, "table": table, "life": life, "as_of": timezone.localdate()}
    context |= shown_assumption(assumed)
    return render(request, "jobs/component_ages.html", context)


def _asked(request, pk):
    component, assumed = get_object_or_404(ComponentType, pk=pk), asked_assumption(request)
    life = component_life(component.key, timezone.localdate(), assumed.before_care, assumed.care_window)
    if life is None:
        raise Http404("None of these is in care.")
    return component, assumed, life


def _ages(request, component, life):
    columns = [
        Column("age", "Age, years", show=lambda v: number(v, 2)),
        Column("at_risk", "Under watch", numeric=True, show=number),
        Column("events", "Failed", numeric=True, show=number),
        Column("survival", "Still working", numeric=True, show=lambda v: per_cent(v, 1),
               sub=lambda row: between(row.survival_low, row.survival_high, _tenths)),
        Column("hazard", "Failures added up", numeric=True, show=_thousandths,
               sub=lambda row: between(row.hazard_low, row.hazard_high, _thousandths)),
    ]  # fmt: skip
    ends = [
        Column(f"{key}_{end}", f"{label}, likely {word}")
        for key, label in (("survival", "Still working"), ("hazard", "Failures added up"))
        for end, word in (("low", "from"), ("high", "to"))
    ]
    return Table(
        request, list(life.group.curve or ()), columns, name=f"ages-{component.key}", sort="age", per_page=100,
        caption="Still working and failures added up, by age", css="mid", more=ends,
        empty="None has failed at an age that is known and that enough others have reached.",
    )  # fmt: skip


def _tenths(share):
    return per_cent(share, 1)


def _thousandths(value):
    return number(value, 3)
