"""Forecast, prompts, replacement and alarms from the firm's own records."""

import datetime
import uuid

import numpy as np
import pytest

from inventory.models import ModelComponent, Place
from jobs.models import Appliance, Fitted
from jobs.reliability.history import build_spells
from jobs.services.alarms import firm_alarms, fitted_parts
from jobs.services.fitting import fit
from jobs.services.forecasting import firm_forecast
from jobs.services.prompts import replacement_plan, service_prompts, while_you_are_there
from tests.factories import (
    ApplianceFactory,
    ApplianceModelFactory,
    ComponentTypeFactory,
    JobFactory,
    PartFactory,
    SupplierFactory,
    VisitFactory,
)
from tests.spell_firms import as_records, day_of, random_firm
from tests.test_history_from_database import book

pytestmark = pytest.mark.django_db
AS_OF = datetime.date(2022, 6, 30)


@pytest.fixture
def firm(db):
    book(random_firm(np.random.default_rng(7), appliances=40, busy=5))


def test_vans_add_up_to_components_and_these_to_the_firm(firm):
    found = firm_forecast(AS_OF)
    for days in found.days:
        rows, kinds, vans, total = (
            [row for row in table if row.days == days]
            for table in (found.rows, found.by_component, found.by_van, found.total)
        )
        for table in (rows, kinds, vans):
            assert sum(row.expected for row in table) == pytest.approx(total[0].expected, rel=1e-6)
            assert sum(row.in_care for row in table) == pytest.approx(total[0].in_care, rel=1e-6)
        assert total[0].low <= total[0].expected < total[0].high + 1


def test_every_position_in_care_has_a_prompt_with_numbers(firm):
    prompts = {appliance: service_prompts(appliance, AS_OF) for appliance in Appliance.objects.all()}
    told = [prompt for own in prompts.values() for prompt in own]
    assert told
    assert all(np.isfinite([p.age, p.hazard_per_year, p.expected]).all() and p.expected > 0 for p in told)
    for own in prompts.values():
        assert [p.expected for p in own] == sorted((p.expected for p in own), reverse=True)
    assert all(not one.worth or one.saved > one.price for a in prompts for one in while_you_are_there(a, AS_OF))


def test_planned_replacement_never_pays_without_shown_wear_or_a_dearer_failure(firm):
    for row in firm_forecast(AS_OF).by_component:
        assert not replacement_plan(row.component, AS_OF, planned_cost=100, failure_cost=100).pays
    assert not replacement_plan("no-such-thing", AS_OF, planned_cost=1, failure_cost=9).pays


def test_alarms_keep_to_their_budget_and_say_what_they_rest_on(firm):
    found = firm_alarms(AS_OF)
    assert found.streams > 0
    assert 0 <= found.false_alarms_a_year <= 1.01
    assert all(alarm.level_reached >= found.threshold and alarm.since <= alarm.raised_on for alarm in found.alarms)


def test_a_batch_of_several_part_numbers_from_one_supplier_is_found_and_only_its_parts_are_listed(db):
    """Boards of two makers: those from one supplier fail within weeks, those from the other do not."""
    bad, good = SupplierFactory(name="Dunholm"), SupplierFactory(name="Garsby")
    board = ComponentTypeFactory(key="board", name="Board")
    start = AS_OF - datetime.timedelta(days=2000)
    models = [ApplianceModelFactory(name=f"Model {n}", maker=f"Maker {n}") for n in range(2)]
    boards = [PartFactory(number=f"board-{n}") for n in range(2)]
    for model in models:
        ModelComponent.objects.create(model=model, component=board)
    for n in range(120):
        model, part = models[n // 8 % 2], boards[n // 8 % 2]
        appliance = ApplianceFactory(model=model, installed_on=start, installed_precision="day", in_care_from=start)
        fitted = AS_OF - datetime.timedelta(days=400 + n)
        renew(appliance, part, board, fitted, bad if n % 4 == 0 else good)
        if n % 8 == 0:
            renew(appliance, part, board, fitted + datetime.timedelta(days=90 + n), good)
        JobFactory(appliance=appliance, kind="service", reported_on=AS_OF)
    (alarm,) = firm_alarms(AS_OF).alarms
    assert (alarm.kind, alarm.component, alarm.part, alarm.supplier) == ("batch", "board", "", bad.key)
    assert alarm.failures == 15
    assert alarm.ratio_low > 2
    assert alarm.fitted_from <= min(piece.fitted_on for piece in alarm.pieces)
    assert len(alarm.pieces) == Fitted.objects.filter(came_from__supplier=bad, visit__on__gte=alarm.fitted_from).count()
    assert {piece.in_place for piece in alarm.pieces} == {True, False}


def renew(appliance, part, component, day, supplier):
    """A breakdown mended with a part bought at that supplier's counter."""
    job = JobFactory(appliance=appliance, kind="breakdown", reported_on=day)
    visit = VisitFactory(job=job, on=day, outcome="fixed")
    source = Place.objects.filter(supplier=supplier).first() or Place.objects.create(
        key=f"at-{supplier.key}", name=supplier.name, kind=Place.Kind.SUPPLIER, supplier=supplier
    )
    fit(event=uuid.uuid4(), visit=visit, part=part, component=component, quantity=1, why="failed", source=source)


def parts_one_by_one(records, spells):
    """The slow plain rule: the part fitted for the component on the day its clock began, else the first that covers."""
    fitted, covers = records.fitted, set()
    for part, component in zip(records.catalogue.covers_part, records.catalogue.covers_component, strict=True):
        covers.add((int(part), int(component)))
    found = np.full(len(spells), -1)
    for i in np.flatnonzero(spells.clock == 0):
        origin = round(spells.opened_day[i] - spells.entry[i] * 365.25)
        rows = [
            row
            for row in range(fitted.part.size)
            if fitted.appliance[row] == spells.appliance[i] and records.visits.day[fitted.visit[row]] == origin
        ]
        named = [fitted.part[row] for row in rows if fitted.component[row] == spells.component[i]]
        covering = [fitted.part[row] for row in rows if (int(fitted.part[row]), int(spells.component[i])) in covers]
        found[i] = (named[-1:] or covering[:1] or [-1])[0]
    return found


@pytest.mark.parametrize("seed", range(8))
def test_parts_that_stand_in_positions_are_those_found_one_by_one(seed):
    records = as_records(random_firm(np.random.default_rng(seed), appliances=12, busy=6))
    spells = build_spells(records, as_of=day_of("2022-06-30"), care_window_months=18.0)
    parts, _ = fitted_parts(records, spells)
    assert (parts >= 0).any()
    np.testing.assert_array_equal(parts, parts_one_by_one(records, spells))


def test_a_firm_without_records_forecasts_nothing(db):
    assert firm_forecast(AS_OF).total[0].expected == 0
    assert firm_alarms(AS_OF).alarms == ()
