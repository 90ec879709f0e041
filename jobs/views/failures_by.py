"""Failures by component type and model, maker or supplier, and by month: the other sides of the failures page."""

from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone

from firm import charts
from firm.tables import Column, Filter, Table
from firm.words import number
from inventory.models import ApplianceModel, ComponentType, Supplier
from jobs.failure_tables import ENDS, years_column
from jobs.failure_words import named_priors, stale
from jobs.failures import failures_by_month, grouped_counts
from jobs.month_table import month_table
from jobs.views.assumed import shown_assumption

WAYS = [
    ("", "Component type"),
    ("model", "Appliance model"),
    ("maker", "Maker"),
    ("supplier", "Supplier of the part"),
    ("month", "Month"),
]
LEADS = {
    "model": "Every component type in every appliance model, so that a weak model shows.",
    "maker": "Every component type by the maker of the appliance.",
    "supplier": "Every component type by whoever sold the part. What was there before care has no supplier.",
    "month": "Failures by the month in which they were reported, in the last three years.",
}
NOT_KNOWN = "not known"
COUNTED = "Counts and years are the same whatever is assumed about the time before care."


def failures_by(request, by, assumed):
    """The page for one way of counting, or its file."""
    as_of, window = timezone.localdate(), assumed.care_window
    context = shown_assumption(assumed) | {
        "by": by,
        "way_label": dict(WAYS)[by],
        "ways": WAYS,
        "lead": LEADS[by],
        "as_of": as_of,
        "assumption": COUNTED if window is None else f"{assumed.words} {COUNTED}",
        "befores": [],
    }
    if by == "month":
        counts = failures_by_month(as_of, window)
        table, pairs = month_table(request, counts, as_of)
        context["months"] = charts.months("months", "Month by month", LEADS["month"], pairs, "failure")
    else:
        context["report"] = grouped_counts(as_of, f"component,{by}", window)
        table = _groups(request, context["report"], by, assumed.query)
        names = dict(ComponentType.objects.values_list("key", "name"))
        context["priors"] = named_priors(context["report"], names)
    if table.response:
        return table.response
    context |= {"table": table, "warning": stale(as_of)}
    return render(request, "jobs/failures_by.html", context)


def _groups(request, report, by, kept):
    types = {one.key: one for one in ComponentType.objects.all()}
    names = _names(by)
    rows = []
    for group in report.groups:
        key, _, other = group.group.partition(" / ")
        if key in types:
            rows.append(_row(group, types[key], names.get(other, NOT_KNOWN if other in ("", "unknown") else other)))
    others = sorted({row["name"] for row in rows} - {NOT_KNOWN})
    return Table(
        request,
        rows,
        _columns(by, kept),
        name=f"failures-by-{by}",
        caption=f"Mean time between failures by component type and {dict(WAYS)[by].lower()}",
        filters=[
            Filter("q", "Component or name", _named),
            Filter("of", dict(WAYS)[by], _of, [(name, name) for name in [*others, NOT_KNOWN]]),
            Filter(
                "failed", "Failures", lambda rows, _: [r for r in rows if r["failures"]], [("yes", "With failures")]
            ),
        ],
        sort="-failures",
        css="mid",
        more=[Column(key, label) for key, label in EXPORTED],
        empty="No appliance is in care yet. Import the firm’s files, and failures and lives appear here.",
        last=lambda row: row["name"] == NOT_KNOWN,
    )


EXPORTED = [*ENDS, ("warnings", "To be known")]


def _names(by):
    if by == "model":
        return {model.key: f"{model.name}, {model.maker}".strip(", ") for model in ApplianceModel.objects.all()}
    return dict(Supplier.objects.values_list("key", "name")) if by == "supplier" else {}


def _row(group, component, name):
    return {
        "component": component,
        "type": component.name,
        "name": name,
        "failures": group.failures,
        "exposure": group.exposure,
        "plain": group.mtbf,
        "plain_low": group.mtbf_low,
        "plain_high": group.mtbf_high,
        "best": group.shrunk,
        "best_low": group.shrunk_low,
        "best_high": group.shrunk_high,
        "warnings": " ".join(group.warnings),
    }


def _named(rows, text):
    words = text.casefold().split()
    return [row for row in rows if all(word in f"{row['type']} {row['name']}".casefold() for word in words)]


def _of(rows, text):
    return [row for row in rows if row["name"] == text]


def _columns(by, kept):
    return [
        Column("type", "Component", href=lambda row: reverse("component_detail", args=[row["component"].pk]) + kept),
        Column("name", dict(WAYS)[by]),
        Column("failures", "Failures", numeric=True, show=lambda v: number(v, None)),
        Column("exposure", "Years in care", numeric=True, show=lambda v: number(v, 0)),
        years_column("plain", "Plain count"),
        years_column("best", "Best estimate"),
    ]
