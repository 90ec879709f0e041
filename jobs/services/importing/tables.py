"""The files of a firm: which columns each has, what their cells may hold and which rows they refer to."""

from inventory.models import HAZARDS, ApplianceKind, ComponentType, Part
from jobs.models import Charge, Job, NoPartCause, Visit, Why
from jobs.services.importing import closed_words, values
from jobs.services.importing.columns import Table, may, must, words
from jobs.services.importing.values import clock, counted, day, email, imprecise_day, key, listed, number, text, whole

MONEY = number(10, 2, least=0)
COST = number(8, 4, least=0)
QUANTITY = number(9, 3, above=0)
PER_CENT = number(3, 2, least=0, most=100)
POSITION = whole(1, 999)
NAMES = listed(key(80))
COMPONENT = {"read": key(60), "refers": "component_types"}
PART = {"read": key(60), "refers": "parts"}
APPLIANCE = {"read": key(60), "refers": "appliances"}
VISIT = {"read": key(60), "refers": "visits"}

CATALOGUE = [
    Table("settings", (must("setting", text(80)), must("value", text(200), empty=True, blank="")), ("setting",)),
    Table(
        "component_types",
        (
            must("component", key(60)),
            must("name", text(120)),
            must("hazards", closed_words.words("none", *HAZARDS)),
            must("approved_new_only", closed_words.yes_no),
            must("fitting_hours", values.hours, empty=True, blank=(None, None, None)),
            may("wears", closed_words.word(*ComponentType.Wears.values), blank=""),
            may("prior_failures_per_100_years", number(4, 4, least=0)),
            may("assumed_life_years", number(4, 2, above=0)),
            words("life_source", 300),
        ),
        ("component",),
    ),
    Table(
        "appliance_models",
        (
            must("model", key(80)),
            words("maker", 120, may_lack=False),
            must("name", text(160)),
            must("kind", closed_words.word(*ApplianceKind.values)),
            must("components", counted(whole(1, 999)), empty=True, blank=(), refers="component_types"),
            words("uk_number", 10),
        ),
        ("model",),
    ),
    Table(
        "parts",
        (
            must("part", key(60)),
            must("description", text(240)),
            must("covers", listed(key(60)), empty=True, blank=(), refers="component_types"),
            must("fits", NAMES, empty=True, blank=(), refers="appliance_models"),
            may("grade", closed_words.word(*Part.Grade.values), blank="maker-new"),
            words("maker", 120),
            words("maker_part", 80),
            may("gtin", values.gtin, blank=""),
            may("unit", closed_words.word(*Part.Unit.values), blank="piece"),
            may("superseded_by", **PART),
            may("litres", number(5, 3, least=0)),
            may("kilograms", number(5, 3, least=0)),
            may("guarantee_months", whole(0, 1200)),
        ),
        ("part",),
    ),
    Table(
        "recipes",
        (
            must("component", **COMPONENT),
            must("parts", counted(number(6, 3, above=0)), refers="parts"),
            may("fits", NAMES, blank=("*",), refers="appliance_models"),
        ),
    ),
]

SUPPLY = [
    Table(
        "suppliers",
        (
            must("supplier", key(80)),
            must("lead_time_days", whole(0, 3650)),
            must("same_day", closed_words.yes_no),
            may("carriage", number(7, 2, least=0)),
            may("carriage_free_over", number(8, 2, least=0)),
            may("email", email, blank=""),
        ),
        ("supplier",),
    ),
    Table(
        "prices",
        (
            must("supplier", key(80), refers="suppliers"),
            must("supplier_part", key(80)),
            must("part", **PART),
            must("pack", number(6, 3, above=0)),
            must("price_ex_vat", COST),
            must("valid_from", day),
            may("minimum", whole(1, 1_000_000), blank=1),
            may("vat_rate", PER_CENT),
            may("surcharge", number(7, 2, least=0)),
        ),
        ("supplier", "supplier_part", "valid_from"),
    ),
    Table(
        "places",
        (
            must("place", key(80)),
            must("kind", closed_words.word("store", "van")),
            may("engineer", key(120)),
            may("litres", number(6, 3, least=0)),
            may("kilograms", number(6, 3, least=0)),
            may("budget", MONEY),
            may("post_areas", listed(key(20)), blank=()),
        ),
        ("place",),
    ),
    Table(
        "stock",
        (
            must("place", key(80), refers="places"),
            must("part", **PART),
            must("quantity", number(9, 3, least=0)),
            must("unit_cost", COST, empty=True),
            may("carry_level", whole(0, 1_000_000)),
        ),
        ("place", "part"),
    ),
]

CARE = [
    Table(
        "customers",
        (
            must("customer", key(60)),
            words("name", 200, may_lack=False),
            words("phone", 60),
            words("email", 254),
            words("billing_address", 300),
        ),
        ("customer",),
    ),
    Table(
        "appliances",
        (
            must("appliance", key(60)),
            must("customer", key(60), empty=True, refers="customers"),
            words("address", 300, may_lack=False),
            words("post_area", 20, may_lack=False),
            must("model", key(80), refers="appliance_models"),
            may("kind", closed_words.word(*ApplianceKind.values)),
            may("in_care_from", day),
            may("installed_on", imprecise_day, blank=(None, "unknown")),
            words("serial", 80),
            may("in_care_until", day),
            words("end_reason", 200),
            may("service", closed_words.yes_no),
            words("phone", 60),
            words("access_note", 300),
        ),
        ("appliance",),
    ),
    Table(
        "earlier",
        (
            must("appliance", **APPLIANCE),
            must("component", **COMPONENT),
            may("position", POSITION, blank=1),
            must("renewed_on", imprecise_day, empty=True, blank=(None, "unknown")),
        ),
        ("appliance", "component", "position"),
    ),
]

WORK = [
    Table(
        "jobs",
        (
            must("job", key(60)),
            must("appliance", **APPLIANCE),
            must("kind", closed_words.word(*Job.Kind.values)),
            must("reported_on", day),
            may("symptoms", values.pieces(text(400)), blank=()),
            words("fault_code", 40),
            may("return_of", key(60), refers="jobs"),
        ),
        ("job",),
    ),
    Table(
        "visits",
        (
            must("visit", key(60)),
            must("job", key(60), refers="jobs"),
            must("engineer", listed(key(120)), empty=True, blank=()),
            must("place", key(80), empty=True, refers="places"),
            must("on", day),
            must("outcome", closed_words.word(*Visit.Outcome.values), empty=True, blank=""),
            may("time", clock),
            may("minutes", values.pieces(whole(0, 10_000)), blank=()),
        ),
        ("visit",),
    ),
    Table(
        "findings",
        (
            must("visit", **VISIT),
            may("appliance", **APPLIANCE),
            may("component", **COMPONENT),
            may("position", POSITION),
            may("no_part_cause", closed_words.word(*NoPartCause.values), blank=""),
            words("failure_mode", 120),
        ),
    ),
    Table(
        "fitted",
        (
            must("visit", **VISIT),
            must("part", **PART),
            must("component", **COMPONENT),
            must("quantity", QUANTITY),
            must("why", closed_words.word(*Why.values)),
            may("appliance", **APPLIANCE),
            may("position", POSITION),
            may("unit_cost", COST),
            may("charge_ex_vat", MONEY),
            may("from", key(80), refers="sources"),
        ),
    ),
    Table(
        "needed",
        (
            must("visit", **VISIT),
            must("component", **COMPONENT),
            must("quantity", QUANTITY),
            may("appliance", **APPLIANCE),
            may("part", **PART),
        ),
    ),
    Table(
        "charges",
        (
            must("job", key(60), refers="jobs"),
            must("kind", closed_words.word(*Charge.Kind.values)),
            must("amount_ex_vat", number(10, 2)),
            may("quantity", QUANTITY),
            may("vat_rate", PER_CENT),
            words("description", 240),
        ),
    ),
]

TABLES = {table.name: table for table in [*CATALOGUE, *SUPPLY, *CARE, *WORK]}
