"""What fails and how long components live: all component types."""

from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from firm import charts
from firm.roles import owner_required
from firm.tables import figure
from firm.words import number
from inventory.models import ComponentType
from jobs import failure_words
from jobs.due import due_by_component, due_in_all
from jobs.failure_tables import components_table, row_of
from jobs.failures import fleet
from jobs.views.assumed import asked_assumption, shown_assumption
from jobs.views.failures_by import LEADS, WAYS, failures_by

LAST_YEARS = "failures reported in the last three years"


@owner_required
@require_GET
def component_list(request):
    as_of, assumed = timezone.localdate(), asked_assumption(request)
    if request.GET.get("by") in LEADS:
        return failures_by(request, request.GET["by"], assumed)
    found = fleet(as_of, assumed.before_care, assumed.care_window)
    types = {one.key: one for one in ComponentType.objects.all()}
    coming = due_by_component(as_of, **assumed.parts)
    rows = [
        row_of(group, types[group.group], found.recent, coming.get(group.group))
        for group in found.report.groups
        if group.group in types
    ]
    table = components_table(request, rows, assumed.query)
    if table.response:
        return table.response
    context = shown_assumption(assumed) | {
        "table": table,
        "ways": WAYS,
        "by": "",
        "found": found,
        "stale": failure_words.stale(as_of),
        "priors": failure_words.named_priors(found.report, {}),
        "as_of": as_of,
        "failed": any(row["failures"] for row in rows),
        "whiskers": table.whiskers,
        "charts": _fleet_charts(rows, found),
        "figures": [*failure_words.due_figure(due_in_all(as_of, **assumed.parts)), *_fleet_figures(rows)],
    }
    return render(request, "jobs/component_list.html", context)


def _fleet_charts(rows, found):
    pairs = [(row["name"], row["failures"]) for row in rows]
    return [
        charts.running_share(
            "share", "What fails most", "all failures in your care; share of them and all above", pairs, "failure"
        ),
        charts.months("months", "Month by month", LAST_YEARS, found.months, "failure"),
    ]


def _fleet_figures(rows):
    failures, exposure = sum(row["failures"] for row in rows), sum(row["exposure"] for row in rows)
    top = sorted(rows, key=lambda row: -row["failures"])
    half, run = 0, 0
    for row in top:
        if run * 2 >= failures:
            break
        run, half = run + row["failures"], half + 1
    return [
        figure("Failures", number(failures, None), f"in {number(exposure, 0)} years of components in your care"),
        figure("In the last year", number(sum(row["recent"] for row in rows), None)),
        *([figure("Half come from", f"{half} of {len(rows)}", "component types")] if failures else []),
        figure("No failure yet", number(sum(row["failures"] == 0 for row in rows), None), "component types"),
    ]
