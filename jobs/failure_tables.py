"""The tables of the pages on failures: all component types, and one of them by appliance model."""

from urllib.parse import urlencode

from django.urls import reverse

from firm import charts
from firm.tables import Column, Filter, Table
from firm.words import LONG, between, known, number, span_of_years
from inventory.models import ApplianceModel
from jobs import failure_words
from jobs.due import WEEKS

ENDS = [
    ("plain_low", "Plain count, likely from"),
    ("plain_high", "Plain count, likely to"),
    ("best_low", "Best estimate, likely from"),
    ("best_high", "Best estimate, likely to"),
]


def years_column(key, label):
    """Years between two failures with their range below; what is beyond a thousand is not told apart."""

    def span(row):
        return between(*span_of_years(row[f"{key}_low"], row[f"{key}_high"]))

    return Column(key, label, numeric=True, show=_told, sub=span)


def _told(value):
    return f"over {number(LONG, 0)}" if known(value) and value > LONG else number(value)


def row_of(group, component, recent, coming):
    return {
        "group": group,
        "component": component,
        "name": component.name,
        "failures": group.failures,
        "recent": recent.get(group.group, 0),
        "exposure": group.exposure,
        "plain": group.mtbf,
        "plain_low": group.mtbf_low,
        "plain_high": group.mtbf_high,
        "best": group.shrunk,
        "best_low": group.shrunk_low,
        "best_high": group.shrunk_high,
        "status": failure_words.STATUS[group.status][2],
        "mean": group.mean,
        "due": coming.expected if coming else None,
        "due_range": between(coming.low, coming.high, str) if coming else "",
    }


def _mean_span(group):
    return between(*span_of_years(group.mean_low, group.mean_high)) if group.mean else ""


def components_table(request, rows, kept=""):
    """kept: what the links end with, so that the assumption stays the one that was asked for."""
    whiskers = charts.Whiskers([_whisker(row["group"]) for row in rows])
    columns = [
        Column("name", "Component", href=lambda row: reverse("component_detail", args=[row["component"].pk]) + kept),
        Column(
            "failures",
            "Failures",
            numeric=True,
            show=lambda v: number(v, None),
            sub=lambda row: f"{number(row['recent'], None)} in a year",
        ),
        Column("due", f"Due in {WEEKS} weeks", numeric=True, show=number, sub=lambda row: row["due_range"]),
        Column("exposure", "Years in care", numeric=True, show=lambda v: number(v, 0)),
        years_column("plain", "Plain count"),
        years_column("best", "Best estimate"),
        Column(
            "mean",
            "Mean life",
            numeric=True,
            show=_told,
            sub=lambda row: (
                between(*span_of_years(row["group"].mean_low, row["group"].mean_high)) if row["mean"] else ""
            ),
            chip=lambda row: () if row["group"].status == "fitted" else failure_words.STATUS[row["group"].status],
        ),
        Column(
            "picture",
            "Picture",
            svg=lambda row: whiskers.row(*_whisker(row["group"])),
            head=whiskers.axis(),
            whole=True,
        ),
    ]
    exported = [
        Column(key, label)
        for key, label in (
            *ENDS,
            ("recent", "Failures in the last year"),
            ("status", "Life"),
        )
    ]
    statuses = sorted({row["status"] for row in rows})
    filters = [
        Filter("q", "Name", lambda found, text: [row for row in found if text.casefold() in row["name"].casefold()]),
        Filter(
            "life",
            "Life",
            lambda found, text: [row for row in found if row["status"] == text],
            [(s, s) for s in statuses],
        ),
        Filter(
            "hazard",
            "Hazard",
            lambda found, text: [row for row in found if text in row["component"].hazards],
            sorted({(h, h.replace("-", " ")) for row in rows for h in row["component"].hazards}),
        ),
    ]
    table = Table(
        request,
        rows,
        columns,
        name="failures",
        caption="Mean time between failures of all component types",
        filters=filters,
        sort="-failures",
        per_page=30,
        css="mid whiskers",
        more=exported,
        empty="No appliance is in care yet. Import the firm’s files, and failures and lives appear here.",
    )
    table.whiskers = whiskers
    return table


def _whisker(group):
    return group.mtbf, group.mtbf_low, group.mtbf_high, group.shrunk, group.shrunk_low, group.shrunk_high


def _of_model(row):
    """The page of all component types in this model."""
    name = f"{row['name']}, {row['maker']}".strip(", ")
    return f"{reverse('component_list')}?{urlencode({'by': 'model', 'of': name})}"


def models_table(request, life):
    names = {model.key: model for model in ApplianceModel.objects.all()}
    rows = [
        {
            "name": names[key].name if key in names else key,
            "maker": names[key].maker if key in names else "",
            "group": group,
            "failures": group.failures,
            "exposure": group.exposure,
            "plain": group.mtbf,
            "plain_low": group.mtbf_low,
            "plain_high": group.mtbf_high,
            "best": group.shrunk,
            "best_low": group.shrunk_low,
            "best_high": group.shrunk_high,
        }
        for key, group in life.models
    ]
    whiskers = charts.Whiskers([_whisker(row["group"]) for row in rows], life.group.mtbf)
    columns = [
        Column("name", "Model", sub=lambda row: row["maker"], href=_of_model),
        Column("failures", "Failures", numeric=True, show=lambda v: number(v, None)),
        Column("exposure", "Years in care", numeric=True, show=lambda v: number(v, 0)),
        years_column("plain", "Plain count"),
        years_column("best", "Best estimate"),
        Column(
            "picture",
            "Picture",
            svg=lambda row: whiskers.row(*_whisker(row["group"])),
            head=whiskers.axis(),
            whole=True,
        ),
    ]
    exported = [Column(key, label) for key, label in ENDS]
    table = Table(
        request,
        rows,
        columns,
        name="failures-by-model",
        caption="Mean time between failures by appliance model",
        sort="best",
        per_page=100,
        css="mid whiskers",
        prefix="m-",
        more=exported,
    )
    table.whiskers = whiskers
    return table
