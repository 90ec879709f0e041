"""What must hold between settings, models and parts."""

from inventory.models import ApplianceKind, ApplianceModel, Part
from jobs.services.importing.known import merged, rows_of
from jobs.services.importing.settings_file import read_settings


def settings(files, known, problems):
    read_settings(rows_of(files, "settings"), problems)


def a_model_made_as_needed_has_one_kind(files, known, problems):
    kinds = {}
    for row in rows_of(files, "appliances"):
        if row.model in known.stored("appliance_models") or not known.made_as_needed("appliance_models", row.model):
            continue
        kind, first = kinds.setdefault(row.model, (row.kind or ApplianceKind.GAS_COMBI.value, row.row))
        if (row.kind or kind) != kind:
            reason = f"Model {row.model} is of kind {kind} in row {first}."
            problems.error("appliances", row.row, "kind", row.kind, reason)


def a_known_model_keeps_its_kind(files, known, problems):
    stored = ApplianceModel.objects.values_list("key", "kind")
    kinds = merged(files, "appliance_models", stored, "model", ["kind"])
    for row in rows_of(files, "appliances"):
        kind = kinds.get(row.model, (row.kind,))[0]
        if row.kind and row.kind != kind:
            problems.warn("appliances", row.row, "kind", row.kind, f"Model {row.model} is of kind {kind}; that counts.")


def successors_do_not_run_in_a_circle(files, known, problems):
    stored = Part.objects.values_list("number", "superseded_by__number")
    after = {part: row[0] for part, row in merged(files, "parts", stored, "part", ["superseded_by"]).items()}
    in_circle = circles(after)
    for row in rows_of(files, "parts"):
        if row.part in in_circle:
            reason = "The successors run in a circle back to this part."
            problems.error("parts", row.row, "superseded_by", row.superseded_by, reason)


def circles(after):
    """The keys of {key: next key or None} that lie on a circle.

    >>> sorted(circles({"a": "b", "b": "a", "c": "a", "d": None}))
    ['a', 'b']
    """
    done, found = set(), set()
    for start in after:
        path, place = [], {}
        key = start
        while key is not None and key not in done and key not in place:
            place[key] = len(path)
            path.append(key)
            key = after.get(key)
        if key in place:
            found.update(path[place[key] :])
        done.update(path)
    return found


RULES = [
    settings,
    a_model_made_as_needed_has_one_kind,
    a_known_model_keeps_its_kind,
    successors_do_not_run_in_a_circle,
]
