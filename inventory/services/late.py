"""News that a count already includes: a phone that was out of signal when its van was counted."""

from inventory.models import Count, Held, Movement


def is_late(place, part, device, number):
    """Whether the newest count of this part there, by the same phone, includes event `number` of it already."""
    if device is None or number is None:
        return False
    newest = Count.objects.filter(place=place, lines__part=part).order_by("-at", "-pk").first()
    return bool(newest and newest.device_id == device.pk and newest.upto is not None and number <= newest.upto)


def late_cost(part, place, job_number):
    """(own_cost, unit_cost) of late pieces: what was bought for the job, late as well, keeps its own cost."""
    if not job_number or Held.objects.filter(part=part, place=place, job_number=job_number, own_cost=True).exists():
        return False, None
    own = Movement.objects.filter(part=part, job_number=job_number, own_cost=True)
    bought = own.filter(destination=place, reason=Movement.Reason.BOUGHT).order_by("-pk").first()
    if bought is None or own.filter(source=place, reason=Movement.Reason.FITTED).exists():
        return False, None
    return True, bought.unit_cost
