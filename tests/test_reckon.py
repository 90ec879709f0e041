"""The usual figures are reckoned ahead, so that pages only look them up."""

import os

import numpy as np
import pytest
from django.core.cache import cache
from django.core.management import CommandError, call_command
from django.urls import reverse
from django.utils import timezone

from jobs.services.life_grids import life_grids
from jobs.services.positions_ahead import positions_ahead
from tests.factories import JobFactory, PlaceFactory
from tests.owner_firm import owner_firm, worn

pytestmark = pytest.mark.django_db
TODAY = timezone.localdate
PAGES = ("component_list", "alarm_list", "forecast")


def written(folder):
    return {file.name: file.stat().st_mtime_ns for file in folder.iterdir()}


def looked_at(owner, folder):
    """Names of the files that the pages on lives write when a fresh process shows them."""
    cache.clear()
    before = written(folder)
    for name in PAGES:
        assert owner.get(reverse(name)).status_code == 200
    return {name for name, at in written(folder).items() if before.get(name) != at}


def test_pages_find_everything_reckoned(owner, figures_in_files, capsys):
    component, appliances = owner_firm()
    worn(component, appliances)
    assert looked_at(owner, figures_in_files)
    for file in figures_in_files.iterdir():
        file.unlink()
    call_command("reckon")
    assert "Reckoned in" in capsys.readouterr().out
    assert looked_at(owner, figures_in_files) == set()
    JobFactory()
    assert looked_at(owner, figures_in_files)


def test_a_second_time_nothing_is_reckoned_again(figures_in_files):
    component, appliances = owner_firm()
    worn(component, appliances)
    call_command("reckon", verbosity=0)
    before = written(figures_in_files)
    call_command("reckon", verbosity=0)
    assert written(figures_in_files) == before


def test_without_a_folder_it_says_so(settings):
    settings.SHARED_FIGURES = False
    with pytest.raises(CommandError, match="cannot be written"):
        call_command("reckon", verbosity=0)


def test_a_firm_without_any_record_has_figures_too(figures_in_files):
    call_command("reckon", verbosity=0)


def test_it_ends_when_the_server_that_began_it_is_gone(figures_in_files, monkeypatch):
    parents = iter([17, 17, 1, 1])
    monkeypatch.setattr(os, "getppid", lambda: next(parents))
    call_command("reckon", keep_on=True, verbosity=0)
    assert written(figures_in_files)


def test_what_lies_ahead_of_a_position_is_the_mean_over_its_ages():
    """Reckoned again row by row."""
    component, appliances = owner_firm(care_after_days=2500)
    worn(component, appliances)
    today, ahead = life_grids(TODAY()).today, positions_ahead(TODAY())
    assert not today.seen.all()
    for number, appliance in enumerate(ahead.appliances):
        rows = np.flatnonzero(today.appliance == number)
        ((key, position, age, seen, hazard, expected, original, renewed, low, high),) = ahead.of(appliance)
        assert (key, position, seen) == ("pump", 1, bool(today.seen[rows].any()))
        assert age == pytest.approx(sum(today.whole[row] * today.age[row] for row in rows))
        if not seen:
            chance = today.whole[rows[today.age[rows].argmax()]]
            assert expected == pytest.approx(chance * original + (1 - chance) * renewed)
        assert 0 < low < hazard < high
    assert list(ahead.of("no such appliance")) == []


def test_every_position_is_shared_out_among_the_vans_and_none():
    component, appliances = owner_firm()
    for name in ("van 1", "van 2"):
        PlaceFactory(key=name, post_areas=[appliances[0].address.post_area])
    grids = life_grids(TODAY())
    row, van, share = grids.rows_of(range(len(grids.vans) + 1))
    assert np.bincount(row, share) == pytest.approx(np.ones(grids.today.age.size))
    assert set(share.tolist()) == {0.5}
    assert grids.rows_of([])[0].size == 0
