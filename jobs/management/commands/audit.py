"""`manage.py audit`: recompute the books from the ledger and name each difference."""

from django.core.management.base import BaseCommand

from inventory.models import Movement
from jobs.services.auditing import audit_all


class Command(BaseCommand):
    help = "Recomputes every balance, average cost and fitted part from the ledger; exits 1 if anything differs."

    def handle(self, *, verbosity, **options):
        differences = audit_all()
        for difference in differences:
            self.stdout.write(str(difference))
        if verbosity:
            movements = Movement.objects.count()
            self.stdout.write(f"{movements} movements recomputed, {len(differences)} differences.")
        if differences:
            raise SystemExit(1)
