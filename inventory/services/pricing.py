"""What a part costs, from whom, on a day. Money is reckoned in Python and stored; SQL only picks rows."""

from dataclasses import dataclass
from datetime import date
from decimal import ROUND_HALF_UP, Decimal

from django.utils import timezone

from inventory.models import Offer, Part

MONEY = Decimal("0.01")


@dataclass(frozen=True)
class Source:
    """What one need of a part costs from one supplier. Money ex VAT in the firm's currency."""

    offer: Offer
    part: Part
    quantity: Decimal
    packs: int
    pieces: Decimal
    price_per_pack: Decimal
    price_per_piece: Decimal
    total: Decimal
    carriage: Decimal
    vat_rate: Decimal | None
    surcharge: Decimal | None
    lead_time_days: int
    same_day: bool
    valid_from: date

    @property
    def with_carriage(self):
        return self.total + self.carriage


def living(part):
    """The part that has taken this one's place, following superseded numbers to their end."""
    seen = {part.pk}
    while part.superseded_by_id and part.superseded_by_id not in seen:
        part = part.superseded_by
        seen.add(part.pk)
    return part


def priced_offers(part, on):
    """Offers of a part that can be had and have a price on a day, cheapest per piece first."""
    return offers_of([part], on)


def offers_of(parts, on):
    """Offers of several parts in one query, cheapest per piece first."""
    offers = Offer.objects.filter(part__in=parts).exclude(availability=Offer.Availability.ENDED)
    priced = offers.select_related("supplier").priced(on).exclude(now_price_ex_vat=None)
    return priced.order_by("now_price_per_piece", "supplier__name", "pk")


def price_at(part, on):
    """(price per piece, offer) of the cheapest price valid on a day, or None."""
    offer = priced_offers(part, on).first()
    return (offer.now_price_per_piece, offer) if offer else None


def supplier_price(supplier, part, when=None):
    """The supplier's listed price per piece on the day of `when`, or None."""
    on = timezone.localdate(when) if when else timezone.localdate()
    offer = priced_offers(part, on).filter(supplier=supplier).first()
    return offer.now_price_per_piece if offer else None


def sources(part, quantity, on):
    """What `quantity` pieces cost from each source on a day, cheapest with carriage first. List of Source."""
    return sources_among(priced_offers(part, on), part, quantity)


def sources_among(offers, part, quantity):
    """The same from offers that were read before."""
    found = [_source(offer, part, Decimal(quantity)) for offer in offers]
    return sorted(found, key=lambda source: (source.with_carriage, source.lead_time_days))


def _source(offer, part, quantity):
    packs = max(int(-(-quantity // offer.now_pack)), offer.now_minimum)
    total = (packs * offer.now_price_ex_vat).quantize(MONEY, ROUND_HALF_UP)
    return Source(
        offer=offer,
        part=part,
        quantity=quantity,
        packs=packs,
        pieces=packs * offer.now_pack,
        price_per_pack=offer.now_price_ex_vat,
        price_per_piece=offer.now_price_per_piece,
        total=total,
        carriage=carriage(offer.supplier, total),
        vat_rate=offer.now_vat_rate,
        surcharge=offer.now_surcharge,
        lead_time_days=offer.supplier.lead_time_days if offer.lead_time_days is None else offer.lead_time_days,
        same_day=offer.supplier.same_day if offer.same_day is None else offer.same_day,
        valid_from=offer.now_valid_from,
    )


def carriage(supplier, total):
    """The supplier's carriage on an order of this total."""
    if supplier.carriage is None or (supplier.carriage_free_over is not None and total >= supplier.carriage_free_over):
        return Decimal(0)
    return supplier.carriage
