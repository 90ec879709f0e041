"""`manage.py test ARGS` runs pytest with ARGS."""

import sys

from django.core.management.base import BaseCommand


class Command(BaseCommand):
    help = "Runs every test with pytest; each argument is passed on."
    requires_system_checks: list[str] = []

    def run_from_argv(self, argv):
        """Hand the arguments to pytest before Django's parser sees -k, -n or --lf."""
        import pytest

        sys.exit(pytest.main(argv[2:]))

    def handle(self, *args, **options):
        import pytest

        raise SystemExit(pytest.main(list(args)))
