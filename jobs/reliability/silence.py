"""Customers who do not call: have they left, or does their boiler work?"""

from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq, minimize_scalar
from scipy.special import chdtri

Array = np.ndarray
PIECE = 91 / 365.25  # longest piece of a silent tail, years
LEAST, MOST = 1e-6, 1e3  # rates per unit of time, times the mean time watched


@dataclass(frozen=True)
class Silence:
    """Contacts and leavings per unit of time of customers without a regular service, with profile limits.

    leaving 0: nobody seems to have left. A rate is nan where nothing was watched or nobody made contact.
    """

    contact: float
    contact_low: float
    contact_high: float
    leaving: float
    leaving_low: float
    leaving_high: float
    appliances: int


def fit_silence(contacts, watched, silence, level=0.90, *, limits=True) -> Silence:
    """Contact rate c and leaving rate m of customers who come when something fails and leave without a word.

    contacts: number after the start of care, watched: time from there to the last contact, silence: time since,
    all (n,). Maximises the product of c ** contacts exp(-s watched) [exp(-s silence) + m / s (1 - exp(-s silence))]
    with s = c + m: contacts come at random while in care, leaving does too, and nothing comes after it.
    Customers on a yearly service do not belong here: their silence has a date. One who says that he leaves makes
    his last contact with that and is silent for no time: without it those who stay would seem too many.
    """
    contacts, watched, silence = (np.asarray(values, float) for values in (contacts, watched, silence))
    whole = float((watched + silence).sum())
    if whole <= 0 or contacts.sum() <= 0:
        return Silence(np.nan, np.nan, np.nan, np.nan, np.nan, np.nan, contacts.size)
    unit = whole / contacts.size
    lengths, customers = np.unique(silence / unit, return_counts=True)
    data = contacts.sum(), watched.sum() / unit, lengths, customers
    leaving, best = _best(lambda x: _over_contact(data, x))
    contact, _ = _over_contact(data, leaving)
    ends = [np.nan] * 4
    if limits:
        drop = chdtri(1, 1 - level) / 2
        ends = [
            *_limits(lambda x: best - drop - _over_leaving(data, x)[1], contact),
            *_limits(lambda x: best - drop - _over_contact(data, x)[1], leaving),
        ]
    contact_low, contact_high, leaving_low, leaving_high = (_rate(x, unit) for x in ends)
    return Silence(
        _rate(contact, unit), contact_low, contact_high, _rate(leaving, unit), leaving_low, leaving_high, contacts.size
    )


def _rate(log_rate, unit):
    return 0.0 if log_rate <= np.log(LEAST) + 0.1 else float(np.exp(log_rate) / unit)


def _height(data, log_contact, log_leaving):
    contacts, watched, silence, customers = data
    contact, leaving = np.exp(log_contact), np.exp(log_leaving)
    s = contact + leaving
    quiet = np.exp(-s * silence)
    silent = customers @ np.log(quiet + leaving / s * (1 - quiet))
    return float(contacts * log_contact - s * watched + silent)


def _over_contact(data, log_leaving):
    """(best log contact rate, height) at a leaving rate."""
    return _best(lambda x: (x, _height(data, x, log_leaving)))


def _over_leaving(data, log_contact):
    """(best log leaving rate, height) at a contact rate."""
    return _best(lambda x: (x, _height(data, log_contact, x)))


def _best(function):
    """Log rate at which function(log rate)[1] is highest, and that height: a coarse look, then Brent."""
    grid = np.linspace(np.log(LEAST), np.log(MOST), 22)
    heights = [function(x)[1] for x in grid]
    top = int(np.argmax(heights))
    ends = grid[max(top - 1, 0)], grid[min(top + 1, grid.size - 1)]
    found = minimize_scalar(lambda x: -function(x)[1], bounds=ends, method="bounded", options={"xatol": 1e-7})
    return float(found.x), float(-found.fun)


def _limits(below, at):
    """Where a function that is below 0 at `at` rises to 0 on either side; the ends where it does not."""
    low, high = np.log(LEAST), np.log(MOST)
    return (
        brentq(below, low, at, xtol=1e-6) if below(low) > 0 else low,
        brentq(below, at, high, xtol=1e-6) if below(high) > 0 else high,
    )


def still_in_care(since, silence, contact, leaving):
    """P(still in care `since` into a silence that has lasted `silence`), arrays; 1 where nobody leaves.

    [(m / s) exp(-s since) + (c / s) exp(-s silence)] / [exp(-s silence) + (m / s)(1 - exp(-s silence))].
    """
    since, silence = np.asarray(since, float), np.asarray(silence, float)
    s = contact + leaving
    quiet = np.exp(-s * silence)
    return (leaving * np.exp(-s * since) + contact * quiet) / (s * quiet + leaving * (1 - quiet))


def mean_still_in_care(begin, end, silence, contact, leaving):
    """The mean of still_in_care from `begin` to `end` into the silence, begin <= end <= silence."""
    begin, end, silence = (np.asarray(values, float) for values in (begin, end, silence))
    s, length = contact + leaving, np.asarray(end - begin)
    quiet = np.exp(-s * silence)
    mean_decay = np.exp(-s * begin) * np.where(
        length > 0, -np.expm1(-s * length) / np.where(length > 0, s * length, 1.0), 1.0
    )
    return (leaving * mean_decay + contact * quiet) / (s * quiet + leaving * (1 - quiet))


def silent_pieces(silence, contact, leaving, piece=PIECE):
    """Split silent tails into pieces no longer than `piece`: (which tail, begin, end, weight), arrays (m,).

    silence: lengths (n,). weight: the mean probability of being still in care over the piece. Tails of length 0
    have no piece.
    """
    silence = np.asarray(silence, float)
    count = np.ceil(silence / piece - 1e-9).astype(int).clip(0)
    tail = np.repeat(np.arange(silence.size), count)
    number = np.arange(tail.size) - np.repeat(np.cumsum(count) - count, count)
    begin, end = number * piece, np.minimum((number + 1) * piece, silence[tail])
    return tail, begin, end, mean_still_in_care(begin, end, silence[tail], contact, leaving)
