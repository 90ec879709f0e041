"""`manage.py serve`: the production server."""

import os

from django.core.management.base import BaseCommand, CommandError
from django.db import connection
from django.db.migrations.executor import MigrationExecutor

from firm.serving import serve


class Command(BaseCommand):
    help = "Serves Spares Book; behind a proxy that ends TLS, or with HTTPS=0 in a firm's own network."

    def add_arguments(self, parser):
        parser.add_argument("--address", default="127.0.0.1")
        parser.add_argument("--port", type=int, default=8000)
        parser.add_argument("--workers", type=int, default=min(4, os.cpu_count() or 1))

    def handle(self, *, address, port, workers, verbosity, **options):
        executor = MigrationExecutor(connection)
        if executor.migration_plan(executor.loader.graph.leaf_nodes()):
            raise CommandError("The database is not up to date: run `python3 manage.py migrate` first.")
        connection.close()
        if verbosity:
            self.stdout.write(f"Spares Book on http://{address}:{port}/ with {workers} workers. Stop with Ctrl-C.")
        serve(address, port, workers)
