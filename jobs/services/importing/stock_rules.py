"""What must hold between suppliers, prices, places and stock."""

from inventory.models import Offer, Price
from jobs.services.importing.known import rows_of

PRICE_COLUMNS = ["pack", "price_ex_vat", "minimum", "vat_rate", "surcharge"]
BOOKED = "This price is booked with other content ({}): give the new price a later valid_from."


def a_place_does_not_bear_a_name_of_the_ledger(files, known, problems):
    reserved = known.reserved_places()
    for row in rows_of(files, "places"):
        if row.place in reserved:
            problems.error("places", row.row, "place", row.place, "The ledger uses this name itself: choose another.")


def a_number_of_a_supplier_means_one_part(files, known, problems):
    parts = offers_of({row.supplier for row in rows_of(files, "prices")})
    for row in rows_of(files, "prices"):
        part = parts.setdefault((row.supplier, row.supplier_part), row.part)
        if part != row.part:
            problems.error("prices", row.row, "part", row.part, f"{row.supplier_part} stands for part {part} already.")


def offers_of(suppliers):
    """{(supplier, supplier_part): part} in the database."""
    rows = Offer.objects.filter(supplier__key__in=suppliers)
    rows = rows.values_list("supplier__key", "supplier_part", "part__number")
    return {(supplier, number): part for supplier, number, part in rows.iterator(10_000)}


def booked_prices_stay(files, known, problems):
    new_prices(files.get("prices"), problems)


def new_prices(read, problems):
    """The price rows that are not booked yet; a booked one with other content is an error."""
    if read is None:
        return []
    booked = _booked_prices({row.supplier for row in read.rows})
    return [row for row in read.rows if not _is_booked(row, booked, read, problems)]


def _booked_prices(suppliers):
    rows = Price.objects.filter(offer__supplier__key__in=suppliers).values_list(
        "offer__supplier__key", "offer__supplier_part", "valid_from", *PRICE_COLUMNS
    )
    return {tuple(row[:3]): tuple(row[3:]) for row in rows.iterator(10_000)}


def _is_booked(row, booked, read, problems):
    old = booked.get((row.supplier, row.supplier_part, row.valid_from))
    if old is None:
        return False
    for column, value in zip(PRICE_COLUMNS, old, strict=True):
        if read.has(column) and getattr(row, column) != value:
            shown = "empty" if value is None else f"{value.normalize():f}" if hasattr(value, "normalize") else value
            reason = BOOKED.format(f"{column} {shown}")
            problems.error("prices", row.row, column, getattr(row, column), reason)
            break
    return True


RULES = [a_place_does_not_bear_a_name_of_the_ledger, a_number_of_a_supplier_means_one_part, booked_prices_stay]
