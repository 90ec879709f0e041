"""A strict reader of a firm's tables, apart from the importer: what contracts.md section 1 demands, to the letter."""

import calendar
import re
from datetime import date

KINDS = {
    "gas-combi", "gas-system", "gas-regular", "oil", "heat-pump", "unvented-cylinder", "wet-system", "controls",
    "other",
}  # fmt: skip
OUTCOMES = {
    "fixed", "part-needed", "no-part-needed", "temporary-repair", "made-safe", "quote-to-agree", "declined",
    "for-others", "no-access",
}  # fmt: skip
WORDS = {
    ("appliance_models", "kind"): KINDS,
    ("appliances", "kind"): KINDS | {""},
    ("appliances", "service"): {"yes", "no", "true", "false", "1", "0", ""},
    ("suppliers", "same_day"): {"yes", "no", "true", "false", "1", "0"},
    ("parts", "grade"): {"", "maker-new", "approved-equivalent", "unapproved-copy", "reconditioned"},
    ("parts", "unit"): {"", "piece", "metre", "litre", "gram"},
    ("places", "kind"): {"store", "van"},
    ("jobs", "kind"): {"breakdown", "service", "planned", "installation", "other"},
    ("visits", "outcome"): OUTCOMES | {""},
    ("fitted", "why"): {"failed", "planned", "recall", "upgrade", "had-to-come-off"},
    ("charges", "kind"): {"call-out", "labour", "part", "travel", "other"},
}
COLUMNS = {  # table: (columns that must be filled, columns that may be empty)
    "settings": ("setting value", ""),
    "appliance_models": ("model maker name kind components", "uk_number"),
    "parts": (
        "part description covers fits",
        "grade maker maker_part gtin unit superseded_by litres kilograms guarantee_months",
    ),
    "recipes": ("component parts", "fits"),
    "suppliers": ("supplier lead_time_days same_day", "carriage carriage_free_over email"),
    "prices": ("supplier supplier_part part pack price_ex_vat valid_from", "minimum vat_rate surcharge"),
    "places": ("place kind", "engineer litres kilograms budget post_areas"),
    "stock": ("place part quantity unit_cost", "carry_level"),
    "customers": ("customer name", "phone email billing_address"),
    "appliances": (
        "appliance customer address post_area model",
        "kind in_care_from installed_on serial in_care_until end_reason service phone access_note",
    ),
    "earlier": ("appliance component", "position renewed_on"),
    "jobs": ("job appliance kind reported_on", "symptoms fault_code return_of"),
    "visits": ("visit job engineer place on", "outcome time minutes"),
    "findings": ("visit", "appliance component position no_part_cause failure_mode"),
    "fitted": ("visit part component quantity why", "appliance position unit_cost charge_ex_vat from"),
    "needed": ("visit component quantity", "appliance part"),
    "charges": ("job kind amount_ex_vat", "quantity vat_rate description"),
}
KEYS = {
    "settings": ["setting"], "appliance_models": ["model"], "parts": ["part"], "suppliers": ["supplier"],
    "prices": ["supplier", "supplier_part", "valid_from"], "places": ["place"], "stock": ["place", "part"],
    "customers": ["customer"], "appliances": ["appliance"], "jobs": ["job"], "visits": ["visit"],
    "earlier": ["appliance", "component", "position"],
}  # fmt: skip
REFERENCES = [
    ("parts", "superseded_by", "parts"), ("prices", "supplier", "suppliers"), ("prices", "part", "parts"),
    ("stock", "place", "places"), ("stock", "part", "parts"), ("appliances", "customer", "customers"),
    ("appliances", "model", "appliance_models"), ("earlier", "appliance", "appliances"),
    ("jobs", "appliance", "appliances"), ("jobs", "return_of", "jobs"), ("visits", "job", "jobs"),
    ("visits", "place", "places"), ("findings", "visit", "visits"), ("findings", "appliance", "appliances"),
    ("fitted", "visit", "visits"), ("fitted", "part", "parts"), ("fitted", "appliance", "appliances"),
    ("needed", "visit", "visits"), ("needed", "part", "parts"), ("charges", "job", "jobs"),
]  # fmt: skip
POSITIVE = [
    ("parts", "litres"), ("parts", "kilograms"), ("prices", "price_ex_vat"), ("prices", "pack"), ("prices", "minimum"),
    ("stock", "unit_cost"), ("fitted", "quantity"), ("fitted", "unit_cost"), ("needed", "quantity"),
    ("charges", "quantity"), ("visits", "minutes"), ("parts", "guarantee_months"),
]  # fmt: skip


def days_of(text):
    """First and last day that an ISO date of any of the three precisions may mean; None for an empty one."""
    if not text:
        return None
    year, month, day = ([int(piece) for piece in text.split("-")] + [0, 0])[:3]
    last_month = month or 12
    last_day = day or calendar.monthrange(year, last_month)[1]
    return date(year, month or 1, day or 1), date(year, last_month, last_day)


def part_counts(text):
    """{"A": 1, "B": 2} of `A;B*2`."""
    pieces = (piece.partition("*") for piece in text.split(";"))
    return {key: int(count or 1) for key, _, count in pieces}


def faults(tables, components, no_part_causes):
    """Every breach of the contract as (table, row number, what is wrong)."""
    found = []
    for check in (_columns, _words, _keys, _references, _numbers):
        found += check(tables)
    if found:  # the rest goes by references and columns that hold
        return found
    return [*found, *_work(tables, components, no_part_causes), *_dates(tables)]


def _columns(tables):
    for name, rows in tables.items():
        must, may = (set(names.split()) for names in COLUMNS[name])
        for number, row in enumerate(rows, 2):
            if set(row) - must - may or must - set(row):
                yield name, number, f"columns {sorted(set(row) ^ (must | may))}"
            yield from ((name, number, f"{key} is empty") for key in must if str(row.get(key, "")) == "")


def _words(tables):
    for (name, column), allowed in WORDS.items():
        for number, row in enumerate(tables[name], 2):
            if row[column] not in allowed:
                yield name, number, f"{column} {row[column]!r}"


def _keys(tables):
    for name, columns in KEYS.items():
        seen = set()
        for number, row in enumerate(tables[name], 2):
            key = tuple(row[column] for column in columns)
            if key in seen:
                yield name, number, f"{key} twice"
            seen.add(key)


def _references(tables):
    known = {name: {row[columns[0]] for row in tables[name]} for name, columns in KEYS.items()}
    for name, column, target in REFERENCES:
        for number, row in enumerate(tables[name], 2):
            if row[column] and row[column] not in known[target]:
                yield name, number, f"{column} {row[column]!r} is not in {target}"
    origins = known["places"] | known["suppliers"] | {""}
    yield from (
        ("fitted", n, f"from {r['from']!r}") for n, r in enumerate(tables["fitted"], 2) if r["from"] not in origins
    )


def _numbers(tables):
    for name, column in POSITIVE:
        for number, row in enumerate(tables[name], 2):
            if row[column] not in ("", None) and not float(row[column]) > 0:
                yield name, number, f"{column} {row[column]!r}"
    for number, row in enumerate(tables["stock"], 2):
        if int(row["quantity"]) < 0 or int(row["carry_level"] or 0) < 0:
            yield "stock", number, "less than nothing"


def _work(tables, components, no_part_causes):
    """What was found, needed and fitted belongs to the appliance, and the part may be used for it."""
    models = {row["model"]: part_counts(row["components"]) for row in tables["appliance_models"]}
    model_of = {row["appliance"]: row["model"] for row in tables["appliances"]}
    appliance_of = {row["job"]: row["appliance"] for row in tables["jobs"]}
    visits = {row["visit"]: row for row in tables["visits"]}
    parts = {row["part"]: row for row in tables["parts"]}
    recipes = [(r["component"], part_counts(r["parts"]), r["fits"].split(";")) for r in tables["recipes"]]
    for name in ("findings", "fitted", "needed"):
        for number, row in enumerate(tables[name], 2):
            visit = visits[row["visit"]]
            appliance = appliance_of[visit["job"]]
            model, component = model_of[appliance], row["component"]
            if not visit["outcome"] or row["appliance"] not in ("", appliance):
                yield name, number, "on a visit that is only booked, or on another appliance"
            if component and component not in models[model]:
                yield name, number, f"{model} holds no {component}"
            if int(row.get("position") or 1) > models[model].get(component, 1):
                yield name, number, f"position {row['position']}"
            if name == "findings" and not component and row["no_part_cause"] not in no_part_causes:
                yield name, number, f"cause {row['no_part_cause']!r}"
            part = parts.get(row.get("part"))
            if part:
                together = any(
                    component == of and part["part"] in needs and model in fits for of, needs, fits in recipes
                )
                yield from ((name, number, wrong) for wrong in _misfits(part, component, model, together, components))


def _misfits(part, component, model, together, components):
    """Why this part may not be used for the component of the model; `together`: as one of a recipe's parts."""
    covers = part["covers"].split(";")
    if component not in covers and not together:
        yield f"{part['description']} does not cover {component}"
    if part["fits"] != "*" and model not in part["fits"].split(";"):
        yield f"{part['description']} does not fit {model}"
    new = part["grade"] in ("maker-new", "approved-equivalent")
    if not new and any(components[key]["approved_new_only"] for key in covers):
        yield f"{part['description']} where only approved new parts may be fitted"


def _dates(tables):
    """Installed, renewed, in care and left in that order; work in care, visits after the call."""
    cared = {row["appliance"]: row for row in tables["appliances"]}
    for number, row in enumerate(tables["appliances"], 2):
        installed, care, left = (days_of(row[key]) for key in ("installed_on", "in_care_from", "in_care_until"))
        if (installed and installed[0] > care[1]) or (left and left[0] < care[0]):
            yield "appliances", number, "installed after, or left before, the start of care"
    for number, row in enumerate(tables["earlier"], 2):
        renewed, own = days_of(row["renewed_on"]), cared[row["appliance"]]
        installed, care = days_of(own["installed_on"]), days_of(own["in_care_from"])
        if renewed and (renewed[0] > care[1] or (installed and renewed[1] < installed[0])):
            yield "earlier", number, "renewed outside installation and care"
    jobs = {row["job"]: row for row in tables["jobs"]}
    for number, row in enumerate(tables["jobs"], 2):
        first = jobs.get(row["return_of"])
        if first and (first["appliance"] != row["appliance"] or first["reported_on"] > row["reported_on"]):
            yield "jobs", number, "returns to another appliance's job, or to a later one"
        if row["reported_on"] < cared[row["appliance"]]["in_care_from"] and row["kind"] != "installation":
            yield "jobs", number, "before care"
    for number, row in enumerate(tables["visits"], 2):
        if row["on"] < jobs[row["job"]]["reported_on"]:
            yield "visits", number, "before the call"
        if not re.fullmatch(r"\d\d:\d\d", row["time"]) or bool(row["outcome"]) != bool(row["minutes"]):
            yield "visits", number, "time or minutes"
