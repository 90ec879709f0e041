"""What a van should carry, on its page: marks, damped lines, fixing with a reason and an end, files, top-up lists."""

import csv
import datetime
import io
import uuid
from decimal import Decimal as D

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from inventory.models import CarryLevel
from jobs.models import LoadLine, LoadProposal
from tests.small_firm import more_of_everything, small_firm

pytestmark = pytest.mark.django_db


@pytest.fixture
def firm():
    firm = small_firm()
    firm.proposal = proposal(firm)
    return firm


@pytest.fixture
def office(client, firm):
    client.force_login(firm.office)
    return client


def proposal(firm):
    """One change that hangs on the cost of a second visit, and one that is not worth the bother."""
    made = LoadProposal.objects.create(event=uuid.uuid4(), van=firm.van, as_of=firm.today)
    firm.line = LoadLine.objects.create(
        proposal=made, part=firm.part, now=2, proposed=1, best=1, price=48, gain_per_year=14, reason="Two are wanted.",
        flips=True,
    )  # fmt: skip
    firm.damped = LoadLine.objects.create(
        proposal=made, part=firm.gas, now=0, proposed=0, best=1, price=90, gain_per_year=3, reason="Few are wanted.",
        damped=True,
    )  # fmt: skip
    return made


def load_page(client, firm):
    return client.get(reverse("van_load", args=[firm.van.pk])).content.decode()


def fix(client, firm, part=None, **typed):
    days = firm.today + datetime.timedelta(days=100)
    typed = {"event": str(uuid.uuid4()), "level": 2, "why": "The lift at Weir House", "until": days, **typed}
    return client.post(reverse("load_fix", args=[firm.van.pk, (part or firm.part).pk]), typed)


def test_a_line_that_hangs_on_the_cost_of_a_second_visit_is_marked(office, firm):
    page = load_page(office, firm)
    assert page.count("Depends on the cost of a second visit") == 1


def test_what_is_not_worth_the_bother_stands_apart_unticked(office, firm):
    page = load_page(office, firm)
    apart = page.index("not worth the bother this week")
    assert page.index("Two are wanted.") < apart < page.index("Few are wanted.")
    assert "Could be 1" in page
    assert f'value="{firm.line.pk}" checked' in page
    assert f'value="{firm.damped.pk}" checked' not in page


def test_accepting_all_leaves_what_is_not_worth_the_bother(office, firm):
    accept(office, firm, all="1")
    assert levels(firm) == {firm.part.pk: 1, firm.gas.pk: 0}


def test_a_damped_line_that_is_ticked_gets_what_pays_best(office, firm):
    accept(office, firm, line=[firm.damped.pk])
    assert levels(firm) == {firm.part.pk: 2, firm.gas.pk: 1}
    assert "Accepted 1" in load_page(office, firm)


def accept(client, firm, **typed):
    typed |= {"event": str(uuid.uuid4()), "proposal": firm.proposal.pk}
    return client.post(reverse("load_accept", args=[firm.van.pk]), typed)


def levels(firm):
    return dict(CarryLevel.objects.filter(place=firm.van).values_list("part", "level"))


def test_a_fixed_line_says_by_whom_until_when_why_and_what_it_costs(office, firm):
    assert fix(office, firm, until="2199-03-01").status_code == 302
    level = CarryLevel.objects.get(place=firm.van, part=firm.part)
    assert (level.level, level.fixed, level.fixed_by, level.why) == (2, True, firm.office, "The lift at Weir House")
    page = load_page(office, firm)
    assert f"Fixed by {firm.office} until 1 March 2199: costs about £14 a year." in page
    assert "The lift at Weir House" in page
    assert "1 line of it was fixed since" in page
    assert f'name="line" value="{firm.line.pk}"' not in page


def test_the_cost_of_a_fixed_level_comes_from_the_proposal_made_after_it(office, firm):
    fix(office, firm, level=3)
    assert "costs about" not in load_page(office, firm)
    LoadLine.objects.filter(pk=firm.line.pk).update(cost_of_fixing=D("22.40"))
    LoadProposal.objects.update(made_at=timezone.now() + datetime.timedelta(minutes=1))
    assert "costs about £22 a year" in load_page(office, firm)


def test_a_level_fixed_at_what_pays_best_costs_next_to_nothing(office, firm):
    fix(office, firm, level=1)
    assert "costs next to nothing" in load_page(office, firm)


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"why": ""}, "This field is required"),
        ({"until": ""}, "This field is required"),
        ({"until": "2020-01-01"}, "This day has passed"),
        ({"until": "9999-01-01"}, "Give a day before 2200"),
        ({"level": "-1"}, "greater than or equal to 0"),
        ({"level": "1000"}, "less than or equal to 999"),
        ({"level": "²"}, "whole number"),
        ({"why": "x" * 241}, "at most 240"),
    ],
)
def test_a_line_is_not_fixed_without_reason_end_and_level(office, firm, wrong, words):
    answer = fix(office, firm, **wrong)
    assert answer.status_code == 400
    assert words in answer.content.decode()
    assert not CarryLevel.objects.filter(fixed=True).exists()


def test_fixing_twice_is_once_and_other_content_asks_again(office, firm):
    event = str(uuid.uuid4())
    assert fix(office, firm, event=event).status_code == fix(office, firm, event=event).status_code == 302
    assert "saved before with other content" in fix(office, firm, event=event, level=4).content.decode()
    assert CarryLevel.objects.get(place=firm.van, part=firm.part).level == 2


def test_a_fixed_line_is_left_by_accepting_and_can_be_let_go(office, firm):
    fix(office, firm)
    accept(office, firm, all="1")
    assert levels(firm)[firm.part.pk] == 2
    office.post(reverse("load_let_go", args=[firm.van.pk, firm.part.pk]), {"event": str(uuid.uuid4())})
    level = CarryLevel.objects.get(place=firm.van, part=firm.part)
    assert (level.fixed, level.fixed_by, level.why, level.until) == (False, None, "", None)
    accept(office, firm, all="1")
    assert levels(firm)[firm.part.pk] == 1


def test_the_form_for_fixing_shows_what_the_proposal_says(office, firm):
    page = office.get(reverse("load_fix", args=[firm.van.pk, firm.part.pk])).content.decode()
    for words in ("Two are wanted.", "£14", "Fix it"):
        assert words in page
    assert office.get(reverse("load_fix", args=[firm.van.pk, 99999])).status_code == 404


def test_the_lines_leave_as_files(office, firm):
    answer = office.get(reverse("van_load", args=[firm.van.pk]) + "?export=csv")
    rows = list(csv.DictReader(io.StringIO(answer.content.decode("utf-8-sig"))))
    assert [(row["Part"], row["Proposed"], row["Depends on the cost of a second visit"]) for row in rows] == [
        ("104233", "1", "yes"),
        ("104300", "0", ""),
    ]
    assert rows[1]["Not worth the bother now"] == "yes"
    sheet = office.get(reverse("van_load", args=[firm.van.pk]) + "?export=xlsx")
    assert sheet["Content-Type"].startswith("application/vnd.openxmlformats")


def test_the_page_costs_the_same_queries_however_many_lines_it_has(office, firm):
    def queries():
        with CaptureQueriesContext(connection) as caught:
            load_page(office, firm)
        return len(caught)

    queries()
    few = queries()
    more_of_everything(firm, 4)
    for level in CarryLevel.objects.filter(place=firm.van).exclude(part=firm.part):
        line = {"now": 0, "proposed": 1, "reason": "", "damped": level.pk % 2 == 0, "best": 1}
        LoadLine.objects.create(proposal=firm.proposal, part=level.part, **line)
        fix(office, firm, part=level.part)
    assert queries() == few


def test_the_printed_list_says_who_fixed_a_level_until_when(office, firm):
    fix(office, firm, until="2199-03-01")
    page = office.get(reverse("load_paper", args=[firm.van.pk])).content.decode()
    assert f"fixed by {firm.office} until 1 Mar 2199: The lift at Weir House" in page


def test_no_page_of_loads_is_for_an_engineer(client, firm):
    client.force_login(firm.engineer)
    fixing = reverse("load_fix", args=[firm.van.pk, firm.part.pk])
    for address in (reverse("top_up_list"), reverse("store_levels"), fixing):
        assert client.get(address).status_code == 403
    assert fix(client, firm).status_code == 403


@pytest.mark.parametrize("text", ["\0", "²", "99999999999999999999", "-1", "<script>", "é" * 300])
def test_whatever_is_typed_into_an_address_never_breaks_a_page(office, firm, text):
    asked = dict.fromkeys(["van", "q", "sort", "page", "supplier", "show", "export"], text)
    for name in ("top_up_list", "store_levels"):
        assert office.get(reverse(name), asked).status_code == 200
    assert office.get(reverse("van_load", args=[firm.van.pk]), asked).status_code == 200


def test_a_fixed_level_whose_day_has_passed_is_fixed_no_longer(office, firm):
    fix(office, firm, until="2199-03-01")
    page = office.get(reverse("van_detail", args=[firm.van.pk])).content.decode()
    assert f"fixed by {firm.office} until 1 Mar 2199" in page
    CarryLevel.objects.filter(fixed=True).update(until=firm.today - datetime.timedelta(days=1))
    assert "fixed by" not in office.get(reverse("van_detail", args=[firm.van.pk])).content.decode()
    assert "costs about" not in load_page(office, firm)


def test_a_proposal_in_small_steps_says_how_small_and_what_the_whole_way_would_bring(office, firm):
    firm.proposal.inputs = {"damping": {"handling": 5.0, "stays_weeks": 8.0, "most_changes": 4}}
    firm.proposal.result = {"waiting": 3, "best": {"spend": 1200.0, "first_visit_fix_rate": 0.62}}
    firm.proposal.save()
    page = load_page(office, firm)
    assert "With all that pays, 3 changes more, it would be 62.0% with £1,200 in the van." in page
    assert "£5 a year, its handling" in page
    assert "8 weeks" in page
    firm.proposal.inputs = {"damping": None}
    firm.proposal.save()
    assert "everything that pays, at once" in load_page(office, firm)


@pytest.mark.parametrize("at_once", [{}, {"at_once": "1"}])
def test_a_load_is_worked_out_in_small_steps_or_at_once(office, firm, at_once):
    typed = {"event": str(uuid.uuid4()), **at_once}
    office.post(reverse("load_propose", args=[firm.van.pk]), typed)
    made = LoadProposal.objects.get(event=typed["event"])
    assert (made.inputs["damping"] is None) == bool(at_once)
    assert office.get(reverse("van_load", args=[firm.van.pk])).status_code == 200
