"""The trade tables: usual component types, symptoms and cautions, which serve until a firm has rows of its own."""

import functools
import json
from decimal import Decimal

from django.conf import settings
from django.db import transaction

from inventory.models import HAZARDS, Caution, ComponentType
from jobs.models import Cause, Symptom

TRADE = settings.BASE_DIR / "fixtures" / "trade"
COMPONENT_FIELDS = [
    "name",
    "plain",
    "kinds",
    "hazards",
    "approved_new_only",
    "approved_reason",
    "hours_low",
    "hours_usual",
    "hours_high",
    "drain_down",
    "after_fitting",
    "failure_modes",
    "wears",
    "wears_why",
    "prior_failures_per_100_years",
    "prior_source",
    "assumed_life_years",
    "life_source",
    "usual_count",
    "covered_by_kits",
    "shelf_litres",
    "shelf_kilograms",
]
CAUTION_FIELDS = ["title", "cautions", "licence", "licence_uk", "emergency", "order"]
SYMPTOM_FIELDS = ["customer_words", "ask", "safe_checks", "stop"]


@functools.cache
def trade_rows(name):
    """The rows of one trade table: components, cautions or symptoms."""
    return json.loads((TRADE / f"{name}.json").read_text(encoding="utf-8"))


def usual_in(kind):
    """{component key: count} of what an appliance of this kind usually holds."""
    counts = {row["key"]: row["usual_count"].get(kind, 0) for row in trade_rows("components")}
    return {key: count for key, count in counts.items() if count}


@transaction.atomic
def load_trade_tables():
    """Write the trade tables; a second time changes nothing. A firm's own component types are left alone."""
    own = set(ComponentType.objects.filter(from_trade_table=False).values_list("key", flat=True))
    components = [_component(row) for row in trade_rows("components") if row["key"] not in own]
    _keep(ComponentType, "key", components, [*COMPONENT_FIELDS, "from_trade_table"])
    cautions = [_caution(place, row) for place, row in enumerate(trade_rows("cautions"), start=1)]
    _keep(Caution, "hazard", cautions, CAUTION_FIELDS)
    symptoms = [_symptom(row) for row in trade_rows("symptoms")]
    _keep(Symptom, "key", symptoms, SYMPTOM_FIELDS)
    _keep_causes()


def _keep(model, key, wanted, fields):
    """Insert the rows that are missing and update those that differ."""
    there = {getattr(row, key): row for row in model.objects.all()}
    missing = [row for row in wanted if getattr(row, key) not in there]
    changed = []
    for row in wanted:
        old = there.get(getattr(row, key))
        if old is not None and any(getattr(old, name) != getattr(row, name) for name in fields):
            row.pk = old.pk
            changed.append(row)
    model.objects.bulk_create(missing)
    model.objects.bulk_update(changed, fields, batch_size=50)


def _component(row):
    low, usual, high = row["fitting_hours"]
    return ComponentType(
        key=row["key"],
        name=row["name"],
        plain=row["plain"],
        kinds=row["kinds"],
        hazards=row["hazards"],
        approved_new_only=row["approved_new_only"],
        approved_reason=row["approved_reason"] or "",
        hours_low=_decimal(low),
        hours_usual=_decimal(usual),
        hours_high=_decimal(high),
        drain_down=row["drain_down"],
        after_fitting=row["after_fitting"],
        failure_modes=row["failure_modes"],
        wears=row["wears"],
        wears_why=row["wears_why"],
        prior_failures_per_100_years=_decimal(row["prior_failures_per_100_years"]),
        prior_source=row["prior_basis"],
        assumed_life_years=_decimal(row["assumed_life_years"]),
        life_source=row["life_source"] or "",
        usual_count=row["usual_count"],
        covered_by_kits=row["covered_by_kits"],
        shelf_litres=_decimal(row["shelf"]["litres"]),
        shelf_kilograms=_decimal(row["shelf"]["kilograms"]),
        from_trade_table=True,
    )


def _decimal(number):
    return None if number is None else Decimal(str(number))


def _caution(place, row):
    assert row["key"] in HAZARDS, row["key"]
    return Caution(
        hazard=row["key"],
        title=row["title"],
        cautions=row["cautions"],
        licence=row["licence"],
        licence_uk=row["licence_uk"],
        emergency=row["emergency"] or "",
        order=place,
    )


def _symptom(row):
    return Symptom(
        key=row["key"],
        customer_words=row["customer_words"],
        ask=row["ask"],
        safe_checks=row["safe_checks"],
        stop=row["stop"] or "",
    )


def _keep_causes():
    """The causes as the table has them; written anew only when they differ."""
    components = dict(ComponentType.objects.values_list("key", "pk"))
    symptoms = dict(Symptom.objects.values_list("key", "pk"))
    wanted = [
        (symptoms[row["key"]], components.get(cause["component"]), *_said(cause))
        for row in trade_rows("symptoms")
        for cause in row["causes"]
    ]
    fields = ["symptom_id", "component_id", "no_part", "share", "kinds", "quick_test", "basis"]
    if list(Cause.objects.order_by("pk").values_list(*fields)) != wanted:
        Cause.objects.all().delete()
        Cause.objects.bulk_create(Cause(**dict(zip(fields, row, strict=True))) for row in wanted)


def _said(cause):
    return (cause["no_part"] or "", _decimal(cause["share"]), cause["kinds"], cause["quick_test"], cause["basis"])
