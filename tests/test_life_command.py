"""`life FILE.csv`: the whole file or a named fault, and JSON that any reader takes."""

import json
import math
import warnings
from io import StringIO

import pytest
from django.core.management import CommandError, call_command

FIGURES = ("mtbf", "shrunk", "shape", "scale", "mean", "b10")
GROUP = ["group", "status", "failures", "exposure", *[name + end for name in FIGURES for end in ("", "_low", "_high")]]
GROUP += ["lr_p", "warnings", "curve"]


@pytest.fixture(autouse=True)
def _nothing_is_warned_of():
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        yield


@pytest.fixture
def life(tmp_path):
    """Run the command on a file with this content; returns what it printed; `told` is what it said beside that."""

    def run(content, *options):
        file, out, run.told = tmp_path / "ages.csv", StringIO(), StringIO()
        file.write_bytes(content if isinstance(content, bytes) else content.encode())
        try:
            call_command("life", str(file), *options, stdout=out, stderr=run.told)
        except CommandError:
            assert out.getvalue() == ""
            raise
        return out.getvalue()

    return run


def of(text):
    """The report behind a JSON text that may hold no NaN and no Infinity."""
    return json.loads(text, parse_constant=lambda word: pytest.fail(word))


def test_json_has_exactly_the_agreed_keys(life):
    report = of(life("exit,failed\n3,1\n5,1\n9,0\n", "--json", "--curve"))
    assert list(report) == ["groups", "level", "as_of", "before_care", "priors", "method"]
    assert list(report["groups"][0]) == GROUP
    assert list(report["groups"][0]["curve"][0]) == [
        "age",
        "at_risk",
        "events",
        "survival",
        "survival_low",
        "survival_high",
    ]
    assert list(report["priors"][0]) == ["family", "shape", "rate", "source"]
    assert (report["level"], report["as_of"], report["groups"][0]["group"]) == (0.9, None, "all")


def test_group_entry_and_count_have_defaults_and_may_be_blank(life):
    full = of(life("entry,exit,failed,group,count\n0,3,1,all,1\n0,5,1,all,1\n0,9,0,all,1\n", "--json"))
    assert of(life("count,exit,failed,entry,group\n,3,1,,\n1,5,1,0,\n,9,0,,all\n", "--json")) == full


@pytest.mark.parametrize(
    "content",
    [
        "exit,failed\n3,1\n5,1\n9,0\n",
        b"\xef\xbb\xbfexit,failed\r\n3,1\r\n5,1\r\n9,0\r\n",
        "exit;failed\n3;1\n5;1\n9;0",
        "exit\tfailed\n3\t1\n\n5\t1\n9\t0\n\n",
        '\n"Exit", Failed ,note\n 3 ,1,"a, b"\n5,1,\n9,0,"two\nlines"\n',
        "failed,exit\n1.0,3e0\n1,5\n0,+9\n",
    ],
)
def test_spreadsheets_differ_in_marks_and_blanks_only(life, content):
    assert of(life(content, "--json"))["groups"] == of(life("exit,failed\n3,1\n5,1\n9,0\n", "--json"))["groups"]


@pytest.mark.parametrize(
    ("content", "told"),
    [
        ("", "row 1: the file is empty"),
        ("\n \n", "row 1: the file is empty"),
        ("exit,failed\n", "row 2: no row follows"),
        ("3,1\n5,1\n", "row 1: the header lacks the column exit and failed"),
        ("exit,group\n3,a\n", "row 1: the header lacks the column failed"),
        ("exit,failed,exit\n3,1,4\n", "row 1: the column exit stands twice"),
        ("exit,failed\n3,1\nx,1\n", "row 3, column exit: 'x' is not a number"),
        ("exit,failed\n3,1\n,1\n", "row 3, column exit: '' is blank"),
        ("exit,failed\n3,1\n4\n", "row 3, column failed: '' is blank"),
        ("exit,failed\n3,1\nnan,1\n", "row 3, column exit: 'nan' is not a finite number"),
        ("exit,failed\n3,1\n1e999,1\n", "row 3, column exit: '1e999' is not a finite number"),
        ("exit,failed\n3,1\n-inf,1\n", "row 3, column exit: '-inf' is not a finite number"),
        ("exit,failed\n3,1\n1_0,1\n", "row 3, column exit: '1_0' is not a number"),
        ("exit,failed\n3,1\n4,1\0\n", "row 3: holds a null character"),
        ("exit,failed\n3,1\n-2,1\n", "row 3, column exit: '-2' is below 0"),
        ("exit,failed\n3,1\n1e200,1\n", "row 3, column exit: '1e200' lies outside"),
        ("exit;failed\n3;1\n4,5;1\n", "row 3, column exit: '4,5' is not a number: write a decimal point"),
        ("exit,failed\n3,1\n4,5,1\n", "row 3, column 3: '4,5,1' has more cells than the header"),
        ("entry,exit,failed\n4,3,1\n", "row 2, column entry: '4' lies after the exit"),
        ("entry,exit,failed\n-1,3,1\n", "row 2, column entry: '-1' is below 0"),
        ("exit,failed\n3,2\n", "row 2, column failed: '2' is neither 0 nor 1"),
        ("exit,failed\n3,yes\n", "row 2, column failed: 'yes' is not a number"),
        ("exit,failed,count\n3,1,1.5\n", "row 2, column count: '1.5' is not a whole number"),
        ("exit,failed,count\n3,1,-1\n", "row 2, column count: '-1' is not a whole number"),
        (b"exit,failed\n3,1\n\xff,1\n", "is not UTF-8"),
        ('exit,failed\n3,"1\n', "row 2"),
        ("exit,failed\n3,1\n,\n\n7,1\n8,x\n", "row 6, column failed: 'x'"),
    ],
)
def test_what_is_wrong_is_named_with_row_and_column_and_nothing_is_printed(life, content, told):
    with pytest.raises(CommandError) as error:
        life(content, "--json")
    assert told in str(error.value)
    assert error.value.returncode == 1


def test_all_faults_are_told_at_once(life):
    with pytest.raises(CommandError, match=r"(?s)row 2, column exit.*row 3, column failed.*row 4, column entry"):
        life("entry,exit,failed\n0,a,1\n0,1,7\n3,2,1\n")


def test_a_file_that_is_not_there_is_named(tmp_path):
    with pytest.raises(CommandError, match="nowhere.csv: cannot be read"):
        call_command("life", str(tmp_path / "nowhere.csv"))


@pytest.mark.parametrize(
    ("options", "told"),
    [
        (["--level", "90"], "--level 90: must lie between 0 and 1"),
        (["--level", "nan"], "--level nan"),
        (["--before-care", "guess"], "--before-care guess: must be one of perhaps"),
        (["--silence", "loud"], "--silence loud: must be one of model"),
        (["--by", "colour"], "--by colour: must be one of component"),
    ],
)
def test_options_that_cannot_be_are_refused_by_name(life, options, told):
    with pytest.raises(CommandError, match=told):
        life("exit,failed\n3,1\n", *options)


@pytest.mark.parametrize(
    "content",
    [
        "exit,failed\n0,1\n0,0\n",
        "exit,failed,count\n5,1,0\n",
        "entry,exit,failed\n4,4,1\n4,4,0\n3,3,1\n",
        "exit,failed\n" + "1e-9,1\n" * 40,
        "exit,failed\n1e9,1\n2e9,1\n",
        "exit,failed\n1e-100,1\n1e100,1\n1e100,0\n",
        "exit,failed,count\n3,1,9007199254740992\n4,1,9007199254740992\n",
        "exit,failed\n0,1\n3,1\n4,1\n9,0\n",
        "exit,failed,group\n3,1,a\n3,1,b\n3,1,c\n",
        "exit,failed\n3,0\n" * 1 + "4,0\n",
    ],
)
@pytest.mark.parametrize("options", [["--json", "--curve"], []])
def test_odd_ages_give_a_result_or_a_named_status(life, content, options):
    told = life(content, *options)
    assert "nan" not in told.replace("finance", "")
    if options:
        for group in of(told)["groups"]:
            numbers = [value for value in group.values() if isinstance(value, float)]
            assert all(math.isfinite(value) for value in numbers)
            assert (group["shape"] is not None) == (group["status"] == "fitted")


def test_failures_at_age_zero_are_left_out_of_the_life_and_said_so(life):
    with_zero = of(life("exit,failed\n0,1\n3,1\n5,1\n9,0\n", "--json"))["groups"][0]
    without = of(life("exit,failed\n3,1\n5,1\n9,0\n", "--json"))["groups"][0]
    assert with_zero["shape"] == without["shape"]
    assert with_zero["failures"] == 3
    assert "1 failure at age 0 is left out" in " ".join(with_zero["warnings"])


def test_text_and_json_tell_the_same_numbers(life):
    content = 'exit,failed,group\n3,1,"a\nb"\n5,1,"a\nb"\n9,0,"a\nb"\n7,0,fans\n'
    group = of(life(content, "--json"))["groups"][0]
    row = next(line for line in life(content).split("Fitted lives")[1].splitlines() if line.startswith("a b "))
    for name in ("shape", "scale", "mean", "b10"):
        value, low, high = (f"{group[name + end]:.4g}" for end in ("", "_low", "_high"))
        assert f" {value}  " in row
        assert f"{low} to {high}" in row


def test_columns_that_nothing_reads_are_named(life):
    life("exit,failed,weight,,clock\n3,1,0.5,,known\n5,1,1,,known\n", "--json")
    assert "columns left aside: weight, clock" in life.told.getvalue()
    life("entry,exit,failed,group,count\n0,3,1,a,1\n", "--json")
    assert life.told.getvalue() == ""


def test_a_level_of_one_but_for_the_last_digit_is_answered(life, recwarn):
    group = of(life("exit,failed\n1,1\n2,1\n3,0\n", "--json", "--level", "0.9999999999999999"))["groups"][0]
    assert 0 < group["shrunk_low"] < group["shrunk"] < group["shrunk_high"]
    assert not [warning for warning in recwarn if issubclass(warning.category, RuntimeWarning)]


def test_a_level_beyond_any_shape_is_not_blamed_on_late_entries(life):
    early = of(life("exit,failed\n1,1\n2,1\n3,0\n", "--json", "--level", "0.999999999"))["groups"][0]
    late = of(life("entry,exit,failed\n1,1.1,0\n1,1.2,0\n2,2.3,1\n2,30,1\n3,40,1\n", "--json"))["groups"][0]
    assert early["shape_low"] is late["shape_low"] is None
    assert "The shape has no lower limit that can be told" in " ".join(early["warnings"])
    assert "for all came under watch late" in " ".join(late["warnings"])


def test_text_shows_failures_exposure_limits_best_estimate_status_and_method(life):
    told = life("exit,failed,group\n3,1,pumps\n5,1,pumps\n9,0,pumps\n7,0,fans\n")
    for words in (
        "failures",
        "exposure",
        "MTBF",
        "likely between",
        "best estimate",
        "no-failures",
        "3.04 or more",
        "shape",
        "Method: MTBF = exposure / failures",
    ):
        assert words in told


def test_options_for_the_firms_records_are_left_aside_aloud(life):
    life("exit,failed\n3,1\n", "--by", "component")
    assert "--by: for the firm's records only" in life.told.getvalue()


def test_no_database_is_asked_about_a_file(life, django_db_blocker):
    with django_db_blocker.block():
        assert life("exit,failed\n3,1\n5,1\n")
