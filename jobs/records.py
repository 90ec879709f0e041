"""The firm's records as arrays for life history: a few wide queries, no object per row."""

from dataclasses import dataclass
from datetime import date
from itertools import chain

import numpy as np
from django.db.models import Case, Func, IntegerField, Value, When
from django.db.models.functions import Cast, Coalesce, Floor

from inventory.models import ApplianceModel, ComponentType, ModelComponent, Offer, Part, Place, Supplier
from jobs.models import Appliance, Earlier, Finding, Fitted, Job, Visit
from jobs.reliability import history
from jobs.reliability.history import NO_DAY, NONE, Records
from jobs.reliability.history.ragged import look_up, runs_of_equal

EPOCH = date(1970, 1, 1)
NEVER = 10_000_000  # a day after any other


class AsRead:
    """An integer expression whose values need no conversion in Python: a third of the time of reading."""

    def get_db_converters(self, connection):
        return []


class Choice(AsRead, Case):
    pass


class FirstGiven(AsRead, Coalesce):
    pass


class DayNumber(AsRead, Func):
    """Whole days since 1970-01-01 of a date, NO_DAY of none: an integer, read faster than a date."""

    output_field = IntegerField()

    def as_sqlite(self, compiler, connection, **context):
        template = f"COALESCE(CAST(julianday(%(expressions)s) - 2440587.5 AS INTEGER), {NO_DAY})"
        return self.as_sql(compiler, connection, template=template, **context)

    def as_postgresql(self, compiler, connection, **context):
        template = f"COALESCE(%(expressions)s - DATE '1970-01-01', {NO_DAY})"
        return self.as_sql(compiler, connection, template=template, **context)


class Moment(AsRead, Func):
    """Milliseconds since midnight of a time; of none, those of a whole day."""

    output_field = IntegerField()

    def as_sqlite(self, compiler, connection, **context):
        template = "COALESCE(CAST(ROUND((julianday(%(expressions)s) - 2451544.5) * 86400000) AS INTEGER), 86400000)"
        return self.as_sql(compiler, connection, template=template, **context)

    def as_postgresql(self, compiler, connection, **context):
        template = "COALESCE(CAST(EXTRACT(EPOCH FROM %(expressions)s) * 1000 AS INTEGER), 86400000)"
        return self.as_sql(compiler, connection, template=template, **context)


class Register:
    """Rows of one table by their key in sorted order: `place(pks)` gives the index of each, −1 where there is none."""

    def __init__(self, pks, keys=None):
        order = np.arange(len(pks)) if keys is None else np.array(sorted(range(len(pks)), key=keys.__getitem__), int)
        self.pks = np.asarray(pks, dtype=np.int64)[order]
        self.keys = None if keys is None else np.array(keys, dtype=object)[order]
        self._by_pk = np.argsort(self.pks, kind="stable")
        self._sorted = self.pks[self._by_pk]

    @classmethod
    def read(cls, queryset, key):
        rows = list(queryset.order_by("pk").values_list("pk", key))
        return cls([pk for pk, _ in rows], [text for _, text in rows])

    def place(self, pks):
        at = look_up(self._sorted, pks)
        return np.where(at >= 0, self._by_pk[at], NONE) if len(self.pks) else at


@dataclass(frozen=True)
class FirmRecords(Records):
    """Records, with the primary keys of appliances and components in the order of their indices."""

    appliance_pks: np.ndarray
    component_pks: np.ndarray


def read_records() -> FirmRecords:
    """All records that life history needs.

    Rows are read before what they refer to, so that what is written meanwhile never leaves a reference open.
    """
    fitted, findings, earlier = _fitted(), _findings(), _earlier()
    of_visit, visit_pks, visited = in_order(Visit.objects.all(), "job_id")
    also, jobs = columns(Job.also.through.objects, "job_id", "appliance_id"), _jobs()
    held = columns(ModelComponent.objects.order_by("pk"), "model_id", "component_id", "count")
    covers = columns(Part.covers.through.objects, "part_id", "componenttype_id")
    appliances, models = Register.read(Appliance.objects, "number"), Register.read(ApplianceModel.objects, "key")
    components, suppliers = Register.read(ComponentType.objects, "key"), Register.read(Supplier.objects, "key")
    part, job, visit = Register(_pks(Part.objects)).place, Register(jobs[0]).place, Register(visit_pks).place
    appliance, component = appliances.place, components.place
    made = history.Visits(job(of_visit), visited)
    about = job(np.r_[jobs[0], also[0]]), appliance(np.r_[jobs[1], also[1]])
    contacts = first_contacts(len(appliances.pks), *about, jobs[3], made)
    areas, area_names = _post_areas(appliances)
    makers, maker_names = _makers(models)
    found = (visit(findings[0]), appliance(findings[1]), component(findings[2]), findings[3], findings[4] > 0)
    put_in = [visit(fitted[0]), appliance(fitted[1]), part(fitted[2]), component(fitted[3]), *fitted[4:8]]
    put_in.append(_suppliers(fitted[8], fitted[2], suppliers))
    return FirmRecords(
        names=history.Names(components.keys, appliances.keys, models.keys, maker_names, suppliers.keys, area_names),
        catalogue=history.Catalogue(
            makers, models.place(held[0]), component(held[1]), held[2], part(covers[0]), component(covers[1])
        ),
        appliances=_appliances(appliances, models, areas, contacts),
        earlier=history.Earlier(appliance(earlier[0]), component(earlier[1]), *earlier[2:]),
        jobs=history.Jobs(jobs[4], jobs[3], job(jobs[2]), *about),
        visits=made,
        findings=history.Findings(*found),
        fitted=history.Fitted(*put_in),
        appliance_pks=appliances.pks,
        component_pks=components.pks,
    )


def last_vans(records: FirmRecords, as_of: date):
    """Index of the van that came last to each appliance by `as_of` (−1: none), and the keys of all vans."""
    vans = Register.read(Place.objects.vans(), "key")
    visits = Visit.objects.filter(on__lte=as_of, place__kind=Place.Kind.VAN)
    appliance, place, _, _ = in_order(visits, "job__appliance_id", "place_id")
    last = np.full(len(records.appliance_pks), NONE)
    last[Register(records.appliance_pks).place(appliance)] = vans.place(place)  # of equal indices the last one stays
    return last, tuple(vans.keys)


def first_contacts(many, of_job, of_appliance, reported, visits):
    """Day of the first report or visit of each of `many` appliances, NEVER where there was none."""
    first = reported.copy()
    np.minimum.at(first, visits.job, visits.day)
    contact = np.full(many, NEVER)
    np.minimum.at(contact, of_appliance, first[of_job])
    return contact


def columns(queryset, *expressions):
    """Integer columns of a query as arrays, streamed."""
    rows = queryset.values_list(*expressions).iterator(chunk_size=10_000)
    flat = np.fromiter(chain.from_iterable(rows), dtype=np.int64)
    return list(flat.reshape(-1, len(expressions)).T.copy())


def in_order(visits, *fields):
    """Columns of visits, their keys and days: by day, by time (those without one last), by key; sorted here, faster."""
    read = columns(visits.order_by(), *fields, "pk", Moment("time"), DayNumber("on"))
    order = np.lexsort(read[-3:])
    return [column[order] for column in (*read[:-3], read[-3], read[-1])]


def _pks(queryset):
    return columns(queryset.order_by("pk"), "pk")[0]


def _or(instead, field):
    return FirstGiven(field, Value(instead))


def _code(field, words):
    """Index of a text field among `words`."""
    cases = [When(**{field: word}, then=Value(at)) for at, word in enumerate(words)]
    return Choice(*cases, output_field=IntegerField())


def _fitted():
    pieces = Choice(When(part__unit=Part.Unit.PIECE, then=Cast(Floor("quantity"), IntegerField())), default=1)
    rows = Fitted.objects.standing().order_by("pk")
    found = columns(
        rows, "visit_id", "appliance_id", "part_id", "component_id", _or(0, "position"), pieces,
        _code("why", history.WHYS), DayNumber("taken_out__on"), _or(NONE, "came_from__supplier_id"),
    )  # fmt: skip
    found[5] = np.maximum(found[5], 1)
    return found


def _findings():
    needs_none = Choice(When(no_part_cause="", then=0), default=1)
    return columns(
        Finding.objects.order_by("pk"), "visit_id", "appliance_id", _or(NONE, "component_id"), _or(0, "position"),
        needs_none,
    )  # fmt: skip


def _earlier():
    precision = _code("precision", history.PRECISIONS)
    return columns(Earlier.objects.order_by("pk"), "appliance_id", "component_id", "position",
                   DayNumber("renewed_on"), precision)  # fmt: skip


def _jobs():
    return columns(
        Job.objects.order_by("pk"), "pk", "appliance_id", _or(NONE, "return_of_id"), DayNumber("reported_on"),
        _code("kind", history.KINDS),
    )  # fmt: skip


def _appliances(register, models, post_area, contacts):
    rows = columns(
        Appliance.objects.order_by("pk"), "pk", "model_id", DayNumber("installed_on"),
        _code("installed_precision", history.PRECISIONS), DayNumber("in_care_from"), DayNumber("in_care_until"),
        DayNumber("entered_on"), Choice(When(on_service=True, then=1), default=0),
    )  # fmt: skip
    place = register.place(rows[0])
    order = np.argsort(place, kind="stable")[np.count_nonzero(place == NONE) :]  # some may have come in meanwhile
    _, model, installed, precision, care, until, entered, service = (column[order] for column in rows)
    first = np.where(contacts == NEVER, entered, contacts)
    care = np.where(care == NO_DAY, first, care)
    return history.Appliances(models.place(model), post_area, installed, precision, care, until, service.astype(bool))


def _post_areas(register):
    """Index of each appliance's post area, −1 for none, and their names."""
    rows = dict(Appliance.objects.order_by("pk").values_list("pk", "address__post_area"))
    return _numbered([rows.get(pk) or "" for pk in register.pks.tolist()])


def _makers(models):
    rows = dict(ApplianceModel.objects.order_by("pk").values_list("pk", "maker"))
    return _numbered([rows.get(pk) or "" for pk in models.pks.tolist()])


def _numbered(words):
    """Index of each word among the sorted distinct ones, −1 for an empty one, and those words."""
    distinct = sorted(set(words) - {""})
    at = {word: index for index, word in enumerate(distinct)} | {"": NONE}
    return np.array([at[word] for word in words], dtype=np.int64), np.array(distinct, dtype=object)


def _suppliers(came_from, part, suppliers):
    """Supplier of each fitted part: where it came from, else the only one that sells the part, else −1."""
    sold = Offer.objects.filter(part__in=Fitted.objects.values("part")).order_by("part_id", "supplier_id")
    parts, sellers = columns(sold.distinct(), "part_id", "supplier_id")
    first, length, _ = runs_of_equal(parts)
    at = look_up(parts[first], part)
    only = np.where(at >= 0, np.where(length[at] == 1, sellers[first][at], NONE), NONE) if len(first) else at
    return suppliers.place(np.where(came_from == NONE, only, came_from))
