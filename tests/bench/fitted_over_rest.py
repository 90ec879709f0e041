"""One fitted part over REST against the raw transaction of the same statements, interleaved in one run.

On an empty, migrated database: DATABASE_URL=… SECRET_KEY=… HTTPS=0 python -m tests.bench.fitted_over_rest [TIMES]
"""

import logging
import os
import statistics
import sys
import time
import uuid

import django


def main(times):
    from django.db import connection

    from tests.api_phone import Firm
    from tests.factories import put

    firm = Firm()
    put(firm.part, firm.van, 10 * times)
    send(firm)
    statements = recorded(connection, lambda: send(firm))
    replay = Replay(connection, statements)
    for work in (lambda: send(firm), replay):
        work()
    rest, raw = interleaved(lambda: send(firm), replay, times)
    print(f"{connection.vendor}: {len(statements)} statements, {times} times, median")
    print(f"REST {rest * 1000:.2f} ms, raw {raw * 1000:.2f} ms, ratio {rest / raw:.2f}")


def send(firm):
    answer = firm.phone.post("fitted/", firm.fitted())
    if answer.status_code != 201:
        raise SystemExit(f"not booked: {answer.content}")


def recorded(connection, work):
    """The statements that `work` runs, with their values; savepoints and the transaction's own words left out."""
    found = []

    def watch(execute, sql, params, many, context):
        if not sql.startswith(("BEGIN", "SAVEPOINT", "RELEASE")):
            found.append((sql, list(params or [])))
        return execute(sql, params, many, context)

    with connection.execute_wrapper(watch):
        work()
    return found


class Replay:
    """Runs the same statements on the driver itself, each time for a new event."""

    def __init__(self, connection, statements):
        self.lite = connection.vendor == "sqlite"
        self.driver = connection.connection if self.lite else connection.connection.cursor()
        self.statements = [(sql.replace("%s", "?") if self.lite else sql, params) for sql, params in statements]
        movement = next(params for sql, params in statements if sql.startswith('INSERT INTO "inventory_movement"'))
        self.event = movement[0]
        self.first = next(i for i, (sql, _) in enumerate(statements) if '"firm_sent"' in sql)
        self.last = max(i for i, (sql, _) in enumerate(statements) if sql.startswith("INSERT"))
        self.movement = None

    def __call__(self):
        event = uuid.uuid4()
        event = event.hex if self.lite else event
        for place, (sql, params) in enumerate(self.statements):
            if place == self.first + 1:
                self.driver.execute("BEGIN IMMEDIATE" if self.lite else "BEGIN")
            values = [event if value == self.event else value for value in params]
            if sql.startswith('INSERT INTO "jobs_fitted"'):
                values[_movement_column(sql)] = self.movement
            cursor = self.driver.execute(sql, values)
            rows = cursor.fetchall() if sql.startswith("SELECT") or "RETURNING" in sql else []
            if sql.startswith('INSERT INTO "inventory_movement"'):
                self.movement = rows[0][0]
            if place == self.last:
                self.driver.execute("COMMIT")


def _movement_column(sql):
    columns = sql[sql.index("(") + 1 : sql.index(")")].replace('"', "").split(", ")
    return columns.index("movement_id")


def interleaved(first, second, times):
    """Median seconds of each, run in turns."""
    spent = [[], []]
    for _ in range(times):
        for place, work in enumerate((first, second)):
            start = time.perf_counter()
            work()
            spent[place].append(time.perf_counter() - start)
    return [statistics.median(seconds) for seconds in spent]


if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "firm.settings")
    django.setup()
    from django.conf import settings

    settings.ALLOWED_HOSTS = ["*"]
    logging.disable(logging.ERROR)
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 200)
