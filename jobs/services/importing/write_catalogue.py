"""Write settings, component types, models, parts and recipes."""

from collections import Counter

from firm.models import Setting
from inventory.models import ApplianceModel, ComponentType, ModelComponent, Part, Recipe, RecipePart
from jobs.services.importing.keeping import chunks, keep, keep_links, numbers, present
from jobs.services.importing.known import rows_of
from jobs.services.importing.problems import Problems
from jobs.services.importing.settings_file import read_settings
from jobs.services.trade import usual_in


def write_settings(files):
    wanted = read_settings(rows_of(files, "settings"), Problems())
    setting = Setting.current()
    if setting._state.adding or any(getattr(setting, name) != value for name, value in wanted.items()):
        for name, value in wanted.items():
            setattr(setting, name, value)
        setting.save()


def write_component_types(files):
    """The firm's row replaces that of the trade table: what the file does not say of it is not known."""
    read = files.get("component_types")
    if read is None:
        return
    from_trade = set(ComponentType.objects.filter(from_trade_table=True).values_list("key", flat=True))
    keep(ComponentType, "key", ((row.component, _component(read, row, from_trade)) for row in read.rows))


def _component(read, row, from_trade):
    low, usual, high = row.fitting_hours
    fields = {
        "name": row.name,
        "hazards": list(row.hazards),
        "approved_new_only": row.approved_new_only,
        "hours_low": low,
        "hours_usual": usual,
        "hours_high": high,
        "from_trade_table": False,
    }
    optional = {
        "wears": "wears",
        "prior_failures_per_100_years": "prior_failures_per_100_years",
        "assumed_life_years": "assumed_life_years",
        "life_source": "life_source",
    }
    if row.component in from_trade:
        return fields | {name: getattr(row, name) for name in optional} | {"prior_source": ""}
    return fields | present(read, row, **optional)


def write_models(files):
    """The firm's models, and those that its appliances name without a row of their own."""
    read = files.get("appliance_models")
    named = {row.model: row for row in reversed(rows_of(files, "appliances"))}
    if read is not None:
        keep(ApplianceModel, "key", ((row.model, _model(read, row)) for row in read.rows))
    known = numbers(ApplianceModel, "key")
    made = {model: row.kind or "gas-combi" for model, row in reversed(named.items()) if model not in known}
    ApplianceModel.objects.bulk_create(
        ApplianceModel(key=model, name=model, kind=kind, from_trade_table=True) for model, kind in made.items()
    )
    holds = {row.model: dict(row.components) for row in (read.rows if read else [])}
    _write_holds(holds | {model: usual_in(kind) for model, kind in made.items()})


def _model(read, row):
    return {"maker": row.maker, "name": row.name, "kind": row.kind} | present(read, row, uk_number="uk_number")


def _write_holds(holds):
    """Make each model hold exactly these components. holds: {model: {component: count}}."""
    models, components = numbers(ApplianceModel, "key"), numbers(ComponentType, "key")
    there = {}
    for row in ModelComponent.objects.all():
        there.setdefault(row.model_id, {})[row.component_id] = row
    missing, changed, surplus = [], [], []
    for model, counts in holds.items():
        mine = there.get(models[model], {})
        wanted = {components[key]: count for key, count in counts.items()}
        surplus += [row.pk for component, row in mine.items() if component not in wanted]
        for component, count in wanted.items():
            if component not in mine:
                missing.append(ModelComponent(model_id=models[model], component_id=component, count=count))
            elif mine[component].count != count:
                mine[component].count = count
                changed.append(mine[component])
    for chunk in chunks(surplus):
        ModelComponent.objects.filter(pk__in=chunk).delete()
    ModelComponent.objects.bulk_create(missing, batch_size=500)
    ModelComponent.objects.bulk_update(changed, ["count"], batch_size=200)


def write_parts(files):
    read = files.get("parts")
    if read is None:
        return
    keep(Part, "number", ((row.part, _part(read, row)) for row in read.rows))
    parts = numbers(Part, "number")
    components, models = numbers(ComponentType, "key"), numbers(ApplianceModel, "key")
    covers = {parts[row.part]: {components[key] for key in row.covers} for row in read.rows}
    keep_links(Part.covers.through, "part_id", "componenttype_id", covers)
    fits = {parts[row.part]: {models[key] for key in row.fits if key != "*"} for row in read.rows}
    keep_links(Part.fits.through, "part_id", "appliancemodel_id", fits)
    if read.has("superseded_by"):
        there = set(Part.objects.exclude(superseded_by=None).values_list("number", flat=True))
        rows = (row for row in read.rows if row.superseded_by or row.part in there)
        keep(Part, "number", ((row.part, {"superseded_by_id": parts.get(row.superseded_by)}) for row in rows))


def _part(read, row):
    optional = ["grade", "maker", "maker_part", "gtin", "unit", "litres", "kilograms", "guarantee_months"]
    fields = {"description": row.description, "fits_any": "*" in row.fits}
    return fields | present(read, row, **{name: name for name in optional})


def write_recipes(files):
    """Recipes have no number: those that the book holds already, by all that they say, stay as they are."""
    rows = rows_of(files, "recipes")
    there = Counter(_stored_recipes()) if rows else Counter()
    components, parts, models = (
        numbers(ComponentType, "key"),
        numbers(Part, "number"),
        numbers(ApplianceModel, "key"),
    )
    for row in rows:
        what = (row.component, frozenset(row.parts), frozenset(row.fits))
        if there[what] > 0:
            there[what] -= 1
            continue
        recipe = Recipe.objects.create(component_id=components[row.component], fits_any="*" in row.fits)
        recipe.fits.set([models[key] for key in row.fits if key != "*"])
        RecipePart.objects.bulk_create(
            RecipePart(recipe=recipe, part_id=parts[part], quantity=quantity) for part, quantity in row.parts
        )


def _stored_recipes():
    for recipe in Recipe.objects.select_related("component").prefetch_related("lines__part", "fits"):
        parts = frozenset((line.part.number, line.quantity) for line in recipe.lines.all())
        fits = frozenset({"*"} if recipe.fits_any else set()) | {model.key for model in recipe.fits.all()}
        yield recipe.component.key, parts, fits
