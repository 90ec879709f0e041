"""The Friday list and what goes with it, worked out once and kept, so that what was printed can be marked done."""

from collections import defaultdict
from dataclasses import dataclass, replace
from decimal import ROUND_HALF_UP, Decimal
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from firm.models import User
from inventory.models import Stock
from inventory.services import movements
from jobs.models import MoveLine, MoveList
from jobs.services import long_work, moving


class NotMoved(Exception):
    """The line cannot be booked; nothing was changed."""


@transaction.atomic
def begin(*, event: UUID, by: User | None = None) -> MoveList:
    """Keep a list that is still to be worked out; the same event gives the first again. Raises long_work.Busy."""
    if known := MoveList.objects.filter(event=event).first():
        return known
    long_work.refuse_second(MoveList)
    return MoveList.objects.create(event=event, made_by=by, as_of=timezone.localdate())


def begin_in_background(*, event: UUID, by: User | None = None) -> MoveList:
    found = begin(event=event, by=by)
    long_work.after_commit(work_off, found.pk)
    return found


def work_off(pk: int) -> MoveList:
    """Work out what should change its place, and keep it."""
    moves = MoveList.objects.get(pk=pk)

    def worked_out():
        found = moving.reckoned(moves.as_of)
        lines = [*_lines(moves, "pass", found.passed), *_lines(moves, "return", _left(found))]
        MoveLine.objects.bulk_create(lines)
        return {"slow": [_slow(row) for row in found.slow], "dead": [_dead(row) for row in found.dead]}

    return long_work.worked_off(moves, worked_out)


def _left(found):
    """Returns of what is still on board once the passes are done: no piece goes two ways."""
    gone: dict[tuple[int, int], int] = defaultdict(int)
    for move in found.passed:
        gone[move.giver.pk, move.part.pk] += move.quantity
    free = _free({move.giver for move in found.returned})
    for move in found.returned:
        there = free[move.giver.pk, move.part.pk] - gone[move.giver.pk, move.part.pk]
        quantity = min(move.quantity, there)
        if quantity > 0:
            worth = move.worth_per_year * quantity / move.quantity
            yield replace(move, quantity=quantity, worth_per_year=worth)


def _free(places):
    found: dict[tuple[int, int], int] = defaultdict(int)
    for row in Stock.objects.filter(place__in=places).there().free():
        found[row.place_id, row.part_id] += int(row.free if row.condition == "new" else row.on_hand)
    return found


def _lines(moves, kind, found):
    for rank, move in enumerate(found, start=1):
        yield MoveLine(
            moves=moves,
            kind=kind,
            rank=rank,
            part=move.part,
            giver=move.giver,
            taker=move.taker,
            quantity=move.quantity,
            worth_per_year=_penny(move.worth_per_year),
            why=move.why,
        )


def _penny(amount):
    return Decimal(repr(float(amount))).quantize(Decimal("0.01"), ROUND_HALF_UP)


def _slow(row):
    return {
        **_part(row.part),
        "price": float(row.price),
        "expected_per_year": row.expected_per_year,
        "place": row.place.key if row.place else None,
        "place_name": str(row.place) if row.place else "none",
        "worth_per_year": row.worth_per_year,
        "free_now": [[str(place), pieces] for place, pieces in row.free_now],
        "why": row.why,
    }


def _dead(row):
    return {
        **_part(row.part),
        "place": row.place.key,
        "place_name": str(row.place),
        "place_pk": row.place.pk,
        "quantity": float(row.quantity),
        "value": None if row.value is None else float(row.value),
        "last_use": row.last_use.isoformat() if row.last_use else None,
        "advice": row.advice,
        "to": row.to.key if row.to else None,
        "supplier": str(row.supplier) if row.supplier else None,
        "why": row.why,
    }


def _part(part):
    return {"part": part.number, "part_pk": part.pk, "description": part.description}


def newest() -> MoveList | None:
    """The newest list that is worked out."""
    return MoveList.objects.filter(finished_at__isnull=False, problem="").select_related("made_by").first()


@dataclass(frozen=True)
class ToMove:
    """What is still to be done of the newest list. worth: money a year, of the passes on it and of the returns."""

    passes: int
    returns: int
    worth: Decimal


def to_move(most: int = 5) -> ToMove | None:
    """The count for a card: of the passes the `most` that stand on the Friday list. None before the first list."""
    moves = newest()
    if moves is None:
        return None
    lines = list(moves.lines.filter(done_at=None).exclude(kind="pass", rank__gt=most))
    passes = sum(line.kind == MoveLine.Kind.PASS for line in lines)
    return ToMove(passes, len(lines) - passes, sum((line.worth_per_year for line in lines), Decimal(0)))


@transaction.atomic
def book(line: MoveLine, *, event: UUID, by: User) -> MoveLine:
    """The pieces were handed over: a fact, booked once. Raises NotMoved where somebody has booked this line before."""
    mine = MoveLine.objects.filter(pk=line.pk, done_at=None).update(done_at=timezone.now(), done_by=by)
    if not mine:
        raise NotMoved("This line was booked before. Nothing was booked again.")
    fields = {"source": line.giver, "destination": line.taker, "event": event, "by": by}
    movements.pass_on(line.part, Decimal(line.quantity), **fields, note=f"list of {line.moves.as_of:%-d %B %Y}")
    return line
