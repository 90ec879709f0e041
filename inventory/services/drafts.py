"""Changing an order before it is sent."""

from django.db import transaction

from inventory.models import Order
from inventory.services.ordering import CannotOrder


@transaction.atomic
def change_draft(order, packs, *, note=""):
    """Set the packs of the lines of a draft, {line primary key: packs}; none takes the line off. Return the Order."""
    order = Order.objects.select_for_update().get(pk=order.pk)
    if order.state != Order.State.DRAFT:
        raise CannotOrder("This order has been sent: it cannot be changed any more.")
    for line in order.lines.all():
        wanted = packs.get(line.pk, line.packs)
        if wanted == 0:
            line.delete()
        elif wanted != line.packs:
            line.packs = wanted
            line.save(update_fields=["packs"])
    order.note = note
    order.save(update_fields=["note"])
    return order


@transaction.atomic
def drop_draft(order):
    """Throw a draft away; nothing of it was ever sent."""
    order = Order.objects.select_for_update().get(pk=order.pk)
    if order.state != Order.State.DRAFT:
        raise CannotOrder("This order has been sent: it cannot be thrown away.")
    order.delete()
