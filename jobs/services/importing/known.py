"""What may be referred to: the rows of the files, those in the database, and the trade tables."""

from functools import cached_property
from itertools import chain

from django.db.models import Min

from inventory.models import ApplianceModel, ComponentType, Part, Place, Supplier
from inventory.services.places import COUNTER_NAMES
from jobs.models import Appliance, Customer, Job, Visit
from jobs.services.trade import trade_rows

NUMBERED = {
    "component_types": (ComponentType, "key"),
    "appliance_models": (ApplianceModel, "key"),
    "parts": (Part, "number"),
    "suppliers": (Supplier, "key"),
    "places": (Place, "key"),
    "customers": (Customer, "number"),
    "appliances": (Appliance, "number"),
    "jobs": (Job, "number"),
    "visits": (Visit, "number"),
}
CUSTOMERS_OWN = f"({Place.Kind.CUSTOMERS_OWN.value})"


class Known:
    """Keys by table. A file that could not be read to its end may name anything, so nothing is missing from it."""

    def __init__(self, files):
        self.files = files
        self.in_trade_tables = {row["key"] for row in trade_rows("components")}
        self._stored = {}

    def has(self, table, key):
        """Whether `key` may be referred to in `table`."""
        if table == "sources":
            return self.has("places", key) or self.has("suppliers", key) or key in {CUSTOMERS_OWN, "customers-own"}
        read = self.files.get(table)
        if read is not None and (read.broken or key in read.numbers):
            return True
        return self.made_as_needed(table, key) or key in self.stored(table)

    def made_as_needed(self, table, key):
        """Without a file of their own, customers and appliance models are made as they are named."""
        if table == "component_types":
            return key in self.in_trade_tables
        if self.has_rows(table):
            return False
        if table == "customers":
            return True
        read = self.files.get("appliances")
        some_refused = read is not None and (read.broken or len(read.rows) < read.seen)
        return table == "appliance_models" and (some_refused or key in self.models_named)

    @property
    def models_named(self):
        """{model: first row} that the file of appliances names."""
        if "models" not in self._stored:
            read = self.files.get("appliances")
            rows = read.rows if read else []
            self._stored["models"] = {row.model: row for row in reversed(rows)}
        return self._stored["models"]

    @cached_property
    def jobs(self):
        """{job: (appliance, kind, reported_on, return_of)} of database and files."""
        stored = Job.objects.values_list("number", "appliance__number", "kind", "reported_on", "return_of__number")
        return merged(self.files, "jobs", stored, "job", ["appliance", "kind", "reported_on", "return_of"])

    @cached_property
    def visits(self):
        """{visit: (job, on, place)} of database and files."""
        stored = Visit.objects.values_list("number", "job__number", "on", "place__key")
        return merged(self.files, "visits", stored, "visit", ["job", "on", "place"])

    def appliance_of(self, row):
        """The appliance that a row of a visit is about: the one it names, else that of the job."""
        job = self.visits.get(row.visit, (None,))[0]
        return row.appliance or self.jobs.get(job, (None,))[0]

    def has_rows(self, table):
        read = self.files.get(table)
        return read is not None and (read.seen > 0 or read.broken)

    def stored(self, table):
        """The keys of a table in the database (places: those that hold stock)."""
        if table not in self._stored:
            model, field = NUMBERED[table]
            rows = Place.objects.held() if table == "places" else model.objects.all()
            self._stored[table] = set(rows.values_list(field, flat=True).iterator(10_000))
        return self._stored[table]

    def reserved_places(self):
        """Keys that the ledger's own counter-places have or will have."""
        counters = {f"({kind.value})" for kind in COUNTER_NAMES}
        return counters | set(Place.objects.exclude(kind__in=Place.HELD).values_list("key", flat=True))


def rows_of(files, table):
    """The rows of a file without a fault; none where there is no such file."""
    return files[table].rows if table in files else []


def merged(files, table, stored, key, wanted):
    """{key: tuple of `wanted` columns} of a table: the database, overlaid by the file.

    stored: a QuerySet of tuples (key, *wanted).
    """
    found = {row[0]: tuple(row[1:]) for row in stored.iterator(10_000)}
    for row in rows_of(files, table):
        found[getattr(row, key)] = tuple(getattr(row, name) for name in wanted)
    return found


def first_contacts():
    """{appliance pk: day} of the first report or visit of every appliance in the database that had one."""
    visited = dict(Visit.objects.order_by().values_list("job_id").annotate(Min("on")).iterator(10_000))
    first = {}
    for job, reported in Job.objects.values_list("pk", "reported_on").iterator(10_000):
        first[job] = min(reported, visited.get(job, reported))
    about = Job.objects.order_by().values_list("appliance_id", "pk")
    also = Job.also.through.objects.values_list("appliance_id", "job_id")
    found = {}
    for appliance, job in chain(about.iterator(10_000), also.iterator(10_000)):
        found[appliance] = min(first[job], found.get(appliance, first[job]))
    return found


def care_starts(appliances):
    """Yield (appliance, day): each with the day from which it is in care: as written, else the first contact, else
    the day on which it was entered."""
    contacts = first_contacts()
    for appliance in appliances:
        yield appliance, appliance.in_care_from or contacts.get(appliance.pk) or appliance.entered_on
