"""The table of spells: the stretches of watching behind the figures of one component type."""

from datetime import date, timedelta

from django.urls import reverse

from firm.tables import Column, Filter, Table
from firm.words import day, number
from jobs.failures import EPOCH
from jobs.models import Appliance

CLOSED = {
    "failed": "failed", "planned": "planned renewal", "recall": "maker’s recall", "upgrade": "upgrade",
    "had-to-come-off": "had to come off", "covered": "renewed with another part", "left": "left our care",
    "lost": "silent too long", "silent": "silent", "as-of": "still working",
}  # fmt: skip
AGES = {"known": "yes", "perhaps": "if it is the original", "unknown": "no"}
OPENED = {"care": "came into our care", "installed": "installed", "renewal": "renewed", "repair": "repaired in place"}


def _with_text(rows, text):
    text = text.casefold()
    return [row for row in rows if text in row["appliance"].casefold() or text in row["model"].casefold()]


def spell_rows(life, *, only_failed=False):
    columns = life.spells
    rows = [
        {"appliance": str(appliance), "model": str(model), "clock": str(clock), "opened": OPENED[opened],
         "closed": CLOSED[closed], "position": position, "entry": entry, "exit": exit, "failed": failed,
         "on": EPOCH + timedelta(days=day), "weight": weight}
        for appliance, model, clock, opened, closed, position, entry, exit, failed, day, weight in zip(
            *(columns[name] for name in ("appliance", "model", "clock", "opened_by", "closed_by", "position", "entry",
                                         "exit", "failed", "closed_day", "weight")), strict=True)
        if failed or not only_failed
    ]  # fmt: skip
    return sorted(rows, key=lambda row: row["on"] or date.min, reverse=True) if only_failed else rows


def with_appliances(rows):
    """The rows, each with the primary key of its appliance, in one query."""
    numbers = {row["appliance"] for row in rows}
    pks = dict(Appliance.objects.filter(number__in=numbers).values_list("number", "pk"))
    return [row | {"pk": pks.get(row["appliance"])} for row in rows]


def link_appliances(table):
    """Links for the appliances on this page alone."""
    pks = {row["appliance"]: row["pk"] for row in with_appliances(table.page.object_list) if row["pk"]}
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
        Column("entry", "From age, years", numeric=True, show=lambda v: number(v, 2)),
        Column("exit", "To age, years", numeric=True, show=lambda v: number(v, 2)),
        Column("closed", "Ended by"),
        Column("on", "On", show=day),
        Column("clock", "Age known", show=lambda word: AGES[word]),
        Column("weight", "Counts as", numeric=True, show=lambda v: number(v, 2)),
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
