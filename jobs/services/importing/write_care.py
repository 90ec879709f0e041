"""Write customers, addresses, appliances and what is known from before care."""

from django.utils import timezone

from inventory.models import ApplianceModel, ComponentType
from jobs.models import Address, Appliance, Customer, Earlier
from jobs.services.importing.keeping import chunks, keep, numbers, present
from jobs.services.importing.known import first_contacts, rows_of


def write_customers(files):
    """Customers of the file; without one, those that the appliances name."""
    read = files.get("customers")
    if read is not None:
        optional = ["name", "phone", "email", "billing_address"]
        wanted = ((row.customer, present(read, row, **{name: name for name in optional})) for row in read.rows)
        keep(Customer, "number", wanted)
    named = dict.fromkeys(row.customer for row in rows_of(files, "appliances") if row.customer)
    there = numbers(Customer, "number") if named else {}
    missing = (Customer(number=number, name=number) for number in named if number not in there)
    for chunk in chunks(missing):
        Customer.objects.bulk_create(chunk)


def write_appliances(files, progress):
    read = files.get("appliances")
    if read is None:
        return
    customers, models = numbers(Customer, "number"), numbers(ApplianceModel, "key")
    addresses = _write_addresses(read, customers)
    contacts = first_contacts() if read.has("in_care_from") else {}
    starts = {
        number: contacts.get(pk, entered)
        for number, pk, entered in Appliance.objects.filter(in_care_from=None).values_list("number", "pk", "entered_on")
    }
    today = timezone.localdate()
    wanted = (
        (row.appliance, _appliance(read, row, customers, models, addresses, starts))
        for row in progress(read.rows, "writing appliances")
    )
    keep(Appliance, "number", wanted, new=lambda number: {"entered_on": today})


def _appliance(read, row, customers, models, addresses, starts):
    fields = {
        "customer_id": customers.get(row.customer),
        "model_id": models[row.model],
        "address_id": addresses[row.appliance],
    }
    if read.has("installed_on"):
        fields["installed_on"], fields["installed_precision"] = row.installed_on
    fields |= present(
        read,
        row,
        serial="serial",
        in_care_from="in_care_from",
        in_care_until="in_care_until",
        end_reason="end_reason",
        on_service="service",
    )
    if row.in_care_from is not None and starts.get(row.appliance) == row.in_care_from:
        del fields["in_care_from"]  # what the book would say itself, as our export does
    return fields


def _write_addresses(read, customers):
    """{appliance number: address pk or None}. Appliances of one customer at one address, with one note, share it.

    An address all of whose appliances change in the same way is changed itself; so jobs done there follow.
    """
    there, of_appliance, pks = _stored_addresses()
    wanted = {
        row.appliance: _address(read, row, customers, there.get(of_appliance.get(row.appliance))) for row in read.rows
    }
    moved, users = {}, {}
    for appliance, pk in of_appliance.items():
        users.setdefault(pk, set()).add(wanted.get(appliance, there.get(pk)))
    for pk, wishes in users.items():
        wish = next(iter(wishes))
        if pk is not None and len(wishes) == 1 and wish is not None and wish != there[pk] and wish not in pks:
            moved[pk] = wish
            pks[wish] = pk
    _move(moved)
    missing = dict.fromkeys(one for one in wanted.values() if one is not None and one not in pks)
    for chunk in chunks(missing):
        for row in Address.objects.bulk_create(Address(**dict(zip(FIELDS, one, strict=True))) for one in chunk):
            pks[tuple(getattr(row, name) for name in FIELDS)] = row.pk
    return {appliance: pks.get(one) for appliance, one in wanted.items()}


FIELDS = ["customer_id", "text", "post_area", "access_note", "phone"]


def _address(read, row, customers, old):
    """What an address says, or None where nothing is said of it. A column that is missing says nothing new."""
    note = row.access_note if read.has("access_note") or old is None else old[3]
    phone = row.phone if read.has("phone") or old is None else old[4]
    said = (row.address, row.post_area, note, phone)
    if old is not None and old[1:] == said:
        return old
    return (customers.get(row.customer), *said) if any(said) else None


def _stored_addresses():
    """({pk: what it says}, {appliance: its address pk}, {what it says: pk}) of the database."""
    rows = Address.objects.order_by("-pk").values_list("pk", *FIELDS)
    there = {pk: tuple(says) for pk, *says in rows.iterator(10_000)}
    of_appliance = dict(Appliance.objects.values_list("number", "address_id").iterator(10_000))
    return there, of_appliance, {says: pk for pk, says in there.items()}


def _move(moved):
    rows = Address.objects.in_bulk(list(moved))
    for pk, row in rows.items():
        for name, value in zip(FIELDS, moved[pk], strict=True):
            setattr(row, name, value)
    Address.objects.bulk_update(rows.values(), [name.removesuffix("_id") for name in FIELDS], batch_size=200)


def write_earlier(files):
    read = files.get("earlier")
    if not rows_of(files, "earlier"):
        return
    appliances, components = numbers(Appliance, "number"), numbers(ComponentType, "key")
    there = {(row.appliance_id, row.component_id, row.position): row for row in Earlier.objects.all()}
    missing, changed = [], []
    for row in read.rows:
        key = (appliances[row.appliance], components[row.component], row.position)
        renewed_on, precision = row.renewed_on
        old = there.get(key)
        if old is None:
            new = Earlier(appliance_id=key[0], component_id=key[1], position=key[2])
            new.renewed_on, new.precision = renewed_on, precision
            missing.append(new)
        elif (old.renewed_on, old.precision) != (renewed_on, precision):
            old.renewed_on, old.precision = renewed_on, precision
            changed.append(old)
    Earlier.objects.bulk_create(missing, batch_size=500)
    Earlier.objects.bulk_update(changed, ["renewed_on", "precision"], batch_size=200)
