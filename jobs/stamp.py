"""What was last written: a text that changes with it, for figures that rest on what is written (jobs/figures.py)."""

from django.contrib.admin.models import LogEntry
from django.db import connection

from firm.models import Sent
from inventory.models import CarryLevel, CostCorrection, Count, CountWanted, Movement, Price
from jobs.models import Appliance, Charge, Earlier, Finding, Fitted, Job, Needed, TakenOut, Visit

WATCHED = [Job, Visit, Finding, Fitted, TakenOut, Needed, Charge, Appliance, Earlier, Movement, CostCorrection, Count]
WATCHED += [CountWanted, Price]
OF_WORK = [Job, Visit, Finding, Fitted, TakenOut, Appliance, Earlier]
CHANGED = {  # what is written into rows that stand already
    Visit: "COUNT(*) FROM {table} WHERE outcome <> ''",
    Fitted: "COUNT(charge_ex_vat) FROM {table}",
    CountWanted: "COUNT(*) FROM {table} WHERE done_at IS NULL",
    CarryLevel: "MAX(since) FROM {table}",
}
OF_STOCK = """
counts passes pass bought count top-up move level order draft draft-dropped order-sent receipt price-file price-columns
price-file-booked keep keep-moved keep-released need-settled charge bill part-charge load load-proposal load-fixed
load-let-go back-test moves move-done moves-done refusal-settled
"""  # kinds of what is sent that say nothing of appliances or work
NEWEST = "{what} FROM {table} {where} ORDER BY id DESC LIMIT 1"


def stamp(of_work=False):
    """A text that changes when something is recorded; of_work: only when appliances or work are. One query.

    What was sent last has a number made by chance, and each database the moment it was made: no two databases, and
    no database before and after it was put back from a copy, have one stamp for different records.
    """
    asked = [f"MAX(id) FROM {model._meta.db_table}" for model in (OF_WORK if of_work else WATCHED)]
    changed = {Visit: CHANGED[Visit]} if of_work else CHANGED
    asked += [what.format(table=model._meta.db_table) for model, what in changed.items()]
    others = ", ".join(f"'{kind}'" for kind in OF_STOCK.split())
    where = f"WHERE kind NOT IN ({others})" if of_work else ""
    asked.append(NEWEST.format(what="uuid", table=Sent._meta.db_table, where=where))
    asked.append(NEWEST.format(what="action_time", table=LogEntry._meta.db_table, where=""))
    asked.append("MAX(applied) FROM django_migrations")
    with connection.cursor() as cursor:
        cursor.execute("SELECT " + ", ".join(f"(SELECT {one})" for one in asked))
        return "-".join(str(told or 0) for told in cursor.fetchone())
