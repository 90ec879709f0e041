"""The tables of the pages on failures: all component types, one by appliance model, and the spells behind it."""

from datetime import date, timedelta

from django.urls import reverse

from firm import charts
from firm.tables import Column, Filter, Table
from firm.words import between, number
from inventory.models import ApplianceModel
from jobs import failure_words
from jobs.failures import EPOCH
from jobs.models import Appliance

CLOSED = {
    "failed": "failed", "planned": "planned renewal", "recall": "maker’s recall", "upgrade": "upgrade",
    "had-to-come-off": "had to come off", "covered": "renewed with another part", "left": "left our care",
    "lost": "silent too long", "silent": "silent", "as-of": "still working",
}  # fmt: skip
OPENED = {"care": "came into our care", "installed": "installed", "renewal": "renewed", "repair": "repaired in place"}


def row_of(group, component, recent):
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
    }


def components_table(request, rows):
    whiskers = charts.Whiskers([_whisker(row["group"]) for row in rows])
    columns = [
        Column("name", "Component", href=lambda row: reverse("component_detail", args=[row["component"].pk])),
        Column(
            "failures",
            "Failures",
            numeric=True,
            show=lambda v: number(v, None),
            sub=lambda row: f"{number(row['recent'], None)} in a year",
        ),
        Column("exposure", "Years in care", numeric=True, show=lambda v: number(v, 0)),
        Column(
            "plain",
            "Plain count",
            numeric=True,
            show=number,
            sub=lambda row: between(row["plain_low"], row["plain_high"]),
        ),
        Column(
            "best",
            "Best estimate",
            numeric=True,
            show=number,
            sub=lambda row: between(row["best_low"], row["best_high"]),
        ),
        Column(
            "mean",
            "Mean life",
            numeric=True,
            show=number,
            sub=lambda row: between(row["group"].mean_low, row["group"].mean_high) if row["mean"] else "",
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
            ("plain_low", "Plain count, likely from"),
            ("plain_high", "Plain count, likely to"),
            ("best_low", "Best estimate, likely from"),
            ("best_high", "Best estimate, likely to"),
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
            "best": group.shrunk,
        }
        for key, group in life.models
    ]
    whiskers = charts.Whiskers([_whisker(row["group"]) for row in rows], life.group.mtbf)
    columns = [
        Column("name", "Model", sub=lambda row: row["maker"]),
        Column("failures", "Failures", numeric=True, show=lambda v: number(v, None)),
        Column("exposure", "Years in care", numeric=True, show=lambda v: number(v, 0)),
        Column(
            "plain",
            "Plain count",
            numeric=True,
            show=number,
            sub=lambda row: between(row["group"].mtbf_low, row["group"].mtbf_high),
        ),
        Column(
            "best",
            "Best estimate",
            numeric=True,
            show=number,
            sub=lambda row: between(row["group"].shrunk_low, row["group"].shrunk_high),
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
        Column(key, label, value=lambda row, name=name: getattr(row["group"], name))
        for key, label, name in (
            ("plain_low", "Plain count, likely from", "mtbf_low"),
            ("plain_high", "Plain count, likely to", "mtbf_high"),
            ("best_low", "Best estimate, likely from", "shrunk_low"),
            ("best_high", "Best estimate, likely to", "shrunk_high"),
        )
    ]
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


def _with_text(rows, text):
    text = text.casefold()
    return [row for row in rows if text in row["appliance"].casefold() or text in row["model"].casefold()]


def spell_rows(life, *, only_failed=False):
    columns = life.spells
    rows = [
        {"appliance": str(appliance), "model": str(model), "clock": str(clock), "opened": OPENED[opened],
         "closed": CLOSED[closed], "position": position, "entry": entry, "exit": exit, "failed": failed,
         "on": EPOCH + timedelta(days=day)}
        for appliance, model, clock, opened, closed, position, entry, exit, failed, day in zip(
            *(columns[name] for name in ("appliance", "model", "clock", "opened_by", "closed_by", "position", "entry",
                                         "exit", "failed", "closed_day")), strict=True)
        if failed or not only_failed
    ]  # fmt: skip
    return sorted(rows, key=lambda row: row["on"] or date.min, reverse=True) if only_failed else rows


def link_appliances(table):
    """Links for the appliances on this page alone, in one query."""
    numbers = {row["appliance"] for row in table.page.object_list}
    pks = dict(Appliance.objects.filter(number__in=numbers).values_list("number", "pk"))
    table.link(
        "appliance",
        lambda row: reverse("appliance_detail", args=[pks[row["appliance"]]]) if row["appliance"] in pks else "",
    )


def spells_table(request, component, life):
    columns = [
        Column("appliance", "Appliance"),
        Column("model", "Model"),
        Column("position", "Position", numeric=True),
        Column("opened", "Watched since"),
        Column("entry", "From age", numeric=True, show=lambda v: number(v, 2)),
        Column("exit", "To age", numeric=True, show=lambda v: number(v, 2)),
        Column("closed", "Ended by"),
        Column("on", "On", show=lambda v: f"{v:%-d %b %Y}"),
        Column("clock", "Age"),
    ]
    endings = [(word, word) for word in dict.fromkeys(CLOSED.values())]
    table = Table(
        request,
        spell_rows(life),
        columns,
        name=f"spells-{component.key}",
        caption="Spells",
        filters=[
            Filter("ended", "Ended by", lambda rows, text: [r for r in rows if r["closed"] == text], endings),
            Filter("q", "Appliance or model", _with_text),
        ],
        sort="-on",
    )
    return table
