"""A van's proposal on the page: small steps, fixed levels and what they cost, lines that turn."""

import datetime
import uuid
from decimal import Decimal

import pytest
from django.utils import timezone

from inventory.models import CarryLevel
from inventory.stocking.van_load import load_of
from jobs.models import LoadLine, LoadProposal
from jobs.services.firm_problem import problem_from_records
from jobs.services.proposing import propose
from tests.factories import PartFactory
from tests.test_plan_of_firm import AS_OF, YEAR, Firm

pytestmark = pytest.mark.django_db


@pytest.fixture
def firm():
    return Firm()


def proposed(firm, **options):
    options = {"as_of": AS_OF, "horizon": YEAR, **options}
    return propose(firm.north, event=uuid.uuid4(), **options)


def saved_by_one(firm, number):
    """What the first piece saves on the northern van in a year."""
    demand = problem_from_records(AS_OF, YEAR)[0].needs[0].demand["north"]
    return float(demand.at_least(1)[0]) * 365.25 / 7 * 90


def accepted(firm, part, *, now, proposed, weeks_ago):
    day = AS_OF - datetime.timedelta(weeks=weeks_ago)
    at = timezone.make_aware(datetime.datetime.combine(day, datetime.time(12)))
    proposal = LoadProposal.objects.create(event=uuid.uuid4(), van=firm.north, as_of=day)
    LoadLine.objects.create(proposal=proposal, part=part, now=now, proposed=proposed, accepted_at=at)


def test_a_change_that_does_not_pay_its_handling_waits_and_says_so(firm):
    part = firm.part("middling", str(round((saved_by_one(firm, "x") - 3) / 0.25, 2)))
    [line] = proposed(firm).lines.all()
    assert (line.part, line.now, line.proposed, line.best, line.damped) == (part, 0, 0, 1, True)
    assert line.gain_per_year == pytest.approx(Decimal(3), abs=Decimal("0.1"))
    assert "Left as it is: 1 would gain £3.0" in line.reason
    assert "but not worth the handling." in line.reason
    [line] = proposed(firm, at_once=True).lines.all()
    assert (line.proposed, line.best, line.damped) == (1, 1, False)


def test_a_line_taken_on_board_of_late_stays(firm):
    part = firm.part("dear", "900")
    CarryLevel.objects.create(place=firm.north, part=part, level=1)
    accepted(firm, part, now=0, proposed=1, weeks_ago=3)
    [line] = proposed(firm).lines.all()
    assert (line.now, line.proposed, line.best, line.damped) == (1, 1, 0, True)
    assert "a new line stays 8 weeks" in line.reason
    LoadLine.objects.update(accepted_at=timezone.now() - datetime.timedelta(weeks=900))
    [line] = proposed(firm).lines.all()
    assert (line.proposed, line.damped) == (0, False)


def test_after_a_weeks_worth_of_changes_the_others_wait(firm):
    firm.part("cheap", "3")
    for _ in range(5):
        accepted(firm, PartFactory(), now=0, proposed=1, weeks_ago=0.5)
    found = proposed(firm)
    [line] = found.lines.all()
    assert (line.proposed, line.best, line.damped) == (0, 1, True)
    assert "enough is changed this week" in line.reason
    assert (found.result["changes"], found.result["waiting"]) == (0, 1)
    assert found.result["best"]["spend"] == 3
    assert found.inputs["damping"]["most_changes"] == 0


def test_the_figures_of_a_proposal_are_those_of_what_it_proposes(firm):
    firm.part("cheap", "3")
    found = proposed(firm)
    problem, words = problem_from_records(AS_OF, YEAR)
    [need] = problem.needs
    demand = need.demand["north"]
    done = demand.mean - sum(demand.at_least(40)[1:])
    assert found.result["first_visit_fix_rate"] == pytest.approx(done / demand.mean, abs=1e-6)
    assert found.result["worth_per_year"] == pytest.approx(done * 90 * 365.25 / 7, rel=1e-6)
    assert found.result["spend"] == 3
    assert words["currency"] == "£"


def test_levels_beyond_every_limit_are_told_as_they_are(firm):
    firm.part("cheap", "3")
    problem, _ = problem_from_records(AS_OF, YEAR)
    alone = problem.__class__(**{**vars(problem), "vans": problem.vans[:1]})
    load = load_of(alone, {"cheap": 9})
    assert (load.levels, load.spend) == ({"cheap": 9}, 27)


def test_a_fixed_level_is_obeyed_and_its_cost_is_shown(firm):
    part = firm.part("dear", "900")
    CarryLevel.objects.create(place=firm.north, part=part, level=2, fixed=True, why="a whole street of them")
    found = proposed(firm)
    [line] = found.lines.all()
    first = saved_by_one(firm, "x")
    assert (line.now, line.proposed, line.damped) == (2, 2, False)
    assert float(line.cost_of_fixing) == pytest.approx(0.25 * 1800 - first, abs=1)
    assert found.result["cost_of_fixing"] == pytest.approx(float(line.cost_of_fixing), abs=0.01)
    assert f"To fix it costs £{line.cost_of_fixing:,.2f} a year" in line.reason


def test_a_line_whose_level_turns_is_marked(firm):
    first = saved_by_one(firm, "x")
    firm.part("middling", str(round(first / 0.25 * 0.8, 2)))
    [line] = proposed(firm, at_once=True).lines.all()
    assert (line.proposed, line.flips) == (1, True)
    assert line.reason.endswith("It would be 0 at half the cost of a second visit.")
