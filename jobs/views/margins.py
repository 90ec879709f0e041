"""Where margin is made and lost: by month, component type, job, model, maker, supplier, engineer."""

from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET

from firm import charts
from firm.models import Setting
from firm.roles import owner_required
from firm.tables import Column, Filter, Table, figure
from firm.words import count, money, per_cent
from jobs.earnings import BY, below_cost, job_margins, margins, not_charged, periods
from jobs.models import Job
from jobs.services.money import total

LEAST_JOBS = 20
KINDS = dict(Job.Kind.choices)


@owner_required
@require_GET
def margin_list(request):
    choices = periods(timezone.localdate())
    period = next((p for p in choices if p.word == request.GET.get("period")), choices[0])
    by = request.GET.get("by") if request.GET.get("by") in {*BY, "job"} else "component"
    currency = Setting.current().currency
    table = _jobs_table(request, period, currency) if by == "job" else _table(request, by, period, currency)
    if table.response:
        return table.response
    by_month = margins("month", period)
    return render(request, "jobs/margin_list.html", {
        "table": table, "period": period, "periods": choices, "by": by, "choices": [*BY.items(), ("job", "Job")],
        "label": {**BY, "job": "Job"}[by], "figures": _figures(by_month, period, currency), "least_jobs": LEAST_JOBS,
        "chart": _chart(by_month, currency) if by_month else None, "total": total(by_month),
        "lost": sorted(below_cost(period), key=lambda pair: pair[1].margin)[:7],
    })  # fmt: skip


def _label(by, key):
    if by == "month":
        return f"{key:%B %Y}"
    return KINDS.get(key, str(key)) if by == "kind" else str(key)


def _money_columns(currency):
    def shown(value):
        return money(value, currency)

    return [
        Column("jobs", "Jobs", numeric=True),
        Column("sales", "Charges ex VAT", numeric=True, show=shown),
        Column(
            "parts_cost",
            "Parts at cost",
            numeric=True,
            show=shown,
            sub=lambda row: count(row.parts_of_unknown_cost, "cost") + " unknown" if row.parts_of_unknown_cost else "",
        ),
        Column("labour_cost", "Labour", numeric=True, show=shown),
        Column("travel_cost", "Travel", numeric=True, show=shown),
        Column("margin", "Margin", numeric=True, show=shown),
        Column("margin_share", "Margin, share of charges", numeric=True, show=lambda v: per_cent(v, 1)),
        Column("markup_share", "Mark-up, share of cost", numeric=True, show=lambda v: per_cent(v, 1)),
    ]


def _table(request, by, period, currency):
    rows = margins(by, period)
    name = Column(
        "key",
        BY[by],
        value=lambda row: row.key if by == "month" else _label(by, row.key),
        show=(lambda key: f"{key:%B %Y}") if by == "month" else str,
    )
    foot = _foot(rows, currency) if by in ("month", "kind") else None
    return Table(
        request,
        rows,
        [name, *_money_columns(currency)],
        name=f"margins-by-{by}",
        caption=f"Margins by {BY[by].lower()}",
        sort="-key" if by == "month" else "-margin",
        css="money",
        per_page=25,
        foot=foot,
        filters=[] if by == "month" else [Filter("q", BY[by], lambda found, text: _named(found, by, text))],
        empty="No job was reported in this time."
        if by != "engineer"
        else f"No engineer has {LEAST_JOBS} jobs in this time, and from fewer no comparison is drawn.",
    )


def _named(rows, by, text):
    return [row for row in rows if text.casefold() in _label(by, row.key).casefold()]


def _foot(rows, currency):
    all_of_it = total(rows)
    amounts = [all_of_it.sales, all_of_it.parts_cost, all_of_it.labour_cost, all_of_it.travel_cost, all_of_it.margin]
    shares = [per_cent(all_of_it.margin_share, 1), per_cent(all_of_it.markup_share, 1)]
    return ["All together", str(all_of_it.jobs), *(money(amount, currency) for amount in amounts), *shares]


def _jobs_table(request, period, currency):
    found = job_margins(period)
    rows, about = [earned for _, earned in found], {job["pk"]: job for job, _ in found}
    columns = [
        Column(
            "number",
            "Job",
            value=lambda row: about[row.key]["number"],
            href=lambda row: reverse("job_detail", args=[row.key]),
            sub=lambda row: f"{KINDS[about[row.key]['kind']]}, {about[row.key]['appliance__model__name']}",
        ),
        Column(
            "reported", "Reported", value=lambda row: about[row.key]["reported_on"], show=lambda day: f"{day:%-d %b %Y}"
        ),
        *_money_columns(currency)[1:],
    ]
    below = [
        ("below", "below cost"),
        ("uncharged", "parts not charged"),
        ("unknown", "cost unknown"),
        ("back", "call-backs"),
    ]
    return Table(
        request,
        rows,
        columns,
        name="margins-by-job",
        caption="Margins by job",
        sort="margin",
        css="money",
        per_page=25,
        filters=[Filter("only", "Only", lambda found, text: _only(found, text, about), below)],
        empty="No job of this time has had a visit.",
    )


def _only(rows, text, about):
    wanted = {
        "below": lambda row: row.margin < 0 and not about[row.key]["return_of"],
        "uncharged": lambda row: row.fitted_not_charged,
        "unknown": lambda row: row.parts_of_unknown_cost or row.minutes_unknown,
        "back": lambda row: about[row.key]["return_of"],
    }[text]
    return [row for row in rows if wanted(row)]


def _figures(by_month, period, currency):
    whole, lost = total(by_month), below_cost(period)
    loss = sum(-earned.margin for _, earned in lost)
    unknown = whole.parts_of_unknown_cost + whole.minutes_unknown
    return [
        figure("Charges ex VAT", money(whole.sales, currency, 0), count(whole.jobs, "job")),
        figure("Margin", money(whole.margin, currency, 0), f"{per_cent(whole.margin_share, 1)} of charges"),
        figure("Mark-up", per_cent(whole.markup_share, 1), "margin as a share of cost"),
        figure("Jobs below cost", str(len(lost)), f"{money(loss, currency, 0)} lost on them"),
        figure(
            "Costs not known",
            str(unknown),
            f"{count(whole.parts_of_unknown_cost, 'part')}, {count(whole.minutes_unknown, 'visit')} without minutes"
            if unknown
            else "every cost is known",
        ),
    ]


def _chart(by_month, currency):
    rows = sorted((row.key, row.margin) for row in by_month)
    table = [
        [
            f"{row.key:%B %Y}",
            money(row.sales, currency),
            money(row.cost, currency),
            money(row.margin, currency),
            per_cent(row.margin_share, 1),
        ]
        for row in sorted(by_month, key=lambda row: row.key, reverse=True)
    ]
    return charts.money_by_month(
        "margins",
        "Margin by month",
        "charges ex VAT less parts, labour and travel, by the month of the report",
        rows,
        currency,
        head=["Month", "Charges", "Cost", "Margin", "Of charges"],
        table=table,
    )


@owner_required
@require_GET
def not_charged_list(request):
    """Parts that were fitted and not charged: money to fetch."""
    currency = Setting.current().currency
    rows = not_charged().select_related("visit__job__appliance__customer", "part")
    columns = [
        Column(
            "part",
            "Part",
            value=lambda row: row.part.number,
            order="part__number",
            sub=lambda row: row.part.description,
        ),
        Column("quantity", "Pieces", numeric=True, show=lambda v: f"{v.normalize():f}"),
        Column(
            "job",
            "Job",
            value=lambda row: row.visit.job.number,
            order="visit__job__number",
            href=lambda row: reverse("job_detail", args=[row.visit.job_id]),
            sub=lambda row: str(row.visit.job.appliance.customer or ""),
        ),
        Column(
            "on", "Fitted on", value=lambda row: row.visit.on, order="visit__on", show=lambda day: f"{day:%-d %b %Y}"
        ),
        Column("why", "Why", value=lambda row: row.get_why_display()),
        Column("cost", "Cost", numeric=True, show=lambda v: money(v, currency)),
    ]
    whys = [(value, label) for value, label in Job._meta.get_field("kind").choices]
    table = Table(
        request,
        rows,
        columns,
        name="fitted-not-charged",
        caption="Parts fitted and not charged",
        sort="-on",
        per_page=25,
        filters=[Filter("kind", "Kind of job", lambda found, text: found.filter(visit__job__kind=text), whys)],
        empty="Everything that was fitted has been charged.",
    )
    return table.response or render(request, "jobs/not_charged_list.html", {"table": table})
