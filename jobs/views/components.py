"""One component type: what is due and what to do, how long it lives, the checks behind that, and its spells."""

from calendar import month_name

from django.http import Http404
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_GET

from firm import charts
from firm.models import Setting
from firm.roles import owner_required
from firm.tables import figure
from firm.words import count, known, likely, number, plural, span_of_years, years
from inventory.models import ComponentType, Place
from jobs import failure_words, history, lives, outlook_words
from jobs.alarm_words import told
from jobs.answers_table import answers_table
from jobs.cautions import warnings_for
from jobs.checks import checks, month_factors_of
from jobs.due import DAYS, WEEKS, due_by_component, due_soon
from jobs.failure_tables import models_table
from jobs.failures import component_life
from jobs.services.alarms import firm_alarms
from jobs.services.prompts import renewal_costs, replacement_plan
from jobs.spell_table import link_appliances, spell_rows, spells_table
from jobs.views.assumed import asked_assumption, keep_assumption

LAST_YEARS = "failures reported in the last three years"


@owner_required
@require_GET
def component_detail(request, pk):
    component = get_object_or_404(ComponentType, pk=pk)
    as_of, before_care = timezone.localdate(), asked_assumption(request)
    life = component_life(component.key, as_of, before_care)
    context = _about(component, as_of, before_care) | {"life": life}
    if life is None:
        return render(request, "jobs/component_unseen.html", context)
    table = models_table(request, life)
    if table.response:
        return table.response
    coming, soon, found = due_by_component(as_of).get(component.key), due_soon(component.key, as_of), firm_alarms(as_of)
    alarms = told([one for one in found.alarms if one.component == component.key])
    plan, vans = _plan(component, life, as_of), _with_vans(soon)
    context |= {
        "headline": failure_words.headline(component, life, coming),
        "says": failure_words.what_it_says(component, life),
        "figures": _figures(component, life, coming),
        "charts": _charts(component, life, life.report.level),
        "months": charts.months("months", "Month by month", LAST_YEARS, life.months, "failure"),
        "seasons": _seasons(component, as_of, life.report.level),
        "soon": vans,
        "horizons": DAYS,
        "plan": plan,
        "by_appliance_age": before_care == "perhaps" and life.group.taken_over,
        "todo": outlook_words.what_to_do(len(alarms), plan["age"], _busiest(vans)),
        "alarms": alarms,
        "alarm_chip": [count(len(alarms), "alarm")] if alarms else [],
        "a_year": failure_words.of_a_hundred(life.group),
        "found": found,
        "latest": spell_rows(life, only_failed=True)[:8],
        "report": life.report,
        "table": table,
        "weeks": WEEKS,
    }
    return render(request, "jobs/component_detail.html", context)


def _about(component, as_of, before_care):
    return {
        "component": component,
        "as_of": as_of,
        "before_care": before_care,
        "kept": keep_assumption(before_care),
        "plural": plural(failure_words.noun(component)),
        "warnings": warnings_for([component]),
        "assumption": failure_words.BEFORE_CARE[before_care],
        "assumptions": [(word, failure_words.BEFORE_CARE[word]) for word in history.BEFORE_CARE],
    }


def _with_vans(soon):
    """[(words, van or None, rows)] of what is due."""
    vans = {van.key: van for van in Place.objects.vans().select_related("engineer")}
    return [("All together" if key is None else "no van", vans.get(key), rows) for key, rows in soon]


def _busiest(vans):
    """(van, failures expected in the next year) of the van with most, None without one."""
    return next(((str(van), rows[-1].expected) for _, van, rows in vans if van), None)


def _plan(component, life, as_of):
    """Heading and sentences on renewing ahead of failure, and the age at which it is advised, or None."""
    costs = renewal_costs(component, as_of)
    plan = None
    if costs.planned is not None:
        plan = replacement_plan(component.key, as_of, planned_cost=costs.planned, failure_cost=costs.failure)
    asked = (component, life.group, plan, costs, Setting.current().currency, life.oldest)
    heading, sentences = outlook_words.planned_renewal(*asked)
    advised = heading.startswith("Renew")
    return {"heading": heading, "sentences": sentences, "age": plan.at_age if plan and advised else None}


def _seasons(component, as_of, level):
    place, found = month_factors_of(as_of)
    i = place[component.key]
    rows = zip(month_name[1:], found.factor[i].tolist(), found.low[i].tolist(), found.high[i].tolist(), strict=True)
    return charts.month_factors("seasons", failure_words.noun(component), list(rows), level=level)


def _figures(component, life, coming):
    group, many = life.group, plural(failure_words.noun(component))
    figures = [
        *failure_words.due_figure(coming),
        figure(
            "Failures", number(group.failures, None), f"in {number(group.exposure, 0)} years of {many} in your care"
        ),
        figure(
            "Time between failures",
            years(group.mtbf),
            f"{likely(*span_of_years(group.mtbf_low, group.mtbf_high))}; not a promised life",
        ),
        figure("Best estimate of it", years(group.shrunk), likely(*span_of_years(group.shrunk_low, group.shrunk_high))),
    ]
    if group.status == "fitted":
        figures += [
            figure("Mean life", years(group.mean), likely(*span_of_years(group.mean_low, group.mean_high))),
            figure("One in ten gone by", years(group.b10), likely(*span_of_years(group.b10_low, group.b10_high))),
        ]
    return figures


def _charts(component, life, level):
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
def component_checks(request, pk):
    """The answers under other assumptions, and the fitted life against what needs none of them."""
    component = get_object_or_404(ComponentType, pk=pk)
    as_of, before_care = timezone.localdate(), asked_assumption(request)
    found = checks(component.key, as_of, before_care)
    context = _about(component, as_of, before_care) | {"life": found}
    if found is None:
        return render(request, "jobs/component_unseen.html", context)
    answers = lives.sensitivity(as_of, component=component.key)
    table = answers_table(request, component, answers)
    if table.response:
        return table.response
    one, level = failure_words.noun(component), 0.90
    rows = _repair_rows(found.repairs)
    context |= {
        "found": found,
        "table": table,
        "trend": outlook_words.trend_sentence(found.drift),
        "chip": outlook_words.DRIFT[found.drift.word] if found.drift else None,
        "ages": charts.by_appliance_age("ages", one, found.bands) if found.bands else None,
        "seen": sum(band[2] for band in found.bands),
        "wanted": sum(band[3] for band in found.bands),
        "repairs": charts.repairs_by_age("repairs", one, rows, level=level) if rows else None,
    }
    return render(request, "jobs/component_checks.html", context)


def _repair_rows(repairs):
    if repairs is None:
        return []
    columns = (repairs.age, repairs.watched, repairs.mean, repairs.low, repairs.high)
    return list(zip(*(column.tolist() for column in columns), strict=True))


@owner_required
@require_GET
def component_spells(request, pk):
    """The stretches of watching behind the figures, one line each."""
    component = get_object_or_404(ComponentType, pk=pk)
    before_care = asked_assumption(request)
    life = component_life(component.key, timezone.localdate(), before_care)
    if life is None:
        raise Http404("None of these is in care.")
    table = spells_table(request, component, life)
    if table.response:
        return table.response
    link_appliances(table)
    context = {"component": component, "table": table, "kept": keep_assumption(before_care)}
    return render(request, "jobs/component_spells.html", context)
