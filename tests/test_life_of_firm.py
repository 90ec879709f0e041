"""`life` without FILE: the firm's own records, and the spells behind the figures."""

import csv
import datetime
import json
from io import StringIO

import numpy as np
import pytest
from django.core.management import CommandError, call_command

from inventory.models import ComponentType
from jobs import lives
from jobs.models import Job
from tests.spell_firms import random_firm
from tests.test_history_from_database import book

pytestmark = pytest.mark.django_db
AS_OF = "2026-06-30"
SAME = ("failures", "exposure", "mtbf", "mtbf_low", "mtbf_high")
FITTED = ("status", "shape", "shape_low", "shape_high", "scale", "scale_low", "mean", "b10_high", "lr_p")


@pytest.fixture
def firm(db):
    book(random_firm(np.random.default_rng(7), appliances=50, busy=6))


def life(*options):
    out, told = StringIO(), StringIO()
    call_command("life", *options, "--json", stdout=out, stderr=told)
    report = json.loads(out.getvalue(), parse_constant=lambda word: pytest.fail(word))
    return report, {group["group"]: group for group in report["groups"]}, told.getvalue()


def written(path):
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.mark.parametrize("before_care", ["first", "unknown"])
def test_the_spells_written_give_the_same_figures_when_read_as_ages(firm, tmp_path, before_care):
    spells, ages = tmp_path / "spells.csv", tmp_path / "ages.csv"
    asked = ("--as-of", AS_OF, "--before-care", before_care, "--silence", "window")
    report, groups, _ = life(*asked, "--spells", str(spells))
    assert (report["as_of"], report["before_care"]) == (AS_OF, before_care)
    rows = written(spells)
    for name, clocks in (
        ("all", {"known", "perhaps", "unknown"}),
        ("aged", {"known", "perhaps"} if before_care == "first" else {"known"}),
    ):
        kept = [row for row in rows if row["clock"] in clocks]
        with ages.open("w", encoding="utf-8") as file:
            print("entry,exit,failed,group", file=file)
            for row in kept:
                print(row["entry"], row["exit"], row["failed"], row["component"], sep=",", file=file)
        again = life(str(ages))[1]
        for key, group in groups.items():
            if name == "all":
                assert [group[figure] for figure in SAME] == pytest.approx([again[key][figure] for figure in SAME])
            elif group["failures"] > 1 and again[key]["failures"] > 1:
                assert [group[figure] for figure in FITTED[1:]] == pytest.approx(
                    [again[key][figure] for figure in FITTED[1:]], rel=1e-5
                )
                assert group["status"] == again[key]["status"]


@pytest.mark.parametrize("by", ["component,model", "component,maker", "component,supplier", "component,fitted_year"])
def test_finer_groups_add_up_to_their_component(firm, by):
    _, whole, _ = life("--as-of", AS_OF)
    report, fine, _ = life("--as-of", AS_OF, "--by", by)
    for name, group in whole.items():
        parts = [one for key, one in fine.items() if key.startswith(f"{name} / ")]
        assert sum(one["failures"] for one in parts) == group["failures"]
        assert sum(one["exposure"] for one in parts) == pytest.approx(group["exposure"])
    assert list(fine) == sorted(fine)
    assert {prior["family"] for prior in report["priors"]} == set(whole)


def test_a_component_without_failures_is_told_by_its_assumed_rate(db):
    book(random_firm(np.random.default_rng(1), appliances=4, busy=0))
    ComponentType.objects.update(prior_failures_per_100_years="2")
    report, groups, _ = life("--as-of", AS_OF)
    group = next(iter(groups.values()))
    assert group["status"] == "no-failures"
    assert group["shrunk"] == pytest.approx(50 + group["exposure"])
    assert "assumed" in report["priors"][0]["source"]
    assert "assumed rate" in " ".join(group["warnings"])


def test_records_that_end_long_ago_are_warned_of_only_when_no_day_is_given(firm):
    newest = Job.objects.latest("reported_on").reported_on
    assert newest < datetime.date.today() - datetime.timedelta(days=31)
    assert "The newest record is of" in life()[2]
    assert "The newest record" not in life("--as-of", newest.isoformat())[2]


def test_curves_of_the_firm_start_where_five_are_at_risk(firm):
    for group in life("--as-of", AS_OF, "--curve")[1].values():
        assert not group["curve"] or group["curve"][0]["at_risk"] >= 5


@pytest.mark.parametrize(
    ("options", "told"),
    [
        (["--as-of", "30.06.2026"], "--as-of 30.06.2026"),
        (["--care-window", "x"], "--care-window x"),
        (["--before-care", "guess"], "--before-care guess: must be one of perhaps, first, unknown"),
        (["--silence", "loud"], "--silence loud: must be one of model, window"),
    ],
)
def test_options_that_cannot_be_are_refused_by_name(db, options, told):
    with pytest.raises(CommandError, match=told):
        call_command("life", *options)


def test_spells_that_cannot_be_written_stop_the_command_before_it_prints(firm, tmp_path):
    out = StringIO()
    with pytest.raises(CommandError, match="cannot be written"):
        call_command("life", "--as-of", AS_OF, "--spells", str(tmp_path / "none" / "spells.csv"), stdout=out)
    assert out.getvalue() == ""


def test_a_wider_care_window_never_takes_exposure_away(firm):
    narrow, wide = (life("--as-of", AS_OF, "--silence", "window", "--care-window", months)[1] for months in ("6", "48"))
    assert all(wide[name]["exposure"] >= group["exposure"] for name, group in narrow.items())


def test_the_usual_answer_allows_for_earlier_renewals_and_weighs_who_falls_silent(firm):
    usual, groups, _ = life("--as-of", AS_OF)
    asked, same, _ = life("--as-of", AS_OF, "--before-care", "perhaps", "--silence", "model")
    assert usual == asked
    assert groups == same
    assert usual["before_care"] == "perhaps"


def test_the_method_says_that_who_falls_silent_is_weighed(firm):
    told = life("--as-of", AS_OF)[0]
    assert "weighed by the chance that they are still in care" in told["method"]


def test_silent_tails_are_written_as_pieces_of_at_most_91_days_that_count_in_part(firm, tmp_path):
    path, day = tmp_path / "spells.csv", datetime.date.fromisoformat(AS_OF)
    spells = lives.firm_spells(as_of=day, silence="model")
    with path.open("w", newline="") as file:
        spells.write_csv(file)
    groups = {group["group"]: group for group in lives.report_of(spells, as_of=day).to_dict()["groups"]}
    rows = written(path)
    silent = [row for row in rows if row["closed_by"] == "silent"]
    assert silent
    assert all(0 <= float(row["weight"]) < 1 for row in silent)
    assert all(row["weight"] == "1" for row in rows if row["closed_by"] != "silent")
    assert max(float(row["exit"]) - float(row["entry"]) for row in silent) <= 91 / 365.25 + 1e-8
    for name, group in groups.items():
        own = [row for row in rows if row["component"] == name]
        years = sum(float(row["weight"]) * (float(row["exit"]) - float(row["entry"])) for row in own)
        assert group["exposure"] == pytest.approx(years)


def test_the_other_assumptions_are_one_call_away_and_agree_with_the_command(firm):
    answers = {answer.key: answer for answer in lives.sensitivity(datetime.date.fromisoformat(AS_OF))}
    assert list(answers)[0] == "usual"
    assert set(answers) == {
        "usual", "first", "unknown", "lost-none", "lost-double", "silence-window", "window-half", "window-double"
    }  # fmt: skip
    for key, word in (("usual", "perhaps"), ("first", "first"), ("unknown", "unknown")):
        told = life("--as-of", AS_OF, "--before-care", word)[1]
        assert {name: group.shape for name, group in answers[key].groups.items()} == {
            name: group["shape"] for name, group in told.items()
        }
    with pytest.raises(ValueError, match="before_care guess: not to be had"):
        lives.report(datetime.date.fromisoformat(AS_OF), before_care="guess")


def test_one_component_type_alone_is_told_what_it_is_told_among_all_to_the_last_digit(firm):
    whole = {answer.key: answer.groups for answer in lives.sensitivity(datetime.date.fromisoformat(AS_OF))}
    for name in whole["usual"]:
        for answer in lives.sensitivity(datetime.date.fromisoformat(AS_OF), component=name):
            assert answer.groups == {name: whole[answer.key][name]}


def test_a_firm_without_records_has_an_empty_report(db):
    report, groups, told = life("--as-of", AS_OF)
    assert groups == {}
    assert report["level"] == 0.9
