"""Alarms: which parts fail too often, on what evidence, and where the others of them are."""

import re

from django.http import Http404
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET

from firm.models import Setting
from firm.roles import owner_required
from firm.tables import Column, Filter, Table, figure
from firm.words import day, known, likely, money, number, years
from jobs.alarm_words import told
from jobs.cautions import warnings_for
from jobs.failure_words import false_alarms
from jobs.services.alarms import firm_alarms


@owner_required
@require_GET
def alarm_list(request):
    found = firm_alarms(timezone.localdate())
    shown = told(found.alarms)
    table = Table(
        request,
        [_row(one) for one in shown],
        _columns(),
        name="alarms",
        caption="Alarms",
        css="mid",
        more=[Column(key, label) for key, label in EXPORTED],
        filters=[
            Filter("q", "Component, part or supplier", _named),
            Filter("kind", "Kind", _of_kind, [("batch", "Batch"), ("rising", "Rising")]),
        ],
        empty="No alarm stands. Nothing fails more often than chance allows.",
    )
    if table.response:
        return table.response
    figures = [
        figure("Alarms", number(len(shown), None), f"of {number(found.streams, None)} groups watched"),
        figure("False alarms to expect", false_alarms(found.false_alarms_a_year), "a year, over all groups together"),
        figure("A bad batch shows after", f"{found.delay_failures} failures", "where it fails at five times its rate"),
    ]
    return render(request, "jobs/alarm_list.html", {"found": found, "table": table, "figures": figures})


EXPORTED = [
    ("failures", "Failures in all"),
    ("expected", "Usual in all"),
    ("component", "Component"),
    ("p", "p"),
    ("p_adjusted", "p, adjusted for all groups"),
    ("raised_on", "Raised on"),
    ("ratio_low", "Times as many, likely from"),
    ("ratio_high", "Times as many, likely to"),
    ("part", "Part"),
    ("supplier", "Supplier"),
    ("fitting_month", "Fitted in"),
    ("model", "Model"),
]


def _row(one):
    own = {name: getattr(one.alarm, name) for name in ("kind", "rise_failures", "rise_expected", "ratio", "since")}
    own |= {name: getattr(one.alarm, name) for name, _ in EXPORTED}
    return own | {
        "told": one,
        "title": one.title,
        "words": " ".join((one.title, one.component.name, one.alarm.part, one.alarm.supplier)).casefold(),
        "in_guarantee": len(one.in_guarantee),
        "concerned": len(one.alarm.pieces),
        "still": len(one.still),
    }


def _named(rows, text):
    words = text.casefold().split()
    return [row for row in rows if all(word in row["words"] for word in words)]


def _of_kind(rows, text):
    return [row for row in rows if row["kind"] == text]


def _columns():
    return [
        Column("kind", "Kind", show=lambda _: "", chip=lambda row: row["told"].chip),
        Column(
            "title",
            "What",
            href=lambda row: reverse("alarm_detail", args=[row["told"].code]),
            sub=lambda row: row["told"].evidence,
            whole=True,
        ),
        Column("rise_failures", "Failures", numeric=True, show=lambda v: number(v, None)),
        Column("rise_expected", "Usual", numeric=True, show=number),
        Column("ratio", "Times as many", numeric=True, show=number),
        Column("since", "Since", show=day),
        Column("still", "Still in place", numeric=True, show=lambda v: number(v, None)),
        Column("in_guarantee", "In guarantee", numeric=True, show=lambda v: number(v, None)),
    ]


@owner_required
@require_GET
def alarm_detail(request, code):
    """One alarm, and the fitted parts that it concerns: to print, or as a file."""
    found = firm_alarms(timezone.localdate())
    one = next((one for one in told(found.alarms) if one.code == code), None)
    if one is None:
        return _gone(request, code)
    table = _pieces(request, one)
    if table.response:
        return table.response
    context = {
        "found": found,
        "told": one,
        "table": table,
        "figures": _figures(one, Setting.current().currency),
        "warnings": warnings_for([one.component]),
        "false_alarms": false_alarms(found.false_alarms_a_year),
    }
    return render(request, "jobs/alarm_detail.html", context)


def _gone(request, code):
    """An address that once named an alarm tells so; anything else was never one."""
    if not re.fullmatch("[0-9a-f]{12}", code):
        raise Http404("No such alarm.")
    return render(request, "jobs/alarm_gone.html", status=410)


def _figures(one, currency):
    alarm = one.alarm
    return [
        figure(
            f"Failures since {alarm.since:%-d %b %Y}", number(alarm.rise_failures, None),
            f"{number(alarm.rise_expected)} would be usual",
        ),
        figure(
            "Times as many", number(alarm.ratio),
            likely(alarm.ratio_low, alarm.ratio_high) if known(alarm.ratio_low) else "",
        ),
        figure("Fitted parts concerned", number(len(alarm.pieces), None), f"{len(one.still)} still in place"),
        figure(
            "In guarantee", number(len(one.in_guarantee), None),
            f"{money(one.worth, currency, 0)} at cost" if one.in_guarantee else "",
        ),
    ]  # fmt: skip


def _pieces(request, one):
    columns = [
        Column("number", "Appliance", href=lambda piece: reverse("appliance_detail", args=[piece.appliance])),
        Column("customer", "Customer", sub=lambda piece: piece.address),
        Column("fitted_on", "Fitted", show=day),
        Column("part", "Part"),
        Column("in_place", "Now", value=lambda piece: "in place" if piece.in_place else "no longer there"),
        Column("failed_on", "Failed", show=lambda on: day(on) if on else "", sub=_lasted),
        Column(
            "guarantee_until",
            "Guarantee until",
            show=lambda until: day(until) if until else "not known",
            sub=lambda piece: "" if piece.guarantee_until is None else "runs" if piece.in_guarantee else "has ended",
        ),
        Column("fetch", "What to fetch back"),
    ]
    filters = [
        Filter("now", "Now", _in_place, [("in-place", "In place"), ("gone", "No longer there"), ("failed", "Failed")]),
        Filter("guarantee", "Guarantee", lambda rows, _: [r for r in rows if r.in_guarantee], [("runs", "Runs")]),
    ]
    return Table(
        request, list(one.alarm.pieces), columns, name=f"alarm-{one.code}", caption="Fitted parts concerned",
        filters=filters, sort="-failed_on", per_page=200, more=[Column("address", "Address")],
        empty="None was fitted in your care: the alarm is about what was there before.",
    )  # fmt: skip


def _lasted(piece):
    if piece.failed_on is None:
        return ""
    return f"after {years((piece.failed_on - piece.fitted_on).days / 365.25)}"


def _in_place(rows, text):
    if text == "failed":
        return [row for row in rows if row.failed_on]
    return [row for row in rows if row.in_place == (text == "in-place")]
