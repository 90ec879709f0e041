"""What every test may rely on. Without Chromium or PostgreSQL their tests are left out; with CI set that fails."""

import os
import shutil

import pytest
from django.core.cache import cache
from django.db import connection, connections

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")


def pytest_collection_modifyitems(config, items):
    left_out = {"browser": "no Chromium"} if CHROMIUM is None else {}
    if "postgres" not in os.environ.get("DATABASE_URL", ""):
        left_out["postgresql"] = "no PostgreSQL"
    dropped = [item for item in items for mark in left_out if item.get_closest_marker(mark)]
    if "browser" in left_out and os.environ.get("CI"):
        raise pytest.UsageError("CI is set, but there is no Chromium: the browser tests cannot run.")
    if dropped:
        items[:] = [item for item in items if item not in dropped]
        config.hook.pytest_deselected(items=dropped)
        print(f"left out {len(dropped)} tests: {', '.join(sorted(set(left_out.values())))}")


@pytest.fixture(autouse=True)
def _nothing_is_remembered():
    """What is kept under the newest primary keys would be found again after a rollback."""
    cache.clear()


@pytest.fixture
def figures_in_files(tmp_path, settings):
    """Figures kept in files of this folder, as a server and all its processes keep them."""
    backend = "django.core.cache.backends.filebased.FileBasedCache"
    settings.CACHES = settings.CACHES | {"figures": {"BACKEND": backend, "LOCATION": tmp_path}}
    settings.SHARED_FIGURES = True
    return tmp_path


@pytest.fixture
def owner(client):
    """A browser in which the owner has signed in."""
    from tests.factories import OwnerFactory  # models are there only once Django is set up

    client.force_login(OwnerFactory())
    return client


GUARDS = {}  # name: SQL of the append-only triggers of SQLite, while they are down


@pytest.fixture(autouse=True)
def _guards_let_a_flush_through(request):
    """A transaction test ends with DELETE FROM every table, which SQLite's append-only guards refuse."""
    marker = request.node.get_closest_marker("django_db")
    asked = {"transactional_db", "live_server"} & set(request.fixturenames)
    if not asked and not (marker and marker.kwargs.get("transaction")):
        yield
        return
    request.getfixturevalue("transactional_db")
    if connection.vendor == "sqlite":
        put_up_guards()
        yield
        take_down_guards()
    else:
        yield


def take_down_guards():
    with connection.cursor() as cursor:
        cursor.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'")
        GUARDS.update(cursor.fetchall())
        for name in GUARDS:
            cursor.execute(f'DROP TRIGGER IF EXISTS "{name}"')


def put_up_guards():
    with connection.cursor() as cursor:
        for sql in GUARDS.values():
            cursor.execute(sql)
    GUARDS.clear()


@pytest.fixture
def file_database(tmp_path):
    """Threads cannot share SQLite's memory database as processes share a file: copy it into one for the test."""
    if connection.vendor != "sqlite":
        yield
        return
    name = connection.settings_dict["NAME"]
    path = tmp_path / "concurrent.sqlite3"
    with connection.cursor() as cursor:
        cursor.execute("VACUUM INTO %s", [str(path)])
    connection.close_if_unusable_or_obsolete()
    keeper = connection.connection
    connection.connection = None
    connection.settings_dict["NAME"] = str(path)
    connection.features.test_db_allows_multiple_connections = True
    yield
    connections.close_all()
    if connection.connection is not None:
        connection.connection.close()
    connection.settings_dict["NAME"] = name
    connection.connection = keeper
