"""Two records of one hand-over, by the giver and by the taker, are one."""

from datetime import timedelta

from django.utils import timezone

from inventory.models import Movement

WITHIN = timedelta(hours=36)


def other_record(part, quantity, source, destination, *, by, happened_at):
    """The same hand-over as somebody else has recorded it, not yet confirmed; or None."""
    if by is None:
        return None
    when = happened_at or timezone.now()
    same = Movement.objects.filter(
        reason=Movement.Reason.PASSED_ON,
        part=part,
        quantity=quantity,
        source=source,
        destination=destination,
        confirmed=None,
        undone_by=None,
        happened_at__range=(when - WITHIN, when + WITHIN),
    )
    return same.exclude(by=by).exclude(by=None).order_by("pk").first()
