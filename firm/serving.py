"""The web server: granian, with workers that share nothing but the database and the figures kept in files."""

import contextlib
import os
import signal
from importlib import import_module
from multiprocessing import Event, Process

import django
from django.core.management import call_command
from django.db import connections

PATIENCE = 5.0  # seconds that serving waits for figures, so that the first visitors need not


def serve(address, port, workers):
    """Serve until stopped. Static files are gathered first where they are served by hashed names."""
    from django.conf import settings
    from granian import Granian
    from granian.constants import Interfaces

    if not settings.WHITENOISE_USE_FINDERS:
        call_command("collectstatic", interactive=False, verbosity=0)
    os.environ.setdefault("SECRET_KEY", settings.SECRET_KEY)  # all workers sign with one key
    os.register_at_fork(after_in_child=_leave_ctrl_c_to_parent)
    import_module(settings.ROOT_URLCONF)  # read here once, all processes begin with it
    connections.close_all()  # none may be open in two processes
    if settings.SHARED_FIGURES:
        ready = Event()
        Process(target=_reckon_beside, args=(ready,), name="reckon", daemon=True).start()
        ready.wait(PATIENCE)
    Granian(
        "firm.wsgi:application",
        address=address,
        port=port,
        interface=Interfaces.WSGI,
        workers=workers,
        blocking_threads=2,
        workers_kill_timeout=10,
        websockets=False,
        log_level="warning",
    ).serve()


def _leave_ctrl_c_to_parent():
    """It ends its processes; a worker that is told so twice at the same moment may wait for itself for ever."""
    signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})


def _reckon_beside(ready):
    """The usual figures, in a process of its own: first while serving waits for them, then behind all others."""
    server = os.getppid()
    django.setup()
    with contextlib.suppress(Exception):  # the next round says what was wrong
        call_command("reckon", verbosity=0)
    ready.set()
    os.nice(10)
    if os.getppid() == server:
        call_command("reckon", keep_on=True, verbosity=0)
