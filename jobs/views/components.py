"""One component type: what is due and what to do, how long it lives, the checks behind that, and its spells."""

from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_GET

from firm import charts
from firm.models import Setting
from firm.roles import owner_required
from firm.tables import figure
from firm.words import count, likely, number, plural, span_of_years, years
from inventory.models import ComponentType, Place
from jobs import failure_words, lives, outlook_words
from jobs.alarm_words import told
from jobs.answers_table import answers_table
from jobs.cautions import warnings_for
from jobs.checks import checks
from jobs.component_pictures import life_charts, seasons_chart
from jobs.due import DAYS, WEEKS, due_by_component, due_soon
from jobs.failure_tables import models_table
from jobs.failure_words import doubt, life_range
from jobs.failures import component_life
from jobs.services.alarms import firm_alarms
from jobs.services.prompts import renewal_costs, replacement_plan
from jobs.spell_table import spell_rows, with_appliances
from jobs.views.assumed import Assumed, asked_assumption, shown_assumption

LAST_YEARS = "failures reported in the last three years"
PICTURES = (
    "Plain counts in the pictures: Kaplan-Meier and Nelson-Aalen with late entries, log-log limits; failures at each "
    "age with exact Poisson limits."
)


@owner_required
@require_GET
def component_detail(request, pk):
    component = get_object_or_404(ComponentType, pk=pk)
    as_of, assumed = timezone.localdate(), asked_assumption(request)
    life = component_life(component.key, as_of, assumed.before_care, assumed.care_window)
    context = _about(component, as_of, assumed) | {"life": life}
    if life is None:
        return render(request, "jobs/component_unseen.html", context)
    table = models_table(request, life)
    if table.response:
        return table.response
    coming = due_by_component(as_of, **assumed.parts).get(component.key)
    soon, found = due_soon(component.key, as_of, **assumed.parts), firm_alarms(as_of)
    alarms = told([one for one in found.alarms if one.component == component.key])
    plan, vans = _plan(component, life, as_of), _with_vans(soon)
    context |= {
        "headline": failure_words.headline(component, life, coming),
        "says": failure_words.what_it_says(component, life),
        "figures": _figures(component, life, coming),
        "charts": life_charts(component, life),
        "months": charts.months("months", "Month by month", LAST_YEARS, life.months, "failure"),
        "seasons": seasons_chart(component, as_of, life.report.level),
        "soon": vans,
        "horizons": DAYS,
        "plan": plan,
        "by_appliance_age": assumed.before_care == "perhaps" and life.group.taken_over,
        "todo": outlook_words.what_to_do(len(alarms), plan["age"], _busiest(vans)),
        "alarms": alarms,
        "alarm_chip": [count(len(alarms), "alarm")] if alarms else [],
        "a_year": failure_words.of_a_hundred(life.group),
        "found": found,
        "false_alarms": failure_words.false_alarms(found.false_alarms_a_year),
        "latest": with_appliances(spell_rows(life, only_failed=True)[:8]),
        "report": life.report,
        "priors": failure_words.named_priors(life.report, {}),
        "table": table,
        "weeks": WEEKS,
        "also": PICTURES,
    }
    return render(request, "jobs/component_detail.html", context)


def _about(component, as_of, assumed):
    return shown_assumption(assumed) | {
        "component": component,
        "as_of": as_of,
        "plural": plural(failure_words.noun(component)),
        "warnings": warnings_for([component]),
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


def _figures(component, life, coming):
    group, many = life.group, plural(failure_words.noun(component))
    figures = [
        *failure_words.due_figure(coming),
        figure(
            "Failures", number(group.failures, None), f"in {number(group.exposure, 0)} years of {many} in your care"
        ),
        failure_words.time_between(group),
        figure("Best estimate of it", years(group.shrunk), likely(*span_of_years(group.shrunk_low, group.shrunk_high))),
    ]
    if group.status == "fitted":
        for label, key in (("Mean life", "mean"), ("One in ten gone by", "b10")):
            age, low, high = (getattr(group, f"{key}{end}") for end in ("", "_low", "_high"))
            figures.append(figure(label, years(age), life_range(low, high) + doubt(life, age)))
    return figures


@owner_required
@require_GET
def component_checks(request, pk):
    """The answers under other assumptions, and the fitted life against what needs none of them."""
    component = get_object_or_404(ComponentType, pk=pk)
    as_of, assumed = timezone.localdate(), asked_assumption(request)
    found = checks(component.key, as_of, assumed.before_care)
    context = _about(component, as_of, Assumed(assumed.before_care)) | {"life": found, "kept": assumed.query}
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
