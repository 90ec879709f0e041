"""Would the proposals have done better on the firm's own past? Run it, watch it, read it, keep it."""

from datetime import date

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from firm.charts import shares_by_period
from firm.models import Setting
from firm.roles import office_required
from firm.tables import Column, Filter, Table, figure
from firm.words import count, money, number, per_cent
from inventory.views.once import OnceForm, save_once
from jobs.backtest_words import STATES, WAYS, assumptions, gain_words, holding_words, inputs_in_words, verdict
from jobs.forms import DAY
from jobs.models import BackTest
from jobs.services import kept_backtests

SECONDS = "4"  # between two looks at a back-test that runs


class DaysForm(OnceForm):
    first = forms.DateField(label="First day to replay", **DAY)
    last = forms.DateField(label="Last day", **DAY)


@office_required
@require_GET
def back_test_list(request):
    first, last = kept_backtests.usual_days(timezone.localdate())
    return _list(request, DaysForm(initial={"first": first, "last": last}))


def _list(request, form, status=200):
    table = Table(
        request,
        BackTest.objects.select_related("made_by"),
        _columns(),
        name="back-tests",
        caption="Back-tests that are kept",
        filters=[Filter("state", "State", _of_state, [(word, chip[2]) for word, chip in STATES.items()])],
        empty="None yet. The year up to yesterday is a good beginning; it takes a few minutes.",
    )
    if request.method == "GET" and table.response:
        return table.response
    running = next((test for test in BackTest.objects.filter(finished_at=None) if test.state == "running"), None)
    shown = {"table": table, "form": form, "running": running}
    return render(request, "jobs/back_test_list.html", shown, status=status)


def _of_state(rows, state):
    return rows.filter(pk__in=[test.pk for test in rows if test.state == state])


def _columns():
    def of(name):
        return lambda test: test.result.get(name)

    def points(name):
        return lambda test: test.result[name]["points"] if test.state == "done" else None

    def shown(value):
        return "" if value is None else per_cent(value, 1)

    def gained(value):
        return "" if value is None else f"{'+' if value > 0 else ''}{number(value)} points"

    return [
        Column("first", "Days replayed", value=_days, href=lambda test: reverse("back_test_detail", args=[test.pk])),
        Column("made_at", "Made", value=lambda test: timezone.localtime(test.made_at).date(), show=_day, sub=_by),
        Column("state", "State", value=lambda test: STATES[test.state][2], chip=lambda t: STATES[t.state], order=""),
        Column("jobs", "Jobs", value=of("jobs"), numeric=True, order="", show=lambda n: "" if n is None else str(n)),
        Column("proposal", "Proposal", value=of("proposal"), numeric=True, order="", show=shown),
        Column("rule", "Simple rule", value=of("rule"), numeric=True, order="", show=shown),
        Column("fact", "As it was", value=of("fact"), numeric=True, order="", show=shown),
        Column("against_rule", "Against the rule", value=points("against_rule"), numeric=True, order="", show=gained),
        Column("against_fact", "Against as it was", value=points("against_fact"), numeric=True, order="", show=gained),
    ]  # fmt: skip


def _days(test):
    return f"{_day(test.first)} to {_day(test.last)}"


def _day(day):
    return f"{day:%-d %b %Y}"


def _by(test):
    return f"by {test.made_by}" if test.made_by else ""


@office_required
@require_POST
def back_test_new(request):
    """Begin a back-test in the background, once, and show how far it is."""
    form = DaysForm(request.POST)

    def begin(typed, event):
        test = kept_backtests.begin_in_background(typed["first"], typed["last"], event=event, by=request.user)
        return {"pk": test.pk}

    if answer := save_once(request, form, "back-test", begin, (kept_backtests.CannotReplay,)):
        messages.success(request, "It runs. You may leave this page; the result is kept.")
        return redirect("back_test_detail", answer["pk"])
    return _list(request, form, status=400)


@office_required
@require_GET
def back_test_detail(request, pk):
    """How far a back-test is, or what it found."""
    test = get_object_or_404(BackTest.objects.select_related("made_by"), pk=pk)
    if request.htmx.target == "progress" and test.state != "running":
        return HttpResponse(headers={"HX-Refresh": "true"})
    shown = {"test": test, "chip": STATES[test.state], "seconds": SECONDS, "inputs": inputs_in_words(test.inputs)}
    shown["again"] = OnceForm()
    shown |= {"assumptions": assumptions(test.inputs), "days": _days(test)}
    if test.state == "done":
        shown |= _found(request, test)
        if shown["table"].response:
            return shown["table"].response
    return render(request, "jobs/back_test_detail.html", shown)


def _found(request, test):
    """Everything about a finished one: figures, comparisons, picture, table."""
    found, currency = test.result, Setting.current().currency
    periods = found.get("periods", [])
    rows = [(_short(row), [row[way] / row["jobs"] if row["jobs"] else None for way in WAYS]) for row in periods]
    picture = shares_by_period(
        "by-period",
        "Finished at the first visit, period by period",
        "share of the jobs that needed parts; each period was proposed from what was known the day before it",
        list(WAYS.values()),
        rows,
    )
    return {
        "verdict": verdict(found),
        "figures": _figures(found, currency),
        "gains": [gain_words(found, name, currency) for name in ("against_rule", "against_fact")],
        "holding": holding_words(test, currency),
        "picture": picture if rows else None,
        "table": _periods(request, test, periods, currency),
    }


def _short(row):
    first, last = (date.fromisoformat(row[end]) for end in ("first", "last"))
    return f"{first:%-d %b %y} to {last:%-d %b}"


def _days_of(row):
    first, last = (date.fromisoformat(row[end]) for end in ("first", "last"))
    return f"{first:%-d %b %y} to {last:%-d %b %y}"


def _figures(found, currency):
    jobs = found["jobs"]
    figures = [figure("Jobs that needed parts", number(jobs, None), "replayed in order, on their first visit")]
    for way, words in WAYS.items():
        done = round(found[way] * jobs)
        note = f"{count(done, 'job')} at the first visit"
        figures.append(figure(words.capitalize(), per_cent(found[way], 1) if jobs else "no job", note if jobs else ""))
    return [*figures, figure("Cash of a van", money(found["cash"], currency, 0), "proposal and simple rule alike")]


def _periods(request, test, periods, currency):
    def share(way):
        return lambda row: row[way] / row["jobs"] if row["jobs"] else None

    columns = [Column("first", "Period", value=_days_of, order="")]
    columns.append(Column("jobs", "Jobs", numeric=True))
    for way, words in WAYS.items():
        columns.append(
            Column(
                f"share-{way}",
                words.capitalize(),
                value=share(way),
                numeric=True,
                show=lambda v: "" if v is None else per_cent(v, 1),
                sub=lambda row, way=way: f"{row[way]} jobs",
            )
        )
    columns.append(Column("cash", "Cash of a van", numeric=True, show=lambda v: money(v, currency, 0)))
    more = [Column(way, f"{words.capitalize()}, jobs finished") for way, words in WAYS.items()]
    return Table(
        request,
        periods,
        columns,
        name=f"back-test-{test.first}-{test.last}",
        caption="Period by period",
        more=more,
        empty="No period was replayed.",
    )
