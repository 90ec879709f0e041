"""What fails and how long components live: all component types, one of them, and the spells behind it."""

from django.http import Http404
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_GET

from firm import charts
from firm.roles import owner_required
from firm.tables import figure
from firm.words import known, likely, number, plural, years
from inventory.models import ComponentType, Place
from jobs import failure_words, history, lives
from jobs.cautions import warnings_for
from jobs.due import due_by_component, due_by_van, due_in_all
from jobs.failure_tables import components_table, models_table, row_of
from jobs.failures import component_life, fleet
from jobs.spell_table import link_appliances, spell_rows, spells_table
from jobs.views.failures_by import LEADS, WAYS, failures_by

LAST_YEARS = "failures reported in the last three years"


def asked_assumption(request):
    """The assumption on the time before care that the address asks for, or the usual one."""
    asked = request.GET.get("before_care", "")
    return asked if asked in history.BEFORE_CARE else lives.BEFORE_CARE


@owner_required
@require_GET
def component_list(request):
    as_of, before_care = timezone.localdate(), asked_assumption(request)
    if request.GET.get("by") in LEADS:
        return failures_by(request, request.GET["by"], before_care)
    found = fleet(as_of, before_care)
    types = {one.key: one for one in ComponentType.objects.all()}
    coming = due_by_component(as_of)
    rows = [
        row_of(group, types[group.group], found.recent, coming.get(group.group))
        for group in found.report.groups
        if group.group in types
    ]
    table = components_table(request, rows)
    if table.response:
        return table.response
    context = {
        "table": table,
        "ways": WAYS,
        "by": "",
        "found": found,
        "as_of": as_of,
        "before_care": before_care,
        "assumption": failure_words.BEFORE_CARE[before_care],
        "whiskers": table.whiskers,
        "charts": _fleet_charts(rows, found),
        "figures": [*_due(due_in_all(as_of)), *_fleet_figures(rows)],
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
        figure("Half of them are", f"{half} of {len(rows)}", "component types"),
        figure("No failure yet", number(sum(row["failures"] == 0 for row in rows), None), "component types"),
    ]


@owner_required
@require_GET
def component_detail(request, pk):
    component = get_object_or_404(ComponentType, pk=pk)
    as_of, before_care = timezone.localdate(), asked_assumption(request)
    life = component_life(component.key, as_of, before_care)
    context = {
        "component": component,
        "as_of": as_of,
        "before_care": before_care,
        "life": life,
        "warnings": warnings_for([component]),
        "assumption": failure_words.BEFORE_CARE[before_care],
        "assumptions": [(word, failure_words.BEFORE_CARE[word]) for word in history.BEFORE_CARE],
    }
    if life is None:
        return render(request, "jobs/component_unseen.html", context)
    table = models_table(request, life)
    if table.response:
        return table.response
    coming = due_by_component(as_of).get(component.key)
    context |= {
        "plural": plural(failure_words.noun(component)),
        "headline": failure_words.headline(component, life, coming),
        "says": failure_words.what_it_says(component, life),
        "figures": _life_figures(component, life, coming),
        "charts": _life_charts(component, life, life.report.level),
        "months": charts.months("months", "Month by month", LAST_YEARS, life.months, "failure"),
        "by_van": _by_van(component, as_of),
        "latest": spell_rows(life, only_failed=True)[:8],
        "report": life.report,
        "table": table,
    }
    return render(request, "jobs/component_detail.html", context)


def _by_van(component, as_of):
    """[(van or None where no van serves, Due)] with at least one expected in ten."""
    vans = {van.key: van for van in Place.objects.vans().select_related("engineer")}
    return [(vans.get(key), coming) for key, coming in due_by_van(component.key, as_of) if coming.expected >= 0.1]


def _life_figures(component, life, coming):
    group, one = life.group, failure_words.noun(component)
    many = plural(one)
    figures = [
        *_due(coming),
        figure(
            "Failures", number(group.failures, None), f"in {number(group.exposure, 0)} years of {many} in your care"
        ),
        figure(
            "Time between failures",
            years(group.mtbf),
            f"{likely(group.mtbf_low, group.mtbf_high)}; not a promised life",
        ),
        figure("Best estimate of it", years(group.shrunk), likely(group.shrunk_low, group.shrunk_high)),
    ]
    if group.status == "fitted":
        figures += [
            figure("Mean life", years(group.mean), likely(group.mean_low, group.mean_high)),
            figure("One in ten gone by", years(group.b10), likely(group.b10_low, group.b10_high)),
        ]
    return figures


def _due(coming):
    """The figure of what is due, in a list of one or none."""
    if coming is None:
        return []
    unseen = f", {number(coming.of_unseen_age, 0)} of unknown age" if coming.of_unseen_age >= 0.5 else ""
    told = f"likely between {coming.low} and {coming.high}, of {number(coming.in_care, 0)} in care{unseen}"
    return [figure(f"Due in {coming.weeks} weeks", number(coming.expected, 0 if coming.expected >= 10 else 1), told)]


def _life_charts(component, life, level):
    one, marks, shares = failure_words.noun(component), [], life.curve
    if shares:
        last = shares[-1][0]
        group = life.group
        if known(group.b10) and group.b10 <= last:
            marks.append((group.b10, 0.9, f"one in ten gone by {number(group.b10)}"))
        if known(group.mean) and group.mean <= last:
            share = min(shares, key=lambda point: abs(point[0] - group.mean))[1]
            marks.append((group.mean, share, f"mean life {number(group.mean)}"))
    steps = [(p.age, p.survival, p.survival_low, p.survival_high) for p in life.group.curve or ()]
    drawn = [charts.still_working("life", one, shares, steps, marks, level=level)] if shares or steps else []
    return (
        [*drawn, charts.failures_by_age("hazard", one, life.bands, life.hazard, level=level)] if life.bands else drawn
    )


@owner_required
@require_GET
def component_spells(request, pk):
    """The stretches of watching behind the figures, one line each."""
    component = get_object_or_404(ComponentType, pk=pk)
    life = component_life(component.key, timezone.localdate(), asked_assumption(request))
    if life is None:
        raise Http404("None of these is in care.")
    table = spells_table(request, component, life)
    if table.response:
        return table.response
    link_appliances(table)
    return render(request, "jobs/component_spells.html", {"component": component, "table": table})
