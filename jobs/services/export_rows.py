"""The rows of a firm's files about settings, parts and stock, in the order in which they were entered.

Each function yields {column: value}.
"""

from collections import defaultdict
from decimal import Decimal

from django.db.models import Sum

from firm.models import Setting
from inventory.models import (
    ApplianceModel,
    AverageCost,
    CarryLevel,
    ComponentType,
    ModelComponent,
    Part,
    Place,
    Price,
    Recipe,
    Stock,
    Supplier,
)
from jobs.services.importing.settings_file import KEYS

CHUNK = 2_000


def table_rows(model, *, order="pk", **columns):
    """{column: value} of each row of a model. columns: field paths by column name."""
    rows = model if hasattr(model, "values_list") else model.objects.all()
    for values in rows.order_by(order).values_list(*columns.values()).iterator(CHUNK):
        yield dict(zip(columns, values, strict=True))


def same(*names):
    return {name: name for name in names}


def linked(through, one, other):
    """{pk: [keys, sorted]} of a many-to-many table."""
    found = defaultdict(list)
    for pk, key in through.objects.order_by(other).values_list(one, other).iterator(CHUNK):
        found[pk].append(key)
    return found


def settings():
    setting = Setting.current()
    return ({"setting": name, "value": getattr(setting, name)} for name in KEYS)


def component_types():
    """The firm's own; those of the trade tables come with the program."""
    for row in ComponentType.objects.filter(from_trade_table=False).order_by("key"):
        hours = (row.hours_low, row.hours_usual, row.hours_high)
        yield {
            "component": row.key,
            "name": row.name,
            "hazards": row.hazards or ["none"],
            "approved_new_only": row.approved_new_only,
            "fitting_hours": row.hours_usual if None in hours else hours,
            "wears": row.wears,
            "prior_failures_per_100_years": row.prior_failures_per_100_years,
            "assumed_life_years": row.assumed_life_years,
            "life_source": row.life_source,
        }


def appliance_models():
    holds = defaultdict(list)
    rows = ModelComponent.objects.order_by("component__key").values_list("model_id", "component__key", "count")
    for model, component, count in rows:
        holds[model].append(_times(component, count))
    for row in ApplianceModel.objects.order_by("pk").iterator(CHUNK):
        yield {
            "model": row.key,
            "maker": row.maker,
            "name": row.name,
            "kind": row.kind,
            "components": holds[row.pk],
            "uk_number": row.uk_number,
        }


def _times(key, count):
    return key if count == 1 else f"{key}*{Decimal(count).normalize():f}"


def parts():
    covers = linked(Part.covers.through, "part", "componenttype__key")
    fits = linked(Part.fits.through, "part", "appliancemodel__key")
    names = ["description", "grade", "maker", "maker_part", "gtin", "unit", "litres", "kilograms", "guarantee_months"]
    for row in table_rows(
        Part, pk="pk", part="number", any="fits_any", superseded_by="superseded_by__number", **same(*names)
    ):
        yield row | {"covers": covers[row["pk"]], "fits": ["*"] * row["any"] + fits[row["pk"]]}


def recipes():
    for row in Recipe.objects.order_by("pk").select_related("component").prefetch_related("lines__part", "fits"):
        yield {
            "component": row.component.key,
            "parts": [_times(line.part.number, line.quantity) for line in row.lines.all()],
            "fits": ["*"] * row.fits_any + sorted(model.key for model in row.fits.all()),
        }


def suppliers():
    names = ["lead_time_days", "same_day", "carriage", "carriage_free_over", "email"]
    return table_rows(Supplier, supplier="key", **same(*names))


def prices():
    names = ["pack", "price_ex_vat", "valid_from", "minimum", "vat_rate", "surcharge"]
    paths = {"supplier": "offer__supplier__key", "supplier_part": "offer__supplier_part", "part": "offer__part__number"}
    return table_rows(Price, **paths, **same(*names))


def places():
    for row in Place.objects.held().order_by("pk").select_related("engineer"):
        yield {
            "place": row.key,
            "kind": row.kind,
            "engineer": row.engineer and str(row.engineer),
            "litres": row.litres,
            "kilograms": row.kilograms,
            "budget": row.budget,
            "post_areas": row.post_areas,
        }


def stock():
    """What every place holds, at the average cost, and what it should carry."""
    held = Place.objects.held().values_list("pk", "key")
    keys, parts = dict(held), dict(Part.objects.values_list("pk", "number"))
    costs = dict(AverageCost.objects.values_list("part_id", "unit_cost"))
    there = Stock.objects.order_by().filter(place__in=keys).values_list("place_id", "part_id")
    there = {(place, part): total for place, part, total in there.annotate(total=Sum("on_hand"))}
    levels = {(row.place_id, row.part_id): row.level for row in CarryLevel.objects.filter(place__in=keys)}
    rows = [(keys[place], parts[part], place, part) for place, part in there.keys() | levels.keys()]
    for place_key, number, place, part in sorted(rows):
        quantity, level = there.get((place, part), 0), levels.get((place, part))
        if quantity or level is not None:
            yield {
                "place": place_key,
                "part": number,
                "quantity": quantity,
                "unit_cost": costs.get(part),
                "carry_level": level,
            }


ROWS = {
    "settings": settings,
    "component_types": component_types,
    "appliance_models": appliance_models,
    "parts": parts,
    "recipes": recipes,
    "suppliers": suppliers,
    "prices": prices,
    "places": places,
    "stock": stock,
}
