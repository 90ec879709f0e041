"""What was last written: expensive results are kept in the cache under it, and a new record makes them anew."""

import hashlib
import logging
from contextvars import ContextVar
from dataclasses import dataclass
from datetime import datetime
from threading import Thread
from time import perf_counter

from django.core.cache import cache
from django.db import connection
from django.utils import timezone

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
OF_WORK = [Job, Visit, Finding, Fitted, TakenOut, Appliance, Earlier]
OF_STOCK = """
counts passes pass bought count top-up move level order draft draft-dropped order-sent receipt price-file price-columns
price-file-booked keep keep-moved keep-released need-settled charge bill part-charge load load-proposal load-fixed
load-let-go back-test moves move-done moves-done refusal-settled
"""  # kinds of what is sent that say nothing of appliances or work
PATIENCE = 2.0  # seconds that somebody waits for a page
logger = logging.getLogger(__name__)
_behind: ContextVar[list | None] = ContextVar("behind", default=None)
HALF_AN_HOUR = 1800  # the longest that a change unseen by the stamp (an import of known rows) stays unseen


def stamp(of_work=False):
    """A text that changes when something is recorded; of_work: only when appliances or work are. One query."""
    watched = OF_WORK if of_work else WATCHED
    asked = [f"(SELECT MAX(id) FROM {model._meta.db_table})" for model in watched]
    others = ", ".join(f"'{kind}'" for kind in OF_STOCK.split())
    changed = {Visit: CHANGED[Visit], Sent: f"MAX(id) FROM {{table}} WHERE kind NOT IN ({others})"}
    for model, what in (changed if of_work else CHANGED).items():
        asked.append(f"(SELECT {what.format(table=model._meta.db_table)})")
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT {', '.join(asked)}")
        return "-".join(str(number or 0) for number in cursor.fetchone())


@dataclass(frozen=True)
class _Made:
    """What was reckoned, when it was begun, and how many seconds it took."""

    found: object
    begun: datetime
    seconds: float


def kept(name, make, *parts, of_work=False):
    """make(), or what it gave before on the same records (of_work: of appliances and work), settings and `parts`.

    On a page, what took longer than PATIENCE is shown as it was before the newest records, the page says so
    (`behind`), and it is reckoned anew meanwhile. Commands and the API always wait.
    """
    settings = [str(value) for name, value in vars(Setting.current()).items() if name != "_state"]
    subject = hashlib.sha256(repr([name, settings, parts]).encode()).hexdigest()
    key = f"{subject}-{stamp(of_work)}".replace(" ", "-")  # a cache outside this process takes no spaces
    made = cache.get(key)
    if made is None:
        made = _before_the_newest(subject, key, make) or _make(subject, key, make)
    return made.found


def _make(subject, key, make):
    begun, since = timezone.now(), perf_counter()
    token = _behind.set(None)  # what this rests on is reckoned to the end
    try:
        made = _Made(make(), begun, perf_counter() - since)
    finally:
        _behind.reset(token)
    cache.set(key, made, HALF_AN_HOUR)
    cache.set(subject, key, HALF_AN_HOUR)
    return made


def _before_the_newest(subject, key, make):
    """What stood before, while a thread reckons it anew; None where nobody may be shown that, or it is quick."""
    page = _behind.get()
    made = None if page is None else cache.get(cache.get(subject, ""))
    if made is None or made.seconds <= PATIENCE:
        return None
    if cache.add(f"making-{key}", True, HALF_AN_HOUR):
        Thread(target=_beside, args=(subject, key, make), daemon=True).start()
    page.append(made.begun)
    return made


def _beside(subject, key, make):
    try:
        _make(subject, key, make)
    except Exception:  # the next page that asks tries again
        logger.exception("reckoning beside a page failed")
    finally:
        cache.delete(f"making-{key}")
        connection.close()


def behind_newest(get_response):
    """Middleware: pages may show figures from before the newest records, the API may not."""

    def respond(request):
        token = _behind.set(None if request.path.startswith("/api/") else [])
        try:
            return get_response(request)
        finally:
            _behind.reset(token)

    return respond


def behind(request):
    """Context processor: a sentence where figures on this page are from before the newest records, else empty."""
    begun = min(_behind.get() or [None])
    if begun is None:
        return {"behind": ""}
    told = timezone.localtime(begun)
    return {"behind": f"Figures of {told:%H:%M}. Newer records are being worked in: look again in a minute."}
