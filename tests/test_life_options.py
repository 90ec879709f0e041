"""Every combination of the options of `life` runs on a small firm without a warning and tells only numbers."""

import io
import json
import warnings
from datetime import date
from itertools import product

import numpy as np
import pytest
from django.core.management import call_command

from jobs import lives
from jobs.history import BEFORE_CARE, SILENCE
from jobs.reliability.grouping import BY
from tests.factories import ApplianceFactory, JobFactory
from tests.small_firm import small_firm
from tests.spell_firms import random_firm
from tests.test_history_from_database import book

pytestmark = pytest.mark.django_db
AS_OF = "2022-06-30"


def life(*options):
    """Standard output and error of the command; a warning of any library is an error."""
    out, told = io.StringIO(), io.StringIO()
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        call_command("life", *options, stdout=out, stderr=told)
    return out.getvalue(), told.getvalue()


@pytest.mark.parametrize("silence", SILENCE)
@pytest.mark.parametrize("before_care", BEFORE_CARE)
def test_every_combination_of_options_runs(before_care, silence):
    book(random_firm(np.random.default_rng(3), appliances=15, busy=5))
    assumed = ["--as-of", AS_OF, "--before-care", before_care, "--silence", silence]
    for by, curve in product(BY, (True, False)):
        asked = [*assumed, "--by", by, *(["--curve"] if curve else [])]
        told = json.loads(life(*asked, "--json")[0])
        assert told["groups"]
        assert all((group["curve"] is not None) == curve for group in told["groups"])
        assert all(group["warnings"] is not None and group["exposure"] >= 0 for group in told["groups"])
        text = life(*asked)[0]
        assert "nan" not in text
        assert "MTBF" in text


@pytest.mark.parametrize("window", ["0.5", "6", "36", "600"])
def test_any_care_window_runs(window):
    book(random_firm(np.random.default_rng(4), appliances=10, busy=5))
    for silence in SILENCE:
        assert life("--as-of", AS_OF, "--care-window", window, "--silence", silence, "--json")[0]


def test_the_file_of_spells_is_what_the_builder_gives(tmp_path):
    book(random_firm(np.random.default_rng(5), appliances=15, busy=5))
    for silence in SILENCE:
        file = tmp_path / f"{silence}.csv"
        life("--as-of", AS_OF, "--silence", silence, "--spells", str(file), "--json")
        written = io.StringIO()
        lives.firm_spells(as_of=date.fromisoformat(AS_OF), silence=silence).write_csv(written)
        assert file.read_text(encoding="utf-8") == written.getvalue()
        assert written.getvalue().count("\n") > 50


@pytest.mark.parametrize("before_care", BEFORE_CARE)
def test_a_firm_without_failures_and_one_without_anything_run(before_care):
    assert json.loads(life("--as-of", AS_OF, "--before-care", before_care, "--json")[0])["groups"] == []
    firm = small_firm()
    JobFactory(appliance=ApplianceFactory(model=firm.model), reported_on=firm.today)
    for by in BY:
        told = json.loads(life("--before-care", before_care, "--by", by, "--json")[0])
        assert {group["status"] for group in told["groups"]} <= {"no-failures"}
