#!/usr/bin/env python3
"""Run Spares Book: `python3 manage.py demo`, `python3 manage.py test`. Prepares its own .venv first."""

import os
import sys

DEVELOPER_COMMANDS = {"test", "makemigrations", "bench", "coverage"}

if not (3, 11) <= sys.version_info[:2] <= (3, 13):
    found = sys.version.split()[0]
    sys.exit(
        "manage.py: Python 3.11, 3.12 or 3.13 is needed; this is %s (%s). Try: python3.11 manage.py %s"
        % (found, sys.executable, " ".join(sys.argv[1:]))
    )

if __name__ == "__main__":
    from firm.bootstrap import ensure

    ensure("dev" if sys.argv[1:2] and sys.argv[1] in DEVELOPER_COMMANDS else "run")
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "firm.settings")
    from django.core.management import execute_from_command_line

    execute_from_command_line(sys.argv)
