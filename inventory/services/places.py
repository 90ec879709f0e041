"""Finding places: the counter-places of the ledger, a supplier's, a person's van, and where a part is now."""

from django.db.models import Q

from inventory.models import Place, Stock

COUNTER_NAMES = {
    Place.Kind.FITTED: "Fitted",
    Place.Kind.SCRAP: "Scrap",
    Place.Kind.COUNT_DIFFERENCE: "Count difference",
    Place.Kind.BEFORE_THE_BOOK: "Before the book",
    Place.Kind.STOLEN_OR_LOST: "Stolen or lost",
    Place.Kind.CUSTOMERS_OWN: "Customer’s own",
}


def counter(kind):
    """The one counter-place of this kind, made at its first use."""
    place = Place.objects.filter(kind=kind).first()
    if place is None:
        place, _ = Place.objects.get_or_create(kind=kind, defaults={"key": f"({kind})", "name": COUNTER_NAMES[kind]})
    return place


def place_of_supplier(supplier):
    """The supplier's end of a movement."""
    place, _ = Place.objects.get_or_create(
        supplier=supplier,
        defaults={"kind": Place.Kind.SUPPLIER, "key": f"(supplier {supplier.key})"[:80], "name": supplier.name},
    )
    return place


def store():
    """The first store, or None."""
    return Place.objects.filter(kind=Place.Kind.STORE, retired_on=None).order_by("pk").first()


def van_of(user, on):
    """The van that this person drives on a day: holiday cover first, then the van that bears their name."""
    vans = Place.objects.vans().filter(retired_on=None)
    open_or_later = Q(uses__until=None) | Q(uses__until__gte=on)
    driven = vans.filter(open_or_later, uses__engineer=user, uses__since__lte=on).order_by("-uses__since").first()
    return driven or vans.filter(engineer=user).order_by("pk").first()


def where(part):
    """Balances of a part in held places, most first, annotated with what is `free`."""
    return Stock.objects.there().filter(part=part).select_related("place__engineer").free().order_by("-on_hand", "pk")
