"""Write suppliers, prices, places with their engineers, and stock."""

from django.utils.text import slugify

from firm.models import User
from inventory.models import Offer, Part, Place, Price, Supplier
from inventory.services.opening import open_stock
from inventory.services.places import COUNTER_NAMES, counter, place_of_supplier
from jobs.services.importing.keeping import chunks, keep, numbers, present
from jobs.services.importing.known import rows_of
from jobs.services.importing.problems import Problems, Refused
from jobs.services.importing.stock_rules import new_prices


def write_suppliers(files):
    read = files.get("suppliers")
    if read is None:
        return
    keep(Supplier, "key", ((row.supplier, _supplier(read, row)) for row in read.rows), new=lambda key: {"name": key})
    for supplier in Supplier.objects.filter(place=None).order_by("pk"):
        place_of_supplier(supplier)


def _supplier(read, row):
    fields = {"lead_time_days": row.lead_time_days, "same_day": row.same_day}
    optional = ["carriage", "carriage_free_over", "email"]
    return fields | present(read, row, **{name: name for name in optional})


def write_prices(files, progress):
    """Prices that are not booked yet; raises Refused where a booked one differs."""
    problems = Problems()
    rows = new_prices(files.get("prices"), problems)
    if problems.errors:
        raise Refused(problems.errors)
    _write_offers(rows)
    suppliers = {row.supplier for row in rows}
    offers = Offer.objects.filter(supplier__key__in=suppliers).values_list("supplier__key", "supplier_part", "pk")
    offers = {(supplier, number): pk for supplier, number, pk in offers.iterator(10_000)}
    for chunk in chunks(progress(rows, "writing prices")):
        Price.objects.bulk_create(_price(row, offers) for row in chunk)


def _write_offers(rows):
    suppliers, parts = numbers(Supplier, "key"), numbers(Part, "number")
    there = set(Offer.objects.values_list("supplier_id", "supplier_part").iterator(10_000))
    wanted = {(suppliers[row.supplier], row.supplier_part): parts[row.part] for row in rows}
    missing = (
        Offer(supplier_id=key[0], supplier_part=key[1], part_id=part)
        for key, part in wanted.items()
        if key not in there
    )
    for chunk in chunks(missing):
        Offer.objects.bulk_create(chunk)


def _price(row, offers):
    return Price(
        offer_id=offers[row.supplier, row.supplier_part],
        price_ex_vat=row.price_ex_vat,
        pack=row.pack,
        minimum=row.minimum,
        vat_rate=row.vat_rate,
        surcharge=row.surcharge,
        valid_from=row.valid_from,
        price_per_piece=Price.per_piece(row.price_ex_vat, row.pack),
    )


def write_engineers(files):
    """Everybody whom places or visits name is an engineer with a user of that name, without a password."""
    named = dict.fromkeys(row.engineer for row in rows_of(files, "places") if row.engineer)
    named |= dict.fromkeys(name for row in rows_of(files, "visits") for name in row.engineer)
    there = engineers()
    for name in named:
        user = there.get(name.casefold())
        if user is None:
            user = User(name=name, username=_free_username(name), is_engineer=True)
            user.set_unusable_password()
            user.save()
            there[name.casefold()] = user
        elif not user.is_engineer:
            user.is_engineer = True
            user.save(update_fields=["is_engineer"])


def engineers():
    """{name in lower case: User}; of a user without a name, that to sign in with."""
    return {str(user).casefold(): user for user in User.objects.order_by("-pk")}


def _free_username(name):
    stem = slugify(name)[:100] or "engineer"
    taken = set(User.objects.filter(username__startswith=stem).values_list("username", flat=True))
    return next(free for free in (stem, *(f"{stem}-{n}" for n in range(2, len(taken) + 3))) if free not in taken)


def write_places(files):
    for kind in COUNTER_NAMES:
        counter(kind)
    read = files.get("places")
    if read is not None:
        people = engineers()
        keep(Place, "key", ((row.place, _place(read, row, people)) for row in read.rows))


def _place(read, row, people):
    fields = {"kind": row.kind}
    if read.has("engineer"):
        fields["engineer_id"] = people[row.engineer.casefold()].pk if row.engineer else None
    if read.has("post_areas"):
        fields["post_areas"] = list(row.post_areas)
    return fields | present(read, row, litres="litres", kilograms="kilograms", budget="budget")


def write_stock(files, by):
    read = files.get("stock")
    if read is None:
        return
    places = {place.key: place for place in Place.objects.held()}
    parts = {part.number: part for part in Part.objects.filter(number__in={row.part for row in read.rows})}
    rows = [(places[row.place], parts[row.part], row.quantity, row.unit_cost, row.carry_level) for row in read.rows]
    open_stock(rows, file_sha256=read.sha256, by=by)
