"""A large invented firm written straight into a database: appliances whose components fail by known Weibull lives."""

import datetime

import numpy as np
from django.apps import apps
from django.db import connection

MODELS, KINDS, HELD = 40, 30, 8
AS_OF, CARE_YEARS, AGED_YEARS = datetime.date(2026, 1, 1), 10, 15
EPOCH, YEAR = datetime.date(1970, 1, 1).toordinal(), 365.25
SHAPES, SCALES = np.linspace(1.0, 3.0, KINDS), np.linspace(25, 12, KINDS)


def write(appliances, rng, on_service=0.5):
    """A share of them on a yearly service; taken over at up to 15 years, in care for up to 10. Returns rows written."""
    end = AS_OF.toordinal() - EPOCH
    care = rng.integers(end - int(CARE_YEARS * YEAR), end, appliances)
    installed = care - rng.integers(0, int(AGED_YEARS * YEAR), appliances)
    model, service = rng.integers(0, MODELS, appliances), rng.random(appliances) < on_service
    failures = _failures(installed, model, end, rng)
    seen = failures[2] > care[failures[0]]
    appliance, component, day = (column[seen] for column in failures)
    yearly = [np.arange(care[i] + 365, end, 365) for i in np.flatnonzero(service)]
    of_service = np.repeat(np.flatnonzero(service), [days.size for days in yearly])
    with connection.cursor() as cursor:
        for quick in ("synchronous=OFF", "journal_mode=OFF", "mmap_size=0", "cache_size=-500000"):
            cursor.execute(f"PRAGMA {quick}").fetchall()
        _catalogue()
        _rows("jobs.Appliance", {
            "pk": range(1, appliances + 1), "number": [f"A{n:07}" for n in range(appliances)],
            "model": (model + 1).tolist(), "installed_on": _days(installed), "installed_precision": "day",
            "in_care_from": _days(care), "entered_on": AS_OF.isoformat(), "on_service": service.tolist(),
        })  # fmt: skip
        _work(appliance, component, day, np.concatenate([np.zeros(0, int), *yearly]), of_service, rng)
    return {"appliances": appliances, "jobs": day.size + of_service.size, "fitted parts": int(day.size)}


def _failures(installed, model, end, rng):
    """(appliance, component, day) of every failure of every position until `end`, renewed each time."""
    appliance = np.repeat(np.arange(installed.size), HELD)
    component = _held(model).ravel()
    day, found = installed[appliance].astype(float), []
    while appliance.size:
        life = SCALES[component] * rng.weibull(SHAPES[component]) * YEAR
        day = day + np.maximum(life, 1)
        there = day < end
        appliance, component, day = appliance[there], component[there], day[there]
        found.append((appliance, component, day.astype(int)))
    return [np.concatenate(column) for column in zip(*found, strict=True)]


def _held(model):
    """Components of each model, (n, HELD)."""
    return (model[:, None] * 7 + np.arange(HELD) * 3) % KINDS


def _catalogue():
    _rows("inventory.ComponentType", {
        "pk": range(1, KINDS + 1), "key": [f"component-{n:02}" for n in range(KINDS)], "name": "Component",
    })  # fmt: skip
    names = [f"Model {n:02}" for n in range(MODELS)]
    _rows("inventory.ApplianceModel", {
        "pk": range(1, MODELS + 1), "key": names, "name": names, "kind": "gas-combi",
        "maker": [f"Maker {n % 7}" for n in range(MODELS)],
    })  # fmt: skip
    held = _held(np.arange(MODELS))
    _rows("inventory.ModelComponent", {
        "model": np.repeat(np.arange(MODELS) + 1, HELD).tolist(), "component": (held.ravel() + 1).tolist(), "count": 1,
    })  # fmt: skip
    _rows("inventory.Part", {
        "pk": range(1, KINDS + 1), "number": [f"P{n:02}" for n in range(KINDS)], "description": "Part",
        "unit": "piece", "fits_any": True,
    })  # fmt: skip
    with connection.cursor() as cursor:
        pairs = [(n, n) for n in range(1, KINDS + 1)]
        cursor.executemany("INSERT INTO inventory_part_covers (part_id, componenttype_id) VALUES (%s, %s)", pairs)
    _rows("inventory.Place", {
        "pk": [101, 102], "key": ["van", "fitted"], "kind": ["van", "fitted"], "name": ["van", "fitted"],
    })  # fmt: skip


def _work(appliance, component, day, yearly, of_service, rng):
    """A breakdown with a visit and a fitted part for each failure, a visit for each yearly service."""
    jobs, broken = day.size + yearly.size, day.size
    number, reported = range(1, jobs + 1), np.r_[day, yearly]
    visited = reported + np.r_[rng.integers(0, 3, broken), np.zeros(yearly.size, int)]
    _rows("jobs.Job", {
        "pk": number, "number": [f"J{n}" for n in number], "appliance": (np.r_[appliance, of_service] + 1).tolist(),
        "kind": ["breakdown"] * broken + ["service"] * yearly.size, "reported_on": _days(reported),
    })  # fmt: skip
    _rows("jobs.Visit", {
        "pk": number, "number": [f"V{n}" for n in number], "job": number, "on": _days(visited), "outcome": "fixed",
        "place": 101,
    })  # fmt: skip
    fitted, kind = range(1, broken + 1), (component + 1).tolist()
    _rows("inventory.Movement", {
        "pk": fitted, "event": [f"{n:032x}" for n in fitted], "part": kind, "quantity": 1, "source": 101,
        "destination": 102, "reason": "fitted", "happened_at": "2026-01-01", "at": "2026-01-01", "line": 0,
    })  # fmt: skip
    _rows("jobs.Fitted", {
        "pk": fitted, "visit": fitted, "appliance": (appliance + 1).tolist(), "part": kind, "component": kind,
        "quantity": 1, "why": "failed", "movement": fitted,
    })  # fmt: skip


def _rows(model, given):
    """Insert columns as they are; a column that is not given gets its default, or is left empty."""
    model = apps.get_model(model)
    fields = {field.name: field for field in model._meta.concrete_fields}
    given = {fields["id"].name if name == "pk" else name: values for name, values in given.items()}
    size = max(len(values) for values in given.values() if isinstance(values, list | range))
    rest = {
        name: field.get_db_prep_save(field.get_default(), connection)
        for name, field in fields.items()
        if name not in given and name != "id"
    }
    columns = [values if isinstance(values, list | range) else [values] * size for values in (given | rest).values()]
    names = ", ".join(f'"{fields[name].column}"' for name in given | rest)
    marks = ", ".join(["%s"] * len(columns))
    with connection.cursor() as cursor:
        cursor.executemany(
            f'INSERT INTO "{model._meta.db_table}" ({names}) VALUES ({marks})', list(zip(*columns, strict=True))
        )


def _days(numbers):
    """ISO texts of days since 1970-01-01."""
    return np.asarray(numbers).astype("datetime64[D]").astype(str).tolist()
