"""`manage.py restore FILE --yes`: put a verified copy in the place of the database."""

from django.core.management.base import BaseCommand, CommandError

from firm.backing_up import CannotBackUp, restore


class Command(BaseCommand):
    help = "Puts the copy in FILE in the place of the database. Stop the server first; say --yes."

    def add_arguments(self, parser):
        parser.add_argument("file")
        parser.add_argument("--yes", action="store_true", help="What stands in the database now is lost.")

    def handle(self, *, file, yes, verbosity, **options):
        if not yes:
            raise CommandError("What stands in the database now would be lost: stop the server and say --yes.")
        try:
            said = restore(file)
        except CannotBackUp as error:
            raise CommandError(str(error)) from error
        if verbosity:
            self.stdout.write(f"{file} restored; {said}")
