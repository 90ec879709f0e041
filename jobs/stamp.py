"""What was last written: expensive results are kept in the cache under it, and a new record makes them anew."""

import hashlib

from django.core.cache import cache
from django.db import connection

from firm.models import Sent, Setting
from inventory.models import CarryLevel, CostCorrection, Count, CountWanted, Movement, Price
from jobs.models import Appliance, Charge, Earlier, Finding, Fitted, Job, Needed, TakenOut, Visit

WATCHED = [Job, Visit, Finding, Fitted, TakenOut, Needed, Charge, Appliance, Earlier, Movement, CostCorrection, Count]
WATCHED += [CountWanted, Price, Sent]
CHANGED = {  # what is written into rows that stand already
    Visit: "COUNT(*) FROM {table} WHERE outcome <> ''",
    Fitted: "COUNT(charge_ex_vat) FROM {table}",
    CountWanted: "COUNT(*) FROM {table} WHERE done_at IS NULL",
    CarryLevel: "MAX(since) FROM {table}",
}
HALF_AN_HOUR = 1800  # the longest that a change unseen by the stamp (an import of known rows) stays unseen


def stamp():
    """A text that changes when something is recorded. One query."""
    asked = [f"(SELECT MAX(id) FROM {model._meta.db_table})" for model in WATCHED]
    asked += [f"(SELECT {what.format(table=model._meta.db_table)})" for model, what in CHANGED.items()]
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT {', '.join(asked)}")
        return "-".join(str(number or 0) for number in cursor.fetchone())


def kept(name, make, *parts):
    """make(), or what it gave before on the same records, the same settings and the same `parts`."""
    settings = [str(value) for name, value in vars(Setting.current()).items() if name != "_state"]
    key = hashlib.sha256(repr([name, stamp(), settings, parts]).encode()).hexdigest()
    found = cache.get(key)
    if found is None:
        found = make()
        cache.set(key, found, HALF_AN_HOUR)
    return found
