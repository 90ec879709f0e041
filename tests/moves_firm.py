"""A firm whose Friday list, returns, slow parts and dead stock are worked out and kept."""

import uuid
from decimal import Decimal as D

from django.utils import timezone

from jobs.models import MoveLine, MoveList
from tests.small_firm import small_firm


def firm_with_moves():
    """A small firm whose moves are worked out: one to pass, one to return, slow parts and dead stock."""
    firm = small_firm()
    firm.moves = MoveList.objects.create(event=uuid.uuid4(), as_of=firm.today, finished_at=timezone.now())
    firm.moves.slow = [slow(firm, "van 1", 12.0), slow(firm, None, 0.0)]
    firm.moves.dead = [dead(firm, "pass-on", 40.0, to="van 2"), dead(firm, "write-off", None)]
    firm.moves.save()
    firm.passing = line(firm, "pass", firm.van, firm.van2)
    firm.returning = line(firm, "return", firm.van, firm.store)
    return firm


def line(firm, kind, giver, taker, rank=1):
    fields = {"part": firm.part, "giver": giver, "taker": taker, "quantity": 1, "worth_per_year": D("50.04")}
    return MoveLine.objects.create(moves=firm.moves, kind=kind, rank=rank, why="There it saves £50.", **fields)


def slow(firm, place, worth):
    return {
        "part": firm.part.number, "part_pk": firm.part.pk, "description": firm.part.description, "price": 446.67,
        "expected_per_year": 1.7, "place": place, "place_name": place or "none", "worth_per_year": worth,
        "free_now": [["van 2", 1]], "why": "Dear and slow.",
    }  # fmt: skip


def dead(firm, advice, value, to=None):
    return {
        "part": firm.part.number, "part_pk": firm.part.pk, "description": firm.part.description, "place": "van 1",
        "place_name": "van 1", "place_pk": firm.van.pk, "quantity": 2.0, "value": value, "last_use": "2024-10-02",
        "advice": advice, "to": to, "supplier": None, "why": "Nobody needs it.",
    }  # fmt: skip
