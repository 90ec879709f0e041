"""Expensive figures: reckoned once for all who ask, kept until something is recorded, and never waited for twice."""

import hashlib
import logging
import platform
from contextvars import ContextVar
from dataclasses import dataclass
from datetime import datetime, timedelta
from importlib.metadata import version
from pathlib import Path
from threading import Thread
from time import perf_counter

from django.conf import settings
from django.core.cache import caches
from django.db import connection
from django.utils import timezone

from firm.models import Setting
from jobs.stamp import stamp

PATIENCE = 2.0  # seconds that somebody waits for a page
VALID = timedelta(minutes=30)  # the longest that a change unseen by the stamp (a statement by hand) stays unseen
RENEWED = timedelta(minutes=20)  # when those who reckon ahead of others do it anew
A_DAY = 86_400
AT_A_TIME = 10  # times as long as it took before, somebody is taken to be reckoning
logger = logging.getLogger(__name__)
_behind: ContextVar[list | None] = ContextVar("behind", default=None)
_valid: ContextVar[timedelta] = ContextVar("valid", default=VALID)


def _code():
    """A digest of all that a figure is reckoned with: another release never shows what this one reckoned."""
    digest = hashlib.sha256(platform.python_version().encode())
    for library in ("numpy", "scipy", "django"):
        digest.update(version(library).encode())
    for app in ("firm", "inventory", "jobs"):
        for file in sorted(Path(settings.BASE_DIR, app).rglob("*.py")):
            digest.update(file.read_bytes())
    return digest.hexdigest()


CODE = _code()  # as this process was started


@dataclass(frozen=True)
class _Made:
    """What was reckoned, from which records, when it was begun, and how many seconds it took."""

    found: object
    stamp: str
    begun: datetime
    seconds: float


def kept(name, make, *parts, of_work=False, large=False):
    """make(), or what it gave before on the same records (of_work: of appliances and work), settings and `parts`.

    On a page, what took longer than PATIENCE is shown as it was before the newest records, the page says so
    (`behind`), and it is reckoned anew meanwhile. Commands and the API always wait. large: too large to be handed
    from process to process, or to be there twice: this process remembers the last one of that name.
    """
    firm = [str(value) for field, value in vars(Setting.current()).items() if field != "_state"]
    place = {field: str(connection.settings_dict.get(field)) for field in ("ENGINE", "HOST", "PORT", "NAME")}
    subject = hashlib.sha256(repr([CODE, place, name, firm, parts]).encode()).hexdigest()
    store = caches["default"] if large or not settings.SHARED_FIGURES else caches["figures"]
    now = stamp(of_work)
    if large:
        subject, now = f"large-{name}", f"{subject}-{now}"
    made, work = _looked_up(store, subject), (store, subject, now, make)
    if made is None or made.stamp != now or timezone.now() - made.begun > _valid.get():
        made = (None if large else _before_the_newest(made, *work)) or _make(*work)
    return made.found


def forget():
    """Forget all figures of this machine: something was written that no stamp shows."""
    for store in caches.all():
        try:
            store.clear()
        except OSError:  # files of somebody else
            logger.exception("kept figures could not be forgotten")


def renew_early():
    """From now on this thread reckons figures anew before they expire for others."""
    _valid.set(RENEWED)


def _looked_up(store, subject):
    try:
        return store.get(subject)
    except Exception:  # a file that somebody else wrote, or half of one
        logger.exception("kept figures could not be read")
        return None


def _make(store, subject, now, make):
    begun, since = timezone.now(), perf_counter()
    token = _behind.set(None)  # what this rests on is reckoned to the end
    try:
        made = _Made(make(), now, begun, perf_counter() - since)
    finally:
        _behind.reset(token)
    try:
        store.set(subject, made, A_DAY)
    except OSError:  # a full disk
        logger.exception("figures could not be kept")
    return made


def _before_the_newest(made, store, subject, now, make):
    """What stood before, while a thread reckons it anew; None where nobody may be shown that, or it is quick."""
    page = _behind.get()
    if page is None or made is None or made.seconds <= PATIENCE:
        return None
    if caches["default"].add(f"making-{subject}-{now}".replace(" ", "-"), True, AT_A_TIME * made.seconds + 60):
        Thread(target=_beside, args=(store, subject, now, make), daemon=True).start()
    page.append(made.begun)
    return made


def _beside(store, subject, now, make):
    try:
        _make(store, subject, now, make)
    except Exception:  # the next page that asks tries again
        logger.exception("reckoning beside a page failed")
    finally:
        caches["default"].delete(f"making-{subject}-{now}".replace(" ", "-"))
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
    return {"behind": f"Figures of {told:%H:%M}. They are being worked out anew: look again in a minute."}
