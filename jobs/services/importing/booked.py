"""Rows without a number of their own: which of a file's are in the book already.

They are known by their visit or job and all other columns; among equal rows the first in the file is the first in
the book.
"""

from collections import Counter

from jobs.models import Charge, Finding, Fitted, Needed
from jobs.services.importing.known import CUSTOMERS_OWN, rows_of

BOOKED = "This part is booked for the visit with other content ({}); what was fitted is never changed by a file."


def new_fitted(files, known, problems):
    """The fitted rows that are not booked yet.

    An empty unit_cost or charge_ex_vat says nothing and agrees with whatever is booked. A row about the same part on
    the same visit as a booked row that the file does not repeat is that row with other content: an error.
    """
    rows = rows_of(files, "fitted")
    booked = _booked_fitted({row.visit for row in rows})
    left = [row for row in rows if not _take(row, known, booked, exactly=True)]
    left = [row for row in left if not _take(row, known, booked, exactly=False)]
    for row in left:
        other = next((one for one in booked.get(row.visit, []) if one[0][0] == row.part), None)
        if other is not None:
            booked[row.visit].remove(other)
            column, mine, theirs = _difference(row, known, other)
            problems.error("fitted", row.row, column, _shown(mine), BOOKED.format(f"{column} {_shown(theirs)}"))
    return left


def _booked_fitted(visits):
    """{visit: [(what it says, unit cost, charge)]} of what is booked, undone or taken out again too."""
    found = {}
    fields = ["visit__number", "part__number", "component__key", "quantity", "why", "appliance__number", "position"]
    source = ["came_from__key", "came_from__supplier__key", "visit__place__key"]
    rows = Fitted.objects.order_by("pk").values_list(*fields, *source, "unit_cost", "charge_ex_vat")
    for visit, *says, came_from, supplier, place, unit_cost, charge in rows.iterator(10_000):
        if visit in visits:
            came_from = None if came_from == place else supplier or came_from
            found.setdefault(visit, []).append(((*says, came_from), unit_cost, charge))
    return found


def _says(row, known):
    place = known.visits.get(row.visit, (None, None, None))[2]
    source = CUSTOMERS_OWN if row.source == "customers-own" else row.source
    source = None if source == place else source
    return (row.part, row.component, row.quantity, row.why, known.appliance_of(row), row.position, source)


def _take(row, known, booked, *, exactly):
    """Strike the booked row that this row repeats; False where there is none."""
    if row.visit not in booked:
        return False
    says = _says(row, known)
    for place, (other, unit_cost, charge) in enumerate(booked[row.visit]):
        costs = [(row.unit_cost, unit_cost), (row.charge_ex_vat, charge)]
        if other == says and all(mine == theirs or (mine is None and not exactly) for mine, theirs in costs):
            del booked[row.visit][place]
            return True
    return False


COLUMNS = ["part", "component", "quantity", "why", "appliance", "position", "from"]


def _difference(row, known, other):
    """(column, what the file says, what is booked) where a row first differs from the booked one."""
    for name, mine, theirs in zip(COLUMNS, _says(row, known), other[0], strict=True):
        if mine != theirs:
            return name, mine, theirs
    if row.unit_cost is not None and row.unit_cost != other[1]:
        return "unit_cost", row.unit_cost, other[1]
    return "charge_ex_vat", row.charge_ex_vat, other[2]


def _shown(value):
    if value is None or value == "":
        return "empty"
    return f"{value.normalize():f}" if hasattr(value, "normalize") else str(value)


def new_findings(files, known):
    stored = Finding.objects.values_list(
        "visit__number", "appliance__number", "component__key", "position", "no_part_cause", "failure_mode"
    )
    return _not_yet(
        rows_of(files, "findings"),
        stored,
        lambda row: (
            row.visit,
            known.appliance_of(row),
            row.component,
            row.position,
            row.no_part_cause,
            row.failure_mode,
        ),
    )


def new_needed(files, known):
    stored = Needed.objects.values_list(
        "visit__number", "component__key", "quantity", "appliance__number", "part__number"
    )
    return _not_yet(
        rows_of(files, "needed"),
        stored,
        lambda row: (row.visit, row.component, row.quantity, known.appliance_of(row), row.part),
    )


def new_charges(files):
    stored = Charge.objects.values_list("job__number", "kind", "amount_ex_vat", "quantity", "vat_rate", "description")
    return _not_yet(
        rows_of(files, "charges"),
        stored,
        lambda row: (row.job, row.kind, row.amount_ex_vat, row.quantity, row.vat_rate, row.description),
    )


def _not_yet(rows, stored, says):
    """The rows that the database does not hold as often as the file does."""
    if not rows:
        return []
    there = Counter(tuple(row) for row in stored.order_by().iterator(10_000))
    new = []
    for row in rows:
        what = says(row)
        if there[what] > 0:
            there[what] -= 1
        else:
            new.append(row)
    return new
