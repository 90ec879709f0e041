"""Write a firm that has been read and checked: one transaction, all or nothing."""

from django.db import transaction

from firm.models import Setting
from jobs.figures import forget
from jobs.services.importing import write_care, write_catalogue, write_fitted, write_supply, write_work
from jobs.services.importing.known import Known
from jobs.services.trade import load_trade_tables


@transaction.atomic
def write(files, progress, by):
    """Write every file; raises Refused, and changes nothing, where what is booked has changed since the check."""
    Setting.objects.get_or_create(pk=1)
    Setting.objects.select_for_update().get(pk=1)  # one import at a time
    load_trade_tables()
    write_catalogue.write_settings(files)
    write_catalogue.write_component_types(files)
    write_catalogue.write_models(files)
    write_catalogue.write_parts(files)
    write_catalogue.write_recipes(files)
    write_supply.write_suppliers(files)
    write_supply.write_prices(files, progress)
    write_supply.write_engineers(files)
    write_supply.write_places(files)
    write_care.write_customers(files)
    write_care.write_appliances(files, progress)
    write_care.write_earlier(files)
    write_work.write_jobs(files, progress)
    write_work.write_visits(files, progress)
    write_supply.write_stock(files, by)  # late: it holds the parts' locks until the end
    known = Known(files)
    write_work.write_findings(files, known)
    write_fitted.write_fitted(files, known, progress, by)
    write_work.write_needed(files, known)
    write_work.write_charges(files)
    write_work.write_other_appliances(files, known)
    transaction.on_commit(forget)  # known rows may say something else now
