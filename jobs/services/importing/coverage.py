"""Which components a part covers and a model holds, by the files and the database."""

from inventory.models import ModelComponent, Part, RecipePart
from jobs.models import Appliance
from jobs.services.importing.known import merged, rows_of
from jobs.services.trade import usual_in


def covered_components(files):
    """{part: set of component keys} that it covers alone or within a recipe."""
    found = {}
    rows = Part.covers.through.objects.values_list("part__number", "componenttype__key")
    for part, component in rows.iterator(10_000):
        found.setdefault(part, set()).add(component)
    found |= {row.part: set(row.covers) for row in rows_of(files, "parts")}
    stored = RecipePart.objects.values_list("part__number", "recipe__component__key")
    read = [(part, row.component) for row in rows_of(files, "recipes") for part, _ in row.parts]
    for part, component in [*stored, *read]:
        found.setdefault(part, set()).add(component)
    return found


def held_components(files, known):
    """{appliance: (model, set of component keys)}."""
    holds = {}
    for model, component in ModelComponent.objects.values_list("model__key", "component__key"):
        holds.setdefault(model, set()).add(component)
    holds |= {row.model: {key for key, _ in row.components} for row in rows_of(files, "appliance_models")}
    for model, row in known.models_named.items():
        if model not in holds and known.made_as_needed("appliance_models", model):
            holds[model] = set(usual_in(row.kind or "gas-combi"))
    stored = Appliance.objects.values_list("number", "model__key")
    models = merged(files, "appliances", stored, "appliance", ["model"])
    return {appliance: (model, holds.get(model)) for appliance, (model,) in models.items()}
