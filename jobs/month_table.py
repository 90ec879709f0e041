"""Failures month by month: all, of one component type or maker, or split by either."""

from collections import Counter

from firm.tables import Column, Filter, Table
from firm.words import number
from inventory.models import ComponentType
from jobs.failures import last_months

SPLITS = {"component": "Component type", "maker": "Maker of the appliance"}
NOT_KNOWN = "not known"


def asked_of_months(request):
    """What the address narrows the months to: {"component": key, "maker": name, "split": one of SPLITS}, "" for all."""
    asked = {word: request.GET.get(word, "").replace("\0", "").strip() for word in ("component", "maker", "split")}
    return asked | {"split": asked["split"] if asked["split"] in SPLITS else ""}


def month_table(request, counts, as_of):
    """(table, [(month, failures)] for its picture). counts: as jobs.failures.failures_by_month gives them."""
    asked = asked_of_months(request)
    names = dict(ComponentType.objects.values_list("key", "name"))
    makers = sorted({maker or NOT_KNOWN for _, _, maker in counts}, key=lambda maker: (maker == NOT_KNOWN, maker))
    present = sorted({key for _, key, _ in counts}, key=lambda key: names.get(key, key))
    if asked["component"] not in present:
        asked["component"] = ""
    if asked["maker"] not in makers:
        asked["maker"] = ""
    chosen = {
        (month, key, maker or NOT_KNOWN): failures
        for (month, key, maker), failures in counts.items()
        if asked["component"] in ("", key) and asked["maker"] in ("", maker or NOT_KNOWN)
    }
    total = Counter()
    for (month, _, _), failures in chosen.items():
        total[month] += failures
    pairs = [(month, total[month]) for month in last_months(as_of)]
    filters = [
        Filter("component", "Component type", _as_they_are, [(key, names.get(key, key)) for key in present]),
        Filter("maker", "Maker", _as_they_are, [(maker, maker) for maker in makers]),
        Filter("split", "Split by", _as_they_are, list(SPLITS.items())),
    ]
    rows = _split(chosen, asked["split"], names) if asked["split"] else _plain(pairs)
    columns = [Column("month", "Month", show=lambda day: f"{day:%B %Y}")]
    if asked["split"]:
        columns.append(Column("what", SPLITS[asked["split"]]))
    columns.append(Column("failures", "Failures", numeric=True, show=lambda v: number(v, None)))
    table = Table(
        request, rows, columns, name="failures-by-month", caption="Failures by month", filters=filters, sort="-month",
        empty="Nothing has failed in the last three years.",
    )  # fmt: skip
    return table, pairs


def _as_they_are(rows, _):
    """The rows were narrowed before they were added up."""
    return rows


def _plain(pairs):
    return [{"month": month, "failures": failures} for month, failures in pairs]


def _split(chosen, by, names):
    """One row for each month and component type or maker with failures, most first within a month."""
    total = Counter()
    for (month, key, maker), failures in chosen.items():
        total[month, names.get(key, key) if by == "component" else maker] += failures
    rows = [{"month": month, "what": what, "failures": failures} for (month, what), failures in total.items()]
    return sorted(rows, key=lambda row: (-row["failures"], row["what"]))
