"""`manage.py load_trade` writes the trade tables; a second time changes nothing."""

from django.core.management.base import BaseCommand

from inventory.models import Caution, ComponentType
from jobs.figures import forget
from jobs.models import Symptom
from jobs.services.trade import load_trade_tables


class Command(BaseCommand):
    help = "Loads the usual component types, symptoms and cautions of the trade."

    def handle(self, *, verbosity, **options):
        load_trade_tables()
        forget()
        if verbosity:
            counts = [ComponentType.objects.count(), Symptom.objects.count(), Caution.objects.count()]
            self.stdout.write("{} component types, {} symptoms, {} cautions.".format(*counts))
