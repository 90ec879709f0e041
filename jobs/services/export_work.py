"""The rows of a firm's files about customers and work, in the order in which they were entered."""

from jobs.models import Appliance, Charge, Customer, Earlier, Finding, Fitted, Job, Needed, Precision, Visit
from jobs.services.export_rows import CHUNK, linked, same, table_rows
from jobs.services.importing.known import care_starts
from jobs.services.importing.write_work import split_words


def customers():
    return table_rows(Customer, customer="number", **same("name", "phone", "email", "billing_address"))


def appliances():
    rows = Appliance.objects.order_by("pk").select_related("customer", "address", "model")
    for row, in_care_from in care_starts(rows.iterator(CHUNK)):
        address = row.address
        yield {
            "appliance": row.number,
            "customer": row.customer and row.customer.number,
            "address": address and address.text,
            "post_area": address and address.post_area,
            "model": row.model.key,
            "kind": row.model.kind,
            "in_care_from": in_care_from,
            "installed_on": _imprecise(row.installed_on, row.installed_precision),
            "serial": row.serial,
            "in_care_until": row.in_care_until,
            "end_reason": row.end_reason,
            "service": row.on_service,
            "phone": address and address.phone,
            "access_note": address and address.access_note,
        }


def _imprecise(on, precision):
    length = {Precision.YEAR: 4, Precision.MONTH: 7}.get(precision, 10)
    return on and on.isoformat()[:length]


def earlier():
    paths = {"appliance": "appliance__number", "component": "component__key"}
    for row in table_rows(Earlier, **paths, **same("position", "renewed_on", "precision")):
        yield row | {"renewed_on": _imprecise(row["renewed_on"], row["precision"])}


def jobs():
    listed = linked(Job.symptoms.through, "job", "symptom__key")
    paths = {"job": "number", "appliance": "appliance__number", "return_of": "return_of__number"}
    for row in table_rows(Job, pk="pk", **paths, **same("kind", "reported_on", "words", "fault_code")):
        yield row | {"symptoms": split_words(row["words"]) + listed.get(row["pk"], [])}


def visits():
    rows = Visit.objects.order_by("pk").select_related("job", "place").prefetch_related("engineers__engineer")
    for row in rows.iterator(CHUNK):
        who = list(row.engineers.all())
        minutes = [one.minutes for one in who]
        yield {
            "visit": row.number,
            "job": row.job.number,
            "engineer": [str(one.engineer) for one in who],
            "place": row.place and row.place.key,
            "on": row.on,
            "outcome": row.outcome,
            "time": row.time,
            "minutes": minutes if any(one is not None for one in minutes) else None,
        }


def findings():
    return table_rows(Finding, **OF_VISIT, **same("position", "no_part_cause", "failure_mode"))


OF_VISIT = {"visit": "visit__number", "appliance": "appliance__number", "component": "component__key"}


def fitted():
    """What stands: not what was a keying mistake, nor what was taken out again and so renewed nothing."""
    rows = Fitted.objects.standing().filter(taken_out=None)
    names = ["quantity", "why", "position", "unit_cost", "charge_ex_vat"]
    paths = {"part": "part__number", "supplier": "came_from__supplier__key", "place": "came_from__key"}
    for row in table_rows(rows, **OF_VISIT, **paths, **same(*names)):
        yield row | {"from": row["supplier"] or row["place"]}


def needed():
    return table_rows(Needed, **OF_VISIT, part="part__number", quantity="quantity")


def charges():
    return table_rows(Charge, job="job__number", **same("kind", "amount_ex_vat", "quantity", "vat_rate", "description"))


ROWS = {
    "customers": customers,
    "appliances": appliances,
    "earlier": earlier,
    "jobs": jobs,
    "visits": visits,
    "findings": findings,
    "fitted": fitted,
    "needed": needed,
    "charges": charges,
}
