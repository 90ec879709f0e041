"""Many writers at once, on whichever database the tests run."""

import threading
import uuid
from concurrent.futures import ThreadPoolExecutor
from decimal import Decimal as D

import pytest
from django.db import connections

from firm.sending import apply_once
from inventory.models import Movement, Stock
from inventory.services import movements
from inventory.services.ledger import NotThere
from jobs.models import Fitted
from jobs.services.auditing import audit_all
from jobs.services.fitting import fit
from tests.factories import ComponentTypeFactory, PartFactory, PlaceFactory, StoreFactory, VisitFactory, put

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.usefixtures("file_database")]
WRITERS = 8


def at_once(work, times):
    """Run work(n) for n in range(times) from several threads at the same moment; return the results."""
    gate = threading.Barrier(WRITERS)

    def run(n):
        if n < WRITERS:
            gate.wait()
        try:
            return work(n)
        finally:
            connections.close_all()

    with ThreadPoolExecutor(WRITERS) as pool:
        return list(pool.map(run, range(times)))


def test_exactly_as_many_top_ups_succeed_as_there_are_pieces():
    part, store, vans = PartFactory(), StoreFactory(), [PlaceFactory() for _ in range(4)]
    put(part, store, 10)

    def work(n):
        try:
            movements.top_up(vans[n % 4], [(part, D(1))], event=uuid.uuid4())
        except NotThere:
            return False
        return True

    assert sum(at_once(work, 24)) == 10
    assert Stock.objects.get(place=store).on_hand == 0
    assert sum(row.on_hand for row in Stock.objects.exclude(place=store)) == 10
    assert not audit_all()


def test_every_fitted_part_is_recorded_however_many_are_sent_at_once():
    part, visit, kind = PartFactory(), VisitFactory(), ComponentTypeFactory()
    put(part, visit.place, 5)

    def work(n):
        fit(event=uuid.uuid4(), visit=visit, part=part, component=kind, quantity=D(1), why="failed")

    at_once(work, 24)
    assert Fitted.objects.count() == 24
    assert Stock.objects.get(place=visit.place).on_hand == 0
    assert not audit_all()


def test_one_event_sent_many_times_at_once_is_applied_once():
    part, visit, kind, event = PartFactory(), VisitFactory(), ComponentTypeFactory(), uuid.uuid4()
    put(part, visit.place, 5)

    def work(n):
        def once():
            row = fit(event=event, visit=visit, part=part, component=kind, quantity=D(1), why="failed")
            return {"fitted": row.pk}

        return apply_once(event, "fitted", {"part": part.number}, once)

    answers = at_once(work, 16)
    assert sum(new for _, new in answers) == 1
    assert len({answer["fitted"] for answer, _ in answers}) == 1
    assert Movement.objects.filter(event=event).count() == 1
    assert not audit_all()


def test_passing_to_and_fro_does_not_lock_up():
    parts, vans = [PartFactory(), PartFactory()], [PlaceFactory(), PlaceFactory()]
    for part in parts:
        for van in vans:
            put(part, van, 20)

    def work(n):
        there, back = vans if n % 2 else reversed(vans)
        movements.pass_on(parts[n % 2], D(1), source=there, destination=back, event=uuid.uuid4())

    at_once(work, 24)
    assert Movement.objects.filter(reason="passed-on").count() == 24
    assert not audit_all()
