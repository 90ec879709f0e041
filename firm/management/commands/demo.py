"""`manage.py demo`: an invented firm up to today, served on this machine."""

import tempfile
from pathlib import Path

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand
from django.db import connection
from django.utils import timezone

from firm.models import Setting, User, UserQuerySet
from firm.serving import serve

PASSWORD = "weir-bank-heating"
PEOPLE = [
    ("ruth", "Ruth Aldous", {"is_owner": True, "is_staff": True, "is_superuser": True}),
    ("mabel", "Mabel Quill", {"is_office": True}),
]


class Command(BaseCommand):
    help = "Makes the invented firm up to today (anew each day), prints the sign-ins and serves it."

    def add_arguments(self, parser):
        parser.add_argument("--port", type=int, default=8000)
        parser.add_argument("--keep", action="store_true", help="Keep what stands in the demo's database.")
        parser.add_argument("--no-serve", action="store_true", help="Only make the firm.")

    def handle(self, *, port, keep, no_serve, verbosity, **options):
        if not keep:
            self._forget_yesterday()
        call_command("migrate", verbosity=0)
        if not User.objects.exists():
            self._make_firm(verbosity)
            if settings.SHARED_FIGURES and not no_serve:
                call_command("reckon", verbosity=0)
        connection.close()
        self._say_who(port)
        if not no_serve:
            serve("127.0.0.1", port, workers=1)

    def _forget_yesterday(self):
        """Begin anew where the demo's own file is from another day, so that Today is never empty."""
        path = Path(settings.OWN_FILE)
        if str(settings.DATABASES["default"]["NAME"]) != str(path) or not path.exists():
            return
        if self._made_on() != timezone.localdate():
            connection.close()
            for file in path.parent.glob(path.name + "*"):
                file.unlink()

    def _made_on(self):
        """The day on which the demo's people were made, or None where it was never finished."""
        if User._meta.db_table not in connection.introspection.table_names():
            return None
        ruth = User.objects.filter(username="ruth").first()
        return timezone.localdate(ruth.date_joined) if ruth else None

    def _make_firm(self, verbosity):
        day = timezone.localdate()
        self.stdout.write(f"Making the invented firm up to {day} …")
        with tempfile.TemporaryDirectory() as folder:
            call_command("make_demo", folder, day=str(day), verbosity=0)
            call_command("import_firm", folder, verbosity=verbosity)
        Setting.objects.filter(pk=1).update(firm_name="Weir Bank Heating")
        for engineer in UserQuerySet(User).engineers():
            engineer.set_password(PASSWORD)
            engineer.save(update_fields=["password"])
        for username, name, roles in PEOPLE:
            User.objects.create_user(username, password=PASSWORD, name=name, **roles)

    def _say_who(self, port):
        rows = [("owner", "ruth"), ("office", "mabel")]
        rows += [("engineer", user.username) for user in UserQuerySet(User).engineers()[:2]]
        self.stdout.write("\nSign in (everything here is invented):")
        for role, username in rows:
            self.stdout.write(f"  {role:<9} {username:<12} {PASSWORD}")
        self.stdout.write(f"\nhttp://127.0.0.1:{port}/   stop with Ctrl-C\n")
        self.stdout.flush()
