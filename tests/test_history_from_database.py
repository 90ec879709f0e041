"""Life history read from the database is that of the firm's files."""

import datetime
import uuid

import numpy as np
import pytest

from inventory.models import ApplianceModel, ComponentType, ModelComponent, Movement, Part, Place, Supplier
from inventory.services.places import counter
from jobs import history
from jobs.models import Appliance, Earlier, Finding, Fitted, Job, TakenOut, Visit
from jobs.records import read_records
from tests import factories
from tests.spell_firms import as_rows, random_firm
from tests.spells_by_hand import spells_by_hand

pytestmark = pytest.mark.django_db
PRECISIONS = {0: "unknown", 4: "year", 7: "month", 10: "day"}


def day(text):
    return datetime.date.fromisoformat(text + "0000-01-01"[len(text) :]) if text else None


def book(firm):
    """Write a firm given as in tests/spells_by_hand.py into the database."""
    component, model = {}, {}
    for key in sorted({"pump", "sensor", "block", "fan", "valve"}):
        component[key] = ComponentType.objects.create(key=key, name=key)
    for key, row in firm["models"].items():
        model[key] = ApplianceModel.objects.create(key=key, name=key, maker="Ottermill")
        for held, count in row["holds"].items():
            ModelComponent.objects.create(model=model[key], component=component[held], count=count)
    part = {key: Part.objects.create(number=key, description=key) for key in firm["covers"]}
    for key, covered in firm["covers"].items():
        part[key].covers.set([component[name] for name in covered])
    appliance = {row["appliance"]: book_appliance(row, model) for row in reversed(firm["appliances"])}
    for row in firm["earlier"]:
        Earlier.objects.create(
            appliance=appliance[row["appliance"]],
            component=component[row["component"]],
            position=row["position"] or 1,
            renewed_on=day(row["renewed_on"]),
            precision=PRECISIONS[len(row["renewed_on"])],
        )
    book_work(firm, appliance, component, part)


def book_appliance(row, model):
    return Appliance.objects.create(
        number=row["appliance"],
        model=model[row["model"]],
        installed_on=day(row["installed_on"]),
        installed_precision=PRECISIONS[len(row["installed_on"])],
        in_care_from=day(row["in_care_from"]),
        in_care_until=day(row.get("in_care_until", "")),
        entered_on=day("2021-05-05"),
    )


def book_work(firm, appliance, component, part):
    job, visit = {}, {}
    for row in firm["jobs"]:
        job[row["job"]] = Job.objects.create(
            number=row["job"],
            appliance=appliance[row["appliance"]],
            kind=row["kind"],
            reported_on=row["reported_on"],
            return_of=job.get(row["return_of"]),
        )
        job[row["job"]].also.set([appliance[key] for key in row["also"]])
    for row in firm["visits"]:
        visit[row["visit"]] = Visit.objects.create(number=row["visit"], job=job[row["job"]], on=row["on"])
    for row in firm["findings"]:
        Finding.objects.create(
            visit=visit[row["visit"]],
            appliance=appliance[row["appliance"]],
            component=component.get(row["component"]),
            position=row["position"] or None,
            no_part_cause=row["no_part_cause"],
        )
    for row in firm["fitted"]:
        book_fitted(row, visit[row["visit"]], appliance[row["appliance"]], component[row["component"]], part)


def book_fitted(row, visit, appliance, component, part):
    before, fitted = counter(Place.Kind.BEFORE_THE_BOOK), counter(Place.Kind.FITTED)
    made = Fitted.objects.create(
        visit=visit,
        appliance=appliance,
        component=component,
        position=row["position"] or None,
        part=part[row["part"]],
        quantity=row["quantity"],
        why=row["why"],
        movement=move(part[row["part"]], row["quantity"], before, fitted),
    )
    if row["taken_out"]:
        back = move(part[row["part"]], row["quantity"], fitted, before)
        TakenOut.objects.create(fitted=made, condition="new", movement=back, on=row["taken_out"])


def move(part, quantity, source, destination, **more):
    happened = datetime.datetime(2020, 1, 1, tzinfo=datetime.UTC)
    return Movement.objects.create(
        event=uuid.uuid4(), part=part, quantity=quantity, source=source, destination=destination,
        reason="history", happened_at=happened, **more,
    )  # fmt: skip


@pytest.mark.parametrize("seed", range(6))
def test_spells_from_the_database_are_those_of_the_files(seed):
    firm = random_firm(np.random.default_rng(seed), appliances=12, busy=5)
    book(firm)
    found = history.spells(as_of=datetime.date(2021, 6, 1))
    ours, slow = as_rows(found), spells_by_hand(firm, "2021-06-01")
    assert [row[:4] + row[6:] for row in ours] == [row[:4] + row[6:] for row in slow]
    assert np.allclose([row[4:6] for row in ours], [row[4:6] for row in slow], atol=1e-12)


def test_reading_takes_the_same_number_of_queries_however_large_the_firm(django_assert_num_queries):
    book(random_firm(np.random.default_rng(1), appliances=3))
    with django_assert_num_queries(17):
        read_records()
    factories.JobFactory(appliance__number="Z")
    with django_assert_num_queries(17):
        read_records()


def pumped(**appliance):
    """A pump fitted on a visit to one appliance, and its Fitted."""
    pump = ComponentType.objects.create(key="pump", name="Pump")
    model = ApplianceModel.objects.create(key="M", name="M")
    ModelComponent.objects.create(model=model, component=pump)
    boiler = factories.ApplianceFactory(number="A", model=model, **appliance)
    visit = factories.VisitFactory(
        job=factories.JobFactory(appliance=boiler, reported_on="2020-06-01"), on="2020-06-03"
    )
    part = factories.PartFactory()
    moved = move(part, 1, counter(Place.Kind.BEFORE_THE_BOOK), counter(Place.Kind.FITTED))
    return Fitted.objects.create(
        visit=visit, appliance=boiler, component=pump, part=part, quantity=1, why="failed", movement=moved
    )


def read(**options):
    found = history.spells(as_of=datetime.date(2020, 12, 31), **options)
    return list(zip(found.words("closed_by"), found.words("supplier"), found.words("post_area"), strict=True))


def test_a_keying_mistake_that_was_undone_never_was():
    fitted = pumped()
    assert sorted(row[0] for row in read()) == ["as-of", "failed"]
    back = fitted.movement
    move(back.part, 1, back.destination, back.source, undoes=back)
    assert [row[0] for row in read()] == ["as-of"]


def test_the_supplier_of_a_part_is_where_it_came_from_else_the_only_one_that_sells_it():
    fitted = pumped()
    assert ("as-of", "unknown", "MB1") in read()
    only = factories.OfferFactory(part=fitted.part)
    assert ("as-of", only.supplier.key, "MB1") in read()
    other = factories.OfferFactory(part=fitted.part)
    assert ("as-of", "unknown", "MB1") in read()
    fitted.came_from = Place.objects.create(key="counter", kind="supplier", supplier=other.supplier)
    fitted.save()
    assert ("as-of", other.supplier.key, "MB1") in read()
    assert Supplier.objects.count() == 2


def test_without_a_start_of_care_the_first_contact_counts_else_the_day_of_entry():
    pumped(in_care_from=None)  # the breakdown of June brought the customer: not counted, opens the watch
    factories.ApplianceFactory(
        number="B", model=ApplianceModel.objects.get(), in_care_from=None, entered_on="2020-11-01"
    )
    found = history.spells(as_of=datetime.date(2020, 12, 31))
    days = found.opened_day.astype("datetime64[D]").astype(str)
    assert list(zip(found.words("appliance"), days, found.failed, strict=True)) == [
        ("A", "2020-06-03", False),
        ("B", "2020-11-01", False),
    ]


def test_positions_in_care_know_the_van_that_came_last():
    fitted = pumped()
    here = history.in_care(datetime.date(2020, 12, 31))
    assert [here.vans[van] for van in here.van] == [fitted.visit.place.key]
    assert here.age.tolist() == [(datetime.date(2020, 12, 31) - datetime.date(2020, 6, 3)).days / 365.25]
    assert history.in_care(datetime.date(2020, 6, 2)).van.tolist() == [-1]


def test_the_care_window_is_the_firms_setting_unless_given():
    pumped()
    later = datetime.date(2022, 12, 31)  # the last contact was the visit of June 2020
    assert history.spells(as_of=later).words("closed_by").tolist() == ["failed"]
    wide = history.spells(as_of=later, care_window_months=60)
    assert sorted(wide.words("closed_by")) == ["as-of", "failed"]


def test_the_newest_record_is_the_last_report_or_visit_made():
    assert history.newest_record() is None
    fitted = pumped()
    assert history.newest_record() == datetime.date(2020, 6, 1)  # the visit is only booked
    Visit.objects.filter(pk=fitted.visit_id).update(outcome="fixed")
    assert history.newest_record() == datetime.date(2020, 6, 3)
    assert history.newest_record(datetime.date(2020, 6, 2)) == datetime.date(2020, 6, 1)


def test_a_treatment_of_silence_that_is_not_to_be_had_is_refused_by_name():
    with pytest.raises(ValueError, match="silence loud: not to be had; ask for model or window"):
        history.spells(as_of=datetime.date(2020, 1, 1), silence="loud")
