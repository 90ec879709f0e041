"""`manage.py backup FILE`: an online, verified copy of the database."""

from django.core.management.base import BaseCommand, CommandError

from firm.backing_up import CannotBackUp, backup


class Command(BaseCommand):
    help = "Copies the database to FILE while others work, and verifies the copy."

    def add_arguments(self, parser):
        parser.add_argument("file")

    def handle(self, *, file, verbosity, **options):
        try:
            said = backup(file)
        except CannotBackUp as error:
            raise CommandError(str(error)) from error
        if verbosity:
            self.stdout.write(f"{file}: {said}")
