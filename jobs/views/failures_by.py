"""Failures by component type and model, maker or supplier, and by month: the other sides of the failures page."""

from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone

from firm import charts
from firm.tables import Column, Filter, Table
from firm.words import between, number
from inventory.models import ApplianceModel, ComponentType, Supplier
from jobs import failure_words, lives
from jobs.failures import fleet

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


def failures_by(request, by, before_care):
    """The page for one way of counting, or its file."""
    as_of = timezone.localdate()
    found = fleet(as_of, before_care)
    report = found.report if by == "month" else lives.report(as_of, by=f"component,{by}", before_care=before_care)
    table = _months(request, found) if by == "month" else _groups(request, report, by)
    if table.response:
        return table.response
    context = {
        "table": table,
        "by": by,
        "way_label": dict(WAYS)[by],
        "ways": WAYS,
        "lead": LEADS[by],
        "report": report,
        "as_of": as_of,
        "before_care": before_care,
        "assumption": failure_words.BEFORE_CARE[before_care],
        "months": charts.months("months", "Month by month", LEADS["month"], found.months, "failure"),
    }
    return render(request, "jobs/failures_by.html", context)


def _months(request, found):
    rows = [{"month": day, "failures": failures} for day, failures in found.months]
    columns = [
        Column("month", "Month", show=lambda day: f"{day:%B %Y}"),
        Column("failures", "Failures", numeric=True, show=lambda v: number(v, None)),
    ]
    return Table(request, rows, columns, name="failures-by-month", caption="Failures by month", sort="-month")


def _groups(request, report, by):
    types = {one.key: one for one in ComponentType.objects.all()}
    names = _names(by)
    rows = []
    for group in report.groups:
        key, _, other = group.group.partition(" / ")
        if key in types:
            rows.append(_row(group, types[key], names.get(other, other) or "not known"))
    return Table(
        request,
        rows,
        _columns(by),
        name=f"failures-by-{by}",
        caption=f"Mean time between failures by component type and {dict(WAYS)[by].lower()}",
        filters=[
            Filter("q", "Component or name", _named),
            Filter(
                "failed", "Failures", lambda rows, _: [r for r in rows if r["failures"]], [("yes", "With failures")]
            ),
        ],
        sort="-failures",
        css="mid",
        more=[Column(key, label) for key, label in EXPORTED],
        empty="No appliance is in care yet. Import the firm’s files, and failures and lives appear here.",
    )


EXPORTED = [
    ("plain_low", "Plain count, likely from"),
    ("plain_high", "Plain count, likely to"),
    ("best_low", "Best estimate, likely from"),
    ("best_high", "Best estimate, likely to"),
]


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
    }


def _named(rows, text):
    words = text.casefold().split()
    return [row for row in rows if all(word in f"{row['type']} {row['name']}".casefold() for word in words)]


def _columns(by):
    return [
        Column("type", "Component", href=lambda row: reverse("component_detail", args=[row["component"].pk])),
        Column("name", dict(WAYS)[by]),
        Column("failures", "Failures", numeric=True, show=lambda v: number(v, None)),
        Column("exposure", "Years in care", numeric=True, show=lambda v: number(v, 0)),
        _years("plain", "Plain count"),
        _years("best", "Best estimate"),
    ]


def _years(key, label):
    """Years between two failures with their range below."""
    return Column(key, label, numeric=True, show=number, sub=lambda row: between(row[f"{key}_low"], row[f"{key}_high"]))
