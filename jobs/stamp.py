"""What was last written: expensive results are kept in the cache under it, and a new record makes them anew."""

from django.core.cache import cache
from django.db.models import Max

from firm.models import Sent, Setting
from inventory.models import CostCorrection, Movement, Price
from jobs.models import Appliance, Charge, Earlier, Finding, Fitted, Job, Needed, TakenOut, Visit

WATCHED = [Job, Visit, Finding, Fitted, TakenOut, Needed, Charge, Appliance, Earlier, Movement, CostCorrection, Price, Sent]
A_DAY = 24 * 3600


def stamp():
    """A text that changes when something is recorded."""
    newest = [model.objects.aggregate(newest=Max("pk"))["newest"] or 0 for model in WATCHED]
    done = Visit.objects.exclude(outcome="").count()
    return "-".join(str(number) for number in [*newest, done])


def kept(name, make, *parts):
    """make(), or what it gave before on the same records, the same settings and the same `parts`."""
    settings = hash(tuple(str(value) for value in vars(Setting.current()).values() if not hasattr(value, "adding")))
    key = f"{name}:{stamp()}:{settings}:{':'.join(str(part) for part in parts)}"
    found = cache.get(key)
    if found is None:
        found = make()
        cache.set(key, found, A_DAY)
    return found
