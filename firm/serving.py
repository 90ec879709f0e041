"""The web server: granian, with workers that share nothing but the database."""

import os

from django.core.management import call_command


def serve(address, port, workers):
    """Serve until stopped. Static files are gathered first where they are served by hashed names."""
    from django.conf import settings
    from granian import Granian
    from granian.constants import Interfaces

    if not settings.WHITENOISE_USE_FINDERS:
        call_command("collectstatic", interactive=False, verbosity=0)
    os.environ.setdefault("SECRET_KEY", settings.SECRET_KEY)  # all workers sign with one key
    Granian(
        "firm.wsgi:application",
        address=address,
        port=port,
        interface=Interfaces.WSGI,
        workers=workers,
        blocking_threads=2,
        websockets=False,
        log_level="warning",
    ).serve()
