"""Silent customers: their rates are found again, and exposure with their weights is that of those still in care."""

import numpy as np
import pytest
from scipy.integrate import quad

from jobs.reliability.silence import fit_silence, mean_still_in_care, silent_pieces, still_in_care


def customers(rng, count, contact, leaving, years=8.0):
    """Contacts after the start, time to the last one, silence since, and the time really in care."""
    start = rng.uniform(0, years - 1, count)
    care = np.minimum(rng.exponential(1 / leaving, count) if leaving else np.full(count, np.inf), years - start)
    contacts = rng.poisson(contact * care)
    last = care * rng.random(count) ** (1 / np.maximum(contacts, 1)) * (contacts > 0)
    return contacts, last, years - start - last, care


@pytest.mark.parametrize(("contact", "leaving"), [(0.3, 0.1), (1.5, 0.05), (0.15, 0.3)])
def test_rates_that_made_the_contacts_are_found_again(contact, leaving):
    contacts, watched, silence, _ = customers(np.random.default_rng(1), 6000, contact, leaving)
    found = fit_silence(contacts, watched, silence, level=0.999)
    assert found.contact == pytest.approx(contact, rel=0.1)
    assert found.contact_low < contact < found.contact_high
    assert found.leaving_low < leaving < found.leaving_high


@pytest.mark.parametrize("leaving", [0.05, 0.2])
def test_weighted_exposure_is_the_time_really_in_care(leaving):
    """Plain cutting at the last contact gives far less; the goal of the design is within 2 %."""
    contacts, watched, silence, care = customers(np.random.default_rng(2), 8000, 0.25, leaving)
    found = fit_silence(contacts, watched, silence)
    _, begin, end, weight = silent_pieces(silence, found.contact, found.leaving)
    assert (watched.sum() + np.sum(weight * (end - begin))) / care.sum() == pytest.approx(1.0, abs=0.03)
    assert watched.sum() / care.sum() < 0.75


def test_saying_that_one_leaves_is_a_contact():
    """Half of those who leave say so; left out of the contacts, more than all the time in care would be counted."""
    rng = np.random.default_rng(4)
    contacts, watched, silence, care = customers(rng, 12_000, 0.2, 0.12)
    told = (care < watched + silence - 1e-9) & (rng.random(care.size) < 0.5)
    watched, silence = np.where(told, care, watched), np.where(told, 0.0, silence)

    def counted(contacts):
        found = fit_silence(contacts, watched, silence, limits=False)
        _, begin, end, weight = silent_pieces(silence, found.contact, found.leaving)
        return (watched.sum() + np.sum(weight * (end - begin))) / care.sum()

    assert counted(contacts + told) == pytest.approx(1.0, abs=0.015)
    assert counted(contacts) > 1.03


def test_nobody_left_when_all_are_heard_of():
    found = fit_silence([40] * 30, [8.0] * 30, [0.05] * 30)
    assert found.leaving == pytest.approx(0.0, abs=0.05)
    assert found.leaving_low == 0.0
    assert found.contact == pytest.approx(40 / 8.05, rel=0.01)


def test_weights_begin_near_one_fall_and_are_one_where_nobody_leaves():
    weight = still_in_care(np.linspace(0, 3, 50), 3.0, 0.3, 0.2)
    assert weight[0] == pytest.approx(1.0)
    assert (np.diff(weight) < 0).all()
    assert weight[-1] > 0
    np.testing.assert_allclose(still_in_care([0.0, 1, 2], 2.0, 0.3, 0.0), 1.0)


def test_weight_is_bayes_rule_on_the_day_of_leaving():
    """Slow re-derivation: P(left after x | silent for g) by integration over the day of leaving."""
    contact, leaving, silence, since = 0.4, 0.15, 2.5, 1.2
    density = lambda t: leaving * np.exp(-(contact + leaving) * t)  # noqa: E731
    stays = np.exp(-(contact + leaving) * silence)
    wanted = (quad(density, since, silence)[0] + stays) / (quad(density, 0, silence)[0] + stays)
    assert still_in_care(since, silence, contact, leaving) == pytest.approx(wanted)


def test_pieces_cover_each_tail_and_carry_its_mean_weight():
    tail, begin, end, weight = silent_pieces([0.0, 0.1, 1.0], 0.3, 0.2, piece=0.25)
    assert tail.tolist() == [1, 2, 2, 2, 2]
    assert end.tolist() == [0.1, 0.25, 0.5, 0.75, 1.0]
    assert begin[1:].tolist() == [0.0, 0.25, 0.5, 0.75]
    for number in range(5):
        wanted = quad(
            lambda x, n=number: still_in_care(x, [0.0, 0.1, 1.0][tail[n]], 0.3, 0.2), begin[number], end[number]
        )[0] / (end[number] - begin[number])
        assert weight[number] == pytest.approx(wanted)
    assert mean_still_in_care(0.3, 0.3, 1.0, 0.3, 0.2) == pytest.approx(still_in_care(0.3, 1.0, 0.3, 0.2))


def test_without_contacts_nothing_is_known():
    assert np.isnan(fit_silence([0, 0], [0.0, 0.0], [3.0, 4.0]).contact)
    assert np.isnan(fit_silence([], [], []).leaving)


@pytest.mark.parametrize("unit", [1e-6, 365.25, 1e6])
def test_rates_scale_with_the_unit(unit):
    contacts, watched, silence, _ = customers(np.random.default_rng(3), 300, 0.3, 0.1)
    one, other = fit_silence(contacts, watched, silence), fit_silence(contacts, watched * unit, silence * unit)
    assert other.leaving * unit == pytest.approx(one.leaving, rel=1e-4)
    assert other.contact_high * unit == pytest.approx(one.contact_high, rel=1e-4)
