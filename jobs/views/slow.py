"""Expensive slow parts and dead stock of the whole firm, as last worked out: what should lie where, what should go."""

from datetime import date

from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_GET

from firm.models import Setting
from firm.roles import office_required
from firm.tables import Column, Filter, Table, figure
from firm.words import count, money, number
from inventory.models import Part
from jobs.move_words import ADVICE, advice_chip, place_chip
from jobs.views.moving import standing


@office_required
@require_GET
def slow_list(request):
    """Expensive slow parts of the whole firm: which one van, or the store, should hold each."""
    shown, currency = standing(request), Setting.current().currency
    rows = shown["moves"].slow if shown["moves"] else []
    table = _slow_table(request, rows, currency)
    if table.response:
        return table.response
    there = sum(row["price"] * sum(n for _, n in row["free_now"]) for row in rows)
    figures = [
        figure("Expensive slow parts", number(len(rows), None), "one in every van would cost more than it saves"),
        figure("Of them in the firm now", money(there, currency, 0), "free pieces at today’s prices"),
        figure("Should be in one van", count(sum(row["worth_per_year"] > 0 for row in rows), "part")),
    ]
    return render(request, "jobs/slow_list.html", shown | {"table": table, "figures": figures})


def _slow_table(request, rows, currency):
    places = sorted({(row["place"] or "none", row["place_name"]) for row in rows})
    columns = [
        _part_column(),
        Column("price", "Price", numeric=True, show=lambda v: money(v, currency)),
        Column("expected_per_year", "Wanted a year", numeric=True, show=number),
        Column("place_name", "Should be in", chip=place_chip),
        Column("worth_per_year", "Worth a year there", numeric=True, show=lambda v: money(v, currency, 0) if v else ""),
        Column("now", "Is in", value=_now),
        Column("why", "Why", whole=True, order=""),
    ]
    return Table(
        request,
        rows,
        columns,
        name="expensive-slow-parts",
        caption="Expensive slow parts",
        sort="-price",
        more=[Column("part", "Part number")],
        filters=[
            Filter(
                "place", "Should be in", lambda found, key: [r for r in found if (r["place"] or "none") == key], places
            ),
            Filter("where", "Is", _misplaced, [("elsewhere", "elsewhere"), ("there", "where it should be")]),
            Filter("q", "Part", with_text),
        ],
        empty="No part is so dear and so slow that it should be in one van only.",
    )


def _part_column():
    return Column(
        "description",
        "Part",
        href=lambda row: reverse("part_detail", args=[row["part_pk"]]),
        sub=lambda row: row["part"],
    )


def _now(row):
    return ", ".join(f"{place}: {n}" for place, n in row["free_now"]) or "nowhere"


def _misplaced(rows, text):
    def elsewhere(row):
        return any(place != row["place_name"] for place, _ in row["free_now"])

    return [row for row in rows if elsewhere(row) == (text == "elsewhere")]


def with_text(rows, text):
    text = text.casefold()
    return [row for row in rows if text in f"{row['part']} {row['description']}".casefold()]


@office_required
@require_GET
def dead_list(request):
    """Stock that nobody will need where it lies, and what to do with it."""
    shown, currency = standing(request), Setting.current().currency
    rows = _living(shown["moves"].dead) if shown["moves"] else []
    table = _dead_table(request, rows, currency)
    if table.response:
        return table.response
    figures = [figure("Dead stock", money(sum(row["value"] or 0 for row in rows), currency, 0), _unknown(rows))]
    for advice, words in ADVICE.items():
        found = [row for row in rows if row["advice"] == advice]
        if found:
            worth = money(sum(row["value"] or 0 for row in found), currency, 0)
            figures.append(figure(words, worth, count(len(found), "line")))
    return render(request, "jobs/dead_list.html", shown | {"table": table, "figures": figures})


def _day(text):
    return f"{date.fromisoformat(text):%-d %b %Y}" if text else "never"


def _living(rows):
    """Rows whose part still stands in the book under its key, so that every link leads somewhere."""
    there = set(Part.objects.filter(pk__in={row["part_pk"] for row in rows}).values_list("pk", flat=True))
    return [row for row in rows if row["part_pk"] in there]


def _unknown(rows):
    bare = sum(row["value"] is None for row in rows)
    return f"{count(bare, 'line')} without a known cost" if bare else "at average cost"


def _dead_table(request, rows, currency):
    places = sorted({(row["place"], row["place_name"]) for row in rows})
    columns = [
        _part_column(),
        Column("place_name", "Lies in", href=lambda row: reverse("van_detail", args=[row["place_pk"]])),
        Column("quantity", "Free", numeric=True, show=lambda v: number(v, None)),
        Column("value", "Worth", numeric=True, show=lambda v: money(v, currency)),
        Column("last_use", "Used last", show=_day),
        Column("advice", "What to do", chip=advice_chip),
        Column("why", "Why", whole=True, order=""),
    ]
    return Table(
        request,
        rows,
        columns,
        name="dead-stock",
        caption="Dead stock",
        sort="-value",
        more=[Column("part", "Part number"), Column("to", "To"), Column("supplier", "Supplier")],
        filters=[
            Filter(
                "advice",
                "What to do",
                lambda found, word: [r for r in found if r["advice"] == word],
                list(ADVICE.items()),
            ),
            Filter("place", "Lies in", lambda found, key: [r for r in found if r["place"] == key], places),
            Filter("q", "Part", with_text),
        ],
        empty="Nothing lies dead: whatever is in stock was used within a year, or will be.",
    )
