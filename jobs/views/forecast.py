"""What will probably fail next: in all, by van, by component type, and by both."""

from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET

from firm.roles import owner_required
from firm.tables import Column, Filter, Table, figure
from firm.words import number
from inventory.models import ComponentType, Place
from jobs import failure_words
from jobs.services.forecasting import DAYS, firm_forecast
from jobs.views.assumed import asked_assumption, shown_assumption

NO_VAN = "no van"


def days_in_words(days):
    return "year" if days == 365 else f"{days} days"


def due_figure(row):
    """The figure of one horizon: what to expect, the range, and of how many."""
    unseen = f", {number(row.of_unseen_age, 0)} of unknown age" if row.of_unseen_age >= 0.5 else ""
    told = f"likely between {row.low} and {row.high}, of {number(row.in_care, 0)} in care{unseen}"
    return figure(f"Next {days_in_words(row.days)}", failure_words.expected(row.expected), told)


@owner_required
@require_GET
def forecast(request):
    assumed = asked_assumption(request)
    found = firm_forecast(timezone.localdate(), **assumed.parts)
    tables = [
        _table(
            request, found, _wide(found.by_van, "van"), "v-", "forecast-by-van", "Failures expected by van", van=True
        ),
        _table(
            request, found, _wide(found.by_component, "component"), "c-", "forecast-by-component",
            "Failures expected by component type", component=True,
        ),
        _table(
            request, found, _wide(found.rows, "component", "van"), "b-", "forecast",
            "Failures expected by van and component type", van=True, component=True,
        ),
    ]  # fmt: skip
    for table in tables:
        if table.response:
            return table.response
    context = shown_assumption(assumed) | {
        "found": found,
        "figures": [due_figure(row) for row in found.total if row.in_care > 0],
        "by_van": tables[0],
        "by_component": tables[1],
        "by_both": tables[2],
        "silence": failure_words.SILENCE[found.silence],
    }
    return render(request, "jobs/forecast.html", context)


def _wide(rows, *keys):
    """One row per key with the horizons side by side."""
    found = {}
    for row in rows:
        key = tuple(getattr(row, name) for name in keys)
        wide = found.setdefault(key, {"van": row.van, "component": row.component, "in_care": row.in_care,
                                      "of_unseen_age": row.of_unseen_age})  # fmt: skip
        wide |= {f"{part}_{row.days}": getattr(row, part) for part in ("expected", "low", "high")}
    return list(found.values())


def _table(request, found, rows, prefix, name, caption, *, van=False, component=False):
    vans = {one.key: one for one in Place.objects.vans()}
    types = {one.key: one for one in ComponentType.objects.all()}
    for row in rows:
        row["van_place"], row["type"] = vans.get(row["van"]), types.get(row["component"])
        row["van_name"] = str(row["van_place"] or NO_VAN)
        row["name"] = row["type"].name if row["type"] else row["component"]
    columns, filters = [], []
    if component:
        columns.append(Column("name", "Component", href=_component_page))
        filters.append(Filter("q", "Component", _named))
    if van:
        columns.append(Column("van_name", "Van", href=_van_page))
    if van and component:
        names = sorted({row["van_name"] for row in rows})
        filters.append(
            Filter(
                "van", "Van", lambda all, text: [row for row in all if row["van_name"] == text], [(n, n) for n in names]
            )
        )
    columns.append(Column("in_care", "In care", numeric=True, show=lambda v: number(v, 0)))
    columns += [_horizon(days) for days in DAYS]
    ends = [
        Column(f"{end}_{days}", f"Next {days_in_words(days)}, likely {word}")
        for days in DAYS
        for end, word in (("low", "from"), ("high", "to"))
    ]
    return Table(
        request, rows, columns, name=name, caption=caption, filters=filters, prefix=prefix, css="mid", per_page=30,
        sort=f"-expected_{DAYS[-1]}", more=[*ends, Column("of_unseen_age", "Of unknown age"), *_assumed(found)],
        empty="Nothing is in care yet. Import the firm’s files, or take in a job, and what will fail next stands here.",
    )  # fmt: skip


def _assumed(found):
    """Columns of a file that say what its numbers rest on."""
    told = (
        ("As of", found.as_of.isoformat()), ("Level of the range", found.level), ("Before care", found.before_care),
        ("Silence", found.silence), ("Method", found.method),
    )  # fmt: skip
    return [Column(label.lower(), label, value=lambda row, value=value: value) for label, value in told]


def _horizon(days):
    return Column(
        f"expected_{days}", f"Next {days_in_words(days)}", numeric=True, show=failure_words.expected,
        sub=lambda row: f"{row[f'low_{days}']} to {row[f'high_{days}']}",
    )  # fmt: skip


def _component_page(row):
    return reverse("component_detail", args=[row["type"].pk]) if row["type"] else ""


def _van_page(row):
    return reverse("van_detail", args=[row["van_place"].pk]) if row["van_place"] else ""


def _named(rows, text):
    return [row for row in rows if text.casefold() in row["name"].casefold()]
