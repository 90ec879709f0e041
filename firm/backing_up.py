"""Online copies of the database, verified: SQLite by its own backup, PostgreSQL by pg_dump."""

import contextlib
import os
import shutil
import sqlite3
import subprocess
from pathlib import Path

from django.core.cache import caches
from django.db import connection


class CannotBackUp(Exception):
    """No sound copy could be made or put back; what was there stands untouched."""


def backup(target):
    """Copy the database to the file `target` while others write; return a line about what was verified."""
    target = Path(target)
    if target.exists():
        raise CannotBackUp(f"{target} exists already; a backup never writes over another.")
    target.parent.mkdir(parents=True, exist_ok=True)
    part = target.with_name(target.name + ".part")
    part.unlink(missing_ok=True)
    try:
        said = _backup_sqlite(part) if connection.vendor == "sqlite" else _backup_postgresql(part)
        part.replace(target)
    finally:
        part.unlink(missing_ok=True)
    return said


def restore(source):
    """Put the copy `source` in the place of the database; return a line about what was verified."""
    source = Path(source)
    if not source.is_file():
        raise CannotBackUp(f"There is no file {source}.")
    said = _restore_sqlite(source) if connection.vendor == "sqlite" else _restore_postgresql(source)
    with contextlib.suppress(OSError):  # files of somebody else; no stamp of theirs fits these records
        caches["figures"].clear()
    return said


def _backup_sqlite(part):
    connection.ensure_connection()
    with sqlite3.connect(part) as copy:
        connection.connection.backup(copy, pages=-1)  # in steps it would begin again at each write of others
    copy.close()
    return verify_sqlite(part)


def verify_sqlite(path):
    """Check a SQLite file through and through, or raise CannotBackUp."""
    try:
        copy = sqlite3.connect(f"file:{path}?mode=ro", uri=True)
        broken = copy.execute("PRAGMA integrity_check").fetchone()[0]
        loose = copy.execute("PRAGMA foreign_key_check").fetchall()
        movements = copy.execute("SELECT count(*) FROM inventory_movement").fetchone()[0]
        guards = copy.execute("SELECT count(*) FROM sqlite_master WHERE type = 'trigger'").fetchone()[0]
        copy.close()
    except sqlite3.DatabaseError as error:
        raise CannotBackUp(f"{path} is no sound copy: {error}") from error
    if broken != "ok" or loose or not guards:
        raise CannotBackUp(f"{path} is no sound copy: {broken}, {len(loose)} loose references, {guards} guards.")
    return f"verified: integrity ok, no loose reference, {movements} movements"


def _restore_sqlite(source):
    said = verify_sqlite(source)
    name = Path(connection.settings_dict["NAME"])
    connection.close()
    part = name.with_name(name.name + ".restoring")
    shutil.copyfile(source, part)
    verify_sqlite(part)
    for tail in ("-wal", "-shm"):
        name.with_name(name.name + tail).unlink(missing_ok=True)
    part.replace(name)
    return said


def _postgresql(program, *arguments):
    if shutil.which(program) is None:
        raise CannotBackUp(f"{program} is not installed: apt install postgresql-client.")
    settings = connection.settings_dict
    environment = os.environ | {"PGPASSWORD": settings.get("PASSWORD") or ""}
    command = [program, "--dbname", settings["NAME"], "--username", settings["USER"]]
    command += ["--host", settings.get("HOST") or "localhost", "--port", str(settings.get("PORT") or 5432)]
    run = subprocess.run([*command, *arguments], env=environment, capture_output=True, text=True)
    if run.returncode:
        raise CannotBackUp(f"{program} failed: {run.stderr.strip()[-500:]}")


def _backup_postgresql(part):
    _postgresql("pg_dump", "--format=custom", "--file", str(part))
    return _verify_dump(part)


def _verify_dump(path):
    run = subprocess.run(["pg_restore", "--list", str(path)], capture_output=True, text=True)
    if run.returncode or "inventory_movement" not in run.stdout or "movement_append_only" not in run.stdout:
        raise CannotBackUp(f"{path} is no sound copy: {run.stderr.strip()[-500:]}")
    return f"verified: {sum('TABLE DATA' in line for line in run.stdout.splitlines())} tables, guards included"


def _restore_postgresql(source):
    said = _verify_dump(source)
    connection.close()
    _postgresql(
        "pg_restore", "--clean", "--if-exists", "--no-owner", "--single-transaction", "--exit-on-error", str(source)
    )
    return said
