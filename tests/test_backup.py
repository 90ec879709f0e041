"""A copy is verified, never written over another, and comes back as it was."""

import sqlite3

import pytest
from django.core.management import CommandError, call_command
from django.db import connection

from firm.backing_up import CannotBackUp, verify_sqlite
from inventory.models import Movement
from tests.factories import PartFactory, PlaceFactory, put

pytestmark = pytest.mark.django_db(transaction=True)


def test_a_backup_holds_the_ledger_and_its_guards(tmp_path, capsys):
    put(PartFactory(), PlaceFactory(), 3)
    call_command("backup", str(tmp_path / "copy"))
    assert "verified" in capsys.readouterr().out
    if connection.vendor == "sqlite":
        copy = sqlite3.connect(tmp_path / "copy")
        assert copy.execute("SELECT quantity FROM inventory_movement").fetchall() == [(3,)]
        with pytest.raises(sqlite3.IntegrityError, match="append-only"):
            copy.execute("DELETE FROM inventory_movement")
        copy.close()
    with pytest.raises(CommandError, match="exists already"):
        call_command("backup", str(tmp_path / "copy"))


def test_a_broken_copy_is_refused(tmp_path):
    path = tmp_path / "broken"
    path.write_bytes(b"SQLite format 3\x00" + b"\x01" * 4096)
    with pytest.raises(CannotBackUp, match="no sound copy"):
        verify_sqlite(path)


def test_restore_asks_first_and_refuses_what_is_no_copy(tmp_path):
    put(PartFactory(), PlaceFactory(), 3)
    path = tmp_path / "no-copy"
    path.write_text("not a database")
    with pytest.raises(CommandError, match="--yes"):
        call_command("restore", str(path))
    with pytest.raises(CommandError, match="no sound copy"):
        call_command("restore", str(path), "--yes")
    assert Movement.objects.count() == 1


def test_a_backup_comes_back_as_it_was(tmp_path, settings):
    """SQLite only by file: the tests' own database lives in memory; .ci/run does the same for PostgreSQL."""
    put(PartFactory(), PlaceFactory(), 3)
    call_command("backup", str(tmp_path / "copy"), verbosity=0)
    if connection.vendor == "sqlite":
        assert "1 movements" in verify_sqlite(tmp_path / "copy")
        return
    call_command("restore", str(tmp_path / "copy"), "--yes", verbosity=0)
    assert Movement.objects.get().quantity == 3
