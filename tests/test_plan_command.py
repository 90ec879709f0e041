"""`plan` with a file: what it refuses, what it prints."""

import json
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

PAIRS = next(
    case["inputs"] for case in json.loads(Path("fixtures/cases/stocking.json").read_text()) if case["id"] == "P20-pairs"
)


@pytest.fixture
def planned(tmp_path):
    def run(data, *options):
        file, out = tmp_path / "plan.json", StringIO()
        file.write_text(data if isinstance(data, str) else json.dumps(data))
        call_command("plan", str(file), *options, stdout=out)
        return out.getvalue()

    return run


def changed(**changes):
    """The pairs file with one thing changed: `needs__0__failures=-1`."""
    data = json.loads(json.dumps(PAIRS))
    for path, value in changes.items():
        *way, last = [int(step) if step.isdigit() else step for step in path.split("__")]
        at = data
        for step in way:
            at = at[step]
        at[last] = value
    return data


def test_the_answer_has_exactly_the_promised_keys(planned):
    answer = json.loads(planned(PAIRS, "--json"), parse_constant=pytest.fail)
    assert set(answer) == {"vans", "frontier", "method", "warnings"}
    [van] = answer["vans"]
    assert set(van) == {
        "van",
        "levels",
        "spend",
        "litres",
        "kilograms",
        "expected_done_per_interval",
        "first_visit_fix_rate",
        "worth_per_year",
        "binding",
        "lines",
    }
    assert van["levels"] == {"A1": 1, "A2": 1}
    assert all({"part", "level", "reason"} <= set(line) for line in van["lines"])
    assert len(answer["frontier"]) >= 10
    assert all(set(point) == {"spend", "first_visit_fix_rate"} for point in answer["frontier"])


def test_worth_per_year_is_the_first_sum_of_the_objective(planned):
    van = json.loads(planned(PAIRS, "--json"))["vans"][0]
    assert van["worth_per_year"] == pytest.approx(90 * 52 * van["expected_done_per_interval"])


@pytest.mark.parametrize(("change", "path"), [
    ({"needs__0__failures": -1}, "$.needs[0].failures"),
    ({"needs__1__exposure_years": 0}, "$.needs[1].exposure_years"),
    ({"needs__1__recipes": [{}]}, "$.needs[1].recipes[0]"),
    ({"needs__1__recipes": [{"A1": 0.5}]}, "$.needs[1].recipes[0].A1"),
    ({"needs__1__recipes": [{"Z": 1}]}, "$.needs[1].recipes[0]"),
    ({"needs__1__mixture": []}, "$.needs[1]"),
    ({"parts__2__price": "10"}, "$.parts[2].price"),
    ({"parts__2__part": "A1"}, "$.parts[2].part"),
    ({"parts__0__same_day": 1.5}, "$.parts[0].same_day"),
    ({"parts__0__colour": "red"}, "$.parts[0]"),
    ({"money__second_visit": None}, "$.money.second_visit"),
    ({"intervals_per_year": 0}, "$.intervals_per_year"),
    ({"max_per_part": 1.5}, "$.max_per_part"),
    ({"vans__0__pins": {"A1": [2, 1]}}, "$.vans[0].pins.A1"),
    ({"vans__0__pins": {"A1": [2]}}, "$.vans[0].pins.A1"),
    ({"vans__0__now": {"Q": 1}}, "$.vans[0].now"),
    ({"vans__0__exposure_per_interval": {"nothing": 1}}, "$.vans[0].exposure_per_interval"),
])  # fmt: skip
def test_what_does_not_fit_is_refused_by_its_path(planned, change, path):
    with pytest.raises(CommandError) as refused:
        planned(changed(**change), "--json")
    assert f"{path}: " in str(refused.value)
    assert refused.value.returncode == 1


@pytest.mark.parametrize("text", ["", "[", "[]", "null", '{"money": NaN}', '{"money": 1, "money": 2}', "[" * 100_000])
def test_what_is_no_plan_at_all_is_refused(planned, text):
    with pytest.raises(CommandError, match=r"\$"):
        planned(text)


def test_everything_that_does_not_fit_is_told_at_once(planned):
    with pytest.raises(CommandError) as refused:
        planned(changed(parts__0__price=-1, parts__1__price=-2))
    assert len(str(refused.value).splitlines()) == 2


def test_a_missing_file_is_refused():
    with pytest.raises(CommandError, match=r"nowhere\.json"):
        call_command("plan", "nowhere.json")


def test_the_budget_option_takes_the_place_of_each_vans_own(planned):
    assert json.loads(planned(PAIRS, "--json", "--budget", "40"))["vans"][0]["spend"] == 40


def test_one_van_is_shown_and_an_unknown_one_refused(planned):
    two = changed(vans=[{**PAIRS["vans"][0], "van": name} for name in ("north", "south")])
    answer = json.loads(planned(two, "--json", "--van", "south"))
    assert [van["van"] for van in answer["vans"]] == ["south"]
    with pytest.raises(CommandError, match="north, south"):
        planned(two, "--van", "east")


def test_a_mixture_of_one_is_the_plain_need(planned):
    needs = [
        {
            "need": n["need"],
            "recipes": n["recipes"],
            "mixture": [
                {"weight": 1, "failures": n["failures"], "exposure": n["exposure_years"], "per_interval": {"1": 1.0}}
            ],
        }
        for n in PAIRS["needs"]
    ]
    mixed, plain = (json.loads(planned(data, "--json"))["vans"][0] for data in (changed(needs=needs), PAIRS))
    assert mixed["expected_done_per_interval"] == pytest.approx(plain["expected_done_per_interval"])


def test_the_text_tells_each_van_each_part_and_the_frontier(planned):
    text = planned(PAIRS)
    assert "A1: Carry 1" in text
    assert "B1: Do not carry" in text
    assert "Cash in all vans against first-visit fix rate" in text


def test_options_that_a_file_does_not_use_are_told(planned):
    warnings = json.loads(planned(PAIRS, "--json", "--as-of", "2026-01-31"))["warnings"]
    assert warnings == ["--as-of has no effect on a plan file"]


def test_demand_beyond_all_stock_is_served_as_far_as_the_stock_goes(planned):
    shared = changed(
        max_per_part=2,
        parts=[{"part": p, "price": 1} for p in "AB"],
        needs=[{"need": n, "failures": 1e6, "exposure_years": 1, "recipes": [{"A": 1}, {n: 1}]} for n in "AB"],
        vans=[{"van": "1", "exposure_per_interval": {"A": 1, "B": 1}}],
    )
    van = json.loads(planned(shared, "--json"))["vans"][0]
    assert van["levels"] == {"A": 2, "B": 2}
    assert van["expected_done_per_interval"] == pytest.approx(4)


@pytest.mark.parametrize("number", ["1e400", "1e300"])
def test_numbers_beyond_all_bounds_are_refused(planned, number):
    with pytest.raises(CommandError, match=r"\$"):
        planned(json.dumps(PAIRS).replace('"price": 10', f'"price": {number}', 1))


@pytest.mark.parametrize(
    "option",
    [("--as-of", "yesterday"), ("--budget", "-1"), ("--budget", "nan"), ("--horizon", "0"), ("--horizon", "ninety")],
)
def test_an_option_that_makes_no_sense_is_refused_by_name(planned, option):
    with pytest.raises(CommandError, match=option[0]):
        planned(PAIRS, *option)
