"""Orders and price files for the browser tests: the invented firm has none of its own. Run by itself."""

import os
import uuid

import django


def main():
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "firm.settings")
    django.setup()
    from inventory.models import Offer
    from inventory.services import ordering, price_files

    offers = list(Offer.objects.filter(supplier=Offer.objects.first().supplier)[:3])
    for sent in (False, True):
        lines = [(offer, 2, "") for offer in offers]
        order = ordering.draft_order(offers[0].supplier, lines, event=uuid.uuid4())
        if sent:
            ordering.send_order(order)
    rows = ["supplier_part;price_ex_vat;pack", *(f"{offer.supplier_part};12.50;1" for offer in offers), "no such;1;1"]
    price_files.keep(offers[0].supplier, "prices.csv", "\n".join(rows).encode())


if __name__ == "__main__":
    main()
