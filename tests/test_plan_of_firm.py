"""`plan` without a file: the firm's records become needs, parts and vans as contracts.md says."""

import datetime
import json
import uuid
from decimal import Decimal
from io import StringIO

import pytest
from django.core.management import call_command

from firm.models import Setting
from inventory.models import CarryLevel, ModelComponent, Recipe, RecipePart
from jobs import lives
from jobs.models import Finding
from jobs.services.proposing import NoSuchVan, problem_from_records, propose
from tests.factories import (
    AddressFactory,
    ApplianceFactory,
    ApplianceModelFactory,
    ComponentTypeFactory,
    JobFactory,
    OfferFactory,
    PartFactory,
    PlaceFactory,
    PriceFactory,
    SupplierFactory,
    VisitFactory,
    put,
)

pytestmark = pytest.mark.django_db
AS_OF = datetime.date(2026, 6, 30)
YEAR = 365


class Firm:
    """Six appliances of one model with a pump each: three in MB1, two in MB2 (two vans), one in nobody's area."""

    def __init__(self):
        self.pump = ComponentTypeFactory(key="pump", prior_failures_per_100_years=Decimal("4"))
        self.model = ApplianceModelFactory(key="M1")
        ModelComponent.objects.create(model=self.model, component=self.pump, count=1)
        self.north = PlaceFactory(key="north", post_areas=["MB1", "MB2"], budget=300, litres=50)
        self.south = PlaceFactory(key="south", post_areas=["MB2"])
        self.appliances = [
            ApplianceFactory(
                model=self.model, address=AddressFactory(post_area=area), in_care_from=datetime.date(2025, 6, 1)
            )
            for area in ("MB1", "MB1", "MB1", "MB2", "MB2", "MB9")
        ]
        self.failure(self.appliances[0], self.north, datetime.date(2026, 1, 10))

    def failure(self, appliance, place, day):
        job = JobFactory(appliance=appliance, reported_on=day)
        visit = VisitFactory(job=job, on=day, place=place, outcome="fixed")
        Finding.objects.create(visit=visit, appliance=appliance, component=self.pump)
        return visit

    def part(self, number, price="40", **details):
        part = PartFactory(number=number, fits_any=False, **details)
        part.covers.add(self.pump)
        part.fits.add(self.model)
        if price:
            PriceFactory(
                offer=OfferFactory(part=part),
                price_ex_vat=Decimal(price),
                price_per_piece=Decimal(price),
                valid_from=datetime.date(2026, 1, 1),
            )
        return part


@pytest.fixture
def firm():
    return Firm()


def problem(horizon=YEAR):
    return problem_from_records(AS_OF, horizon)[0]


def test_an_area_counts_for_the_vans_that_name_it_and_shared_ones_equally(firm):
    [need] = problem().needs
    assert need.need == "pump / M1"
    assert need.in_area == {"north": 4, "south": 1}


def test_an_area_that_no_van_names_counts_for_the_van_that_came_last(firm):
    VisitFactory(
        job=JobFactory(appliance=firm.appliances[5]), on=datetime.date(2026, 2, 1), place=firm.south, outcome="fixed"
    )
    assert problem().needs[0].in_area == {"north": 4, "south": 2}


def test_an_appliance_that_nobody_serves_is_left_out_with_a_warning(firm):
    assert any(firm.appliances[5].number in warning for warning in problem().warnings)


def test_mean_demand_is_what_the_best_estimate_of_the_rate_expects_in_an_interval(firm):
    report = lives.report_of(lives.firm_spells(as_of=AS_OF), by="component,model", as_of=AS_OF)
    [group] = [g for g in report.groups if g.group == "pump / M1"]
    [need] = problem().needs
    days_not_months_weigh_the_year = 5e-3
    expected = 4 / group.shrunk * 7 / 365.25
    assert need.demand["north"].mean == pytest.approx(expected, rel=days_not_months_weigh_the_year)


def test_a_winter_horizon_weighs_winter_months(firm):
    for i in range(12):
        firm.failure(firm.appliances[i % 5], firm.north, datetime.date(2026, 1, 11 + i))
    winter, _ = problem_from_records(datetime.date(2026, 6, 30), 30)
    assert problem().needs[0].demand["north"].mean > winter.needs[0].demand["north"].mean


def test_nothing_after_the_day_is_known(firm):
    before = problem().needs[0].demand["north"].mean
    firm.failure(firm.appliances[1], firm.north, datetime.date(2026, 7, 2))
    assert problem().needs[0].demand["north"].mean == before


def test_recipes_are_single_parts_by_price_then_combinations(firm):
    firm.part("dear", "80")
    firm.part("cheap", "30")
    seal, spring = (PartFactory(number=n) for n in ("seal", "spring"))
    for part in (seal, spring):
        PriceFactory(offer=OfferFactory(part=part), price_per_piece=Decimal(2), valid_from=datetime.date(2020, 1, 1))
    recipe = Recipe.objects.create(component=firm.pump)
    RecipePart.objects.create(recipe=recipe, part=seal)
    RecipePart.objects.create(recipe=recipe, part=spring, quantity=2)
    assert problem().needs[0].recipes == ({"cheap": 1}, {"dear": 1}, {"seal": 1, "spring": 2})


def test_superseded_parts_and_parts_that_fit_other_models_are_no_recipe(firm):
    old, new = firm.part("old"), firm.part("new")
    old.superseded_by = new
    old.save()
    firm.part("other").fits.set([ApplianceModelFactory()])
    assert problem().needs[0].recipes == ({"new": 1},)


@pytest.mark.parametrize("strict", [True, False])
def test_copies_and_reconditioned_parts_are_not_advised_where_new_approved_ones_are_demanded(firm, strict):
    firm.pump.approved_new_only = strict
    firm.pump.save()
    firm.part("copy", grade="unapproved-copy")
    firm.part("again", grade="reconditioned")
    firm.part("equal", grade="approved-equivalent")
    numbers = {number for recipe in problem().needs[0].recipes for number in recipe}
    assert numbers == ({"equal"} if strict else {"copy", "again", "equal"})


def test_the_price_is_the_cheapest_valid_then_average_cost_else_the_part_is_left_out(firm):
    part = firm.part("two prices", "50")
    offer = OfferFactory(part=part, supplier=SupplierFactory(same_day=True))
    PriceFactory(offer=offer, price_per_piece=Decimal(45), valid_from=datetime.date(2026, 6, 1))
    PriceFactory(offer=offer, price_per_piece=Decimal(1), valid_from=datetime.date(2026, 7, 1))
    put(firm.part("held", None), firm.north, 1, "12.50")
    firm.part("unknown", None)
    found = problem()
    assert {p.part: (p.price, p.same_day) for p in found.parts} == {"held": (12.5, 0.0), "two prices": (45.0, 1.0)}
    assert any("want of a price: unknown" in warning for warning in found.warnings)


def test_now_is_the_carry_level_else_what_the_van_holds_and_fixed_levels_are_pins(firm):
    agreed, held = firm.part("agreed"), firm.part("held")
    put(agreed, firm.north, 1)
    CarryLevel.objects.create(place=firm.north, part=agreed, level=3, fixed=True, why="fleet of them")
    put(held, firm.north, 2)
    [north, south] = problem().vans
    assert north.pins == {"agreed": (3, 3)}
    assert south.now == {}
    assert north.now["agreed"] == 3
    assert (north.budget, north.litres, north.kilograms) == (300, 50, None)


def test_settings_give_the_money_and_the_interval(firm):
    Setting.objects.create(
        pk=1, second_visit=70, merchant_run=20, holding_per_year=Decimal("0.3"), restock_days=14, max_per_part=2
    )
    found = problem()
    assert (found.money.second_visit, found.money.merchant_run, found.money.holding_per_year) == (70, 20, 0.3)
    assert found.intervals_per_year == pytest.approx(365.25 / 14)
    assert found.max_per_part == 2


def test_the_command_plans_the_firm_and_names_the_horizon(firm):
    firm.part("cheap", "3")
    out = StringIO()
    call_command("plan", "--as-of", "2026-06-30", "--horizon", "182", "--json", stdout=out)
    answer = json.loads(out.getvalue(), parse_constant=pytest.fail)
    north = answer["vans"][0]
    assert north["levels"] == {"cheap": 1}
    assert "in the next 182 days (26 restocks) on about 4 in this area" in north["lines"][0]["reason"]


def test_an_empty_firm_gives_an_empty_plan(db):
    out = StringIO()
    call_command("plan", "--json", stdout=out)
    answer = json.loads(out.getvalue(), parse_constant=pytest.fail)
    assert (answer["vans"], answer["frontier"]) == ([], [])
    assert any("no vans" in warning for warning in answer["warnings"])


def test_a_proposal_is_kept_with_its_lines_inputs_and_how_the_van_stands(firm):
    cheap, useless = firm.part("cheap", "3"), firm.part("dear", "900")
    CarryLevel.objects.create(place=firm.north, part=useless, level=1)
    event = uuid.uuid4()
    proposal = propose(firm.north, event=event, as_of=AS_OF)
    assert propose(firm.north, event=event, as_of=AS_OF) == proposal
    lines = {line.part: line for line in proposal.lines.all()}
    assert [(lines[p].now, lines[p].proposed) for p in (cheap, useless)] == [(0, 1), (1, 0)]
    assert lines[useless].gain_per_year == pytest.approx(Decimal("225"), abs=Decimal("60"))  # its holding, less its use
    assert proposal.result["spend_now"] == 900
    assert proposal.result["first_visit_fix_rate_now"] > 0
    assert len(proposal.result["frontier"]) >= 10
    assert proposal.inputs["budget"] == 300


def test_a_retired_van_gets_no_proposal(firm):
    firm.south.retired_on = AS_OF
    firm.south.save()
    with pytest.raises(NoSuchVan):
        propose(firm.south, event=uuid.uuid4(), as_of=AS_OF)


def test_a_line_that_turns_on_the_cost_of_a_second_visit_says_so(firm):
    firm.part("middling", "160")
    [level] = problem().needs[0].demand["north"].at_least(1) * 365.25 / 7 * 90 / 0.25 / 160
    assert 1 < level < 2  # worth its holding, but not by much
    [line] = propose(firm.north, event=uuid.uuid4(), as_of=AS_OF, horizon=YEAR).lines.all()
    assert line.reason.endswith("It would be 0 at half the cost of a second visit.")


def test_a_combination_with_a_superseded_part_is_left_out_with_a_warning(firm):
    old, new = firm.part("old"), firm.part("new")
    old.superseded_by = new
    old.save()
    RecipePart.objects.create(recipe=Recipe.objects.create(component=firm.pump), part=old)
    found = problem()
    assert found.needs[0].recipes == ({"new": 1},)
    assert any("superseded" in warning and "pump" in warning for warning in found.warnings)
