"""Applied exactly once: whatever a phone or a form sends carries a UUID of its own."""

import hashlib
import json

from django.db import transaction

from firm.models import Sent


class SentBefore(Exception):
    """The same UUID came before with other content; nothing was changed."""


def apply_once(uuid, kind, body, work, *, by=None, device=None, number=None, happened_at=None):
    """Run `work()` in a transaction unless `uuid` was applied before. Return (answer, new).

    body: what was sent, JSON-able; work: a function without arguments that returns the answer, JSON-able.
    The same uuid, kind and body return the first answer; another body raises SentBefore.
    """
    digest = hashlib.sha256(json.dumps([kind, body], sort_keys=True, default=str).encode()).digest()
    answer = _before(uuid, digest)
    if answer is not None:
        return answer, False
    try:
        with transaction.atomic():
            answer = work()
            Sent.objects.create(
                uuid=uuid,
                kind=kind,
                digest=digest,
                answer=answer,
                by=by,
                device=device,
                number=number,
                happened_at=happened_at,
            )
        return answer, True
    except Exception:
        answer = _before(uuid, digest)  # refused, unless somebody sent the same at the same moment, and was first
        if answer is None:
            raise
        return answer, False


def _before(uuid, digest):
    sent = Sent.objects.filter(uuid=uuid).values_list("digest", "answer").first()
    if sent is None:
        return None
    if bytes(sent[0]) != digest:
        raise SentBefore(f"{uuid} was sent before with other content; nothing was changed.")
    return sent[1]
