"""The audit finds a planted error of every kind, and nothing in sound books."""

import uuid
from decimal import Decimal as D

import pytest
from django.core.management import call_command
from django.db import connection

from inventory.models import AverageCost, Held, Movement, Price, Stock
from inventory.services import movements
from inventory.services.places import counter
from jobs.models import Fitted, TakenOut
from jobs.services.auditing import audit_all
from jobs.services.fitting import fit, take_out
from tests.factories import (
    ComponentTypeFactory,
    PartFactory,
    PlaceFactory,
    PriceFactory,
    StoreFactory,
    SupplierFactory,
    VisitFactory,
    put,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def books():
    """One of everything that the audit looks at."""
    visit, part, store = VisitFactory(), PartFactory(), StoreFactory()
    put(part, visit.place, 5, "10.00")
    put(part, store, 5, "12.00")
    movements.buy(SupplierFactory(), part, D(2), into=visit.place, event=uuid.uuid4(), price=D(20), job_number="J1")
    kind = ComponentTypeFactory()
    first = fit(event=uuid.uuid4(), visit=visit, part=part, component=kind, quantity=D(2), why="failed")
    take_out(event=uuid.uuid4(), fitted=first, condition="opened")
    fit(event=uuid.uuid4(), visit=visit, part=part, component=kind, quantity=D(1), why="planned")
    wrong = put(part, store, 1, "99.00")
    movements.undo(wrong.event, event=uuid.uuid4())
    PriceFactory(price_ex_vat=D(9), pack=D(3), price_per_piece=D(3))
    return visit


def without_guards(sql, *values):
    """What nobody can do while the guards are up."""
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")
            for (name,) in cursor.fetchall():
                cursor.execute(f'DROP TRIGGER "{name}"')
        else:
            cursor.execute("SET LOCAL session_replication_role = replica")
        cursor.execute(sql, values)


def test_sound_books_have_no_differences(books):
    assert audit_all() == []
    call_command("audit", verbosity=0)


def test_a_changed_balance_is_found(books):
    Stock.objects.filter(on_hand__gt=3).update(on_hand=99)
    assert {d.what for d in audit_all()} == {"balance"}


def test_a_missing_balance_is_found(books):
    Stock.objects.filter(place__kind="store").delete()
    assert "balance" in {d.what for d in audit_all()}


def test_a_changed_average_is_found(books):
    AverageCost.objects.update(unit_cost=D("1.0000"))
    assert {d.what for d in audit_all()} == {"average cost"}


def test_more_kept_for_jobs_than_there_is_is_found(books):
    Held.objects.create(place=PlaceFactory(), part=PartFactory(), quantity=1, job_number="J1")
    assert {d.what for d in audit_all()} == {"kept for jobs"}


def test_a_forgotten_purchase_for_a_job_is_found(books):
    Held.objects.update(released_at="2026-01-01T00:00:00Z")
    assert {d.what for d in audit_all()} == {"bought for a job"}


def test_a_changed_fitted_quantity_is_found(books):
    Fitted.objects.filter(why="planned").update(quantity=7)
    assert {d.what for d in audit_all()} == {"fitted quantity"}


def test_a_changed_fitted_cost_is_found(books):
    Fitted.objects.filter(why="planned").update(cost=D("0.01"))
    assert {d.what for d in audit_all()} == {"fitted cost"}


def test_a_lost_fitted_part_is_found(books):
    Fitted.objects.filter(why="planned").delete()
    assert {d.what for d in audit_all()} == {"fitted part"}


def test_a_part_taken_out_in_another_quantity_is_found(books):
    out = TakenOut.objects.get()
    Fitted.objects.filter(pk=out.fitted_id).update(quantity=3)
    assert {d.what for d in audit_all()} == {"fitted quantity", "taken out"}


def test_a_movement_changed_behind_our_back_is_found(books):
    undone = Movement.objects.get(reason="undone")
    without_guards("UPDATE inventory_movement SET quantity = 3 WHERE id = %s", undone.pk)
    assert {"undone", "balance"} <= {d.what for d in audit_all()}


def test_a_movement_lost_behind_our_back_is_found(books):
    lost = Movement.objects.filter(destination=counter("fitted")).latest("pk")
    without_guards("DELETE FROM inventory_movement WHERE id = %s", lost.pk)
    assert {"balance", "fitted quantity"} <= {d.what for d in audit_all()}
    without_guards("DELETE FROM jobs_fitted WHERE movement_id = %s", lost.pk)


def test_a_price_per_piece_that_does_not_follow_is_found(books):
    without_guards("UPDATE inventory_price SET price_per_piece = 4 WHERE id = %s", Price.objects.get().pk)
    assert "price per piece" in {d.what for d in audit_all()}


def test_a_missing_guard_is_found(books):
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("DROP TRIGGER movement_append_only_UPDATE")
        else:
            cursor.execute("DROP TRIGGER movement_append_only ON inventory_movement")
    assert {d.what for d in audit_all()} == {"append-only guard"}
    with pytest.raises(SystemExit):
        call_command("audit", verbosity=0)
