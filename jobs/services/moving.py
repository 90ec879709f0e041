"""What should change its place: from van to van, back to the store, and what lies where it is of no use."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date

from django.utils import timezone

from inventory.models import Part, Place
from inventory.stocking.passing import Pass, passes, returns
from inventory.stocking.slow import first_pieces
from inventory.stocking.van_load import best_levels
from jobs.figures import kept
from jobs.services.slow_stock import HANDLING, DeadStock, SlowPart, dead_rows, slow_rows
from jobs.services.standing_stock import StandingStock, standing_stock

STAYS_DAYS = 90  # over which a piece would otherwise stay where it is
MOST_PASSED = 20


@dataclass(frozen=True)
class Move:
    """`quantity` pieces from giver to taker. worth_per_year: money saved; why: in words."""

    part: Part
    giver: Place
    taker: Place
    quantity: int
    worth_per_year: float
    why: str


@dataclass(frozen=True)
class Reckoned:
    """All that should change its place as things stand, from one reckoning."""

    passed: tuple[Move, ...]
    returned: tuple[Move, ...]
    slow: tuple[SlowPart, ...]
    dead: tuple[DeadStock, ...]


def friday_list(as_of: date | None = None, most: int = 5) -> tuple[Move, ...]:
    """Who passes what to whom, worth most first: the vans' free stock, at most `most` lines (of up to twenty)."""
    return reckoned(as_of).passed[:most]


def returns_to_store(as_of: date | None = None) -> tuple[Move, ...]:
    """What vans should give back: the store would hand it out within the year, on board it saves less than it costs."""
    return reckoned(as_of).returned


def slow_parts(as_of: date | None = None) -> tuple[SlowPart, ...]:
    """Expensive slow parts, and the one van, or the store, that should hold each."""
    return reckoned(as_of).slow


def dead_stock(as_of: date | None = None) -> tuple[DeadStock, ...]:
    """What nobody will need where it lies, and what to do with it."""
    return reckoned(as_of).dead


def reckoned(as_of: date | None = None) -> Reckoned:
    """All four lists, kept until something is recorded."""
    day = as_of or timezone.localdate()
    return kept("what-should-move", lambda: _reckoned(day), day)


def _reckoned(day):
    stock = standing_stock(day)
    pieces = first_pieces(stock.problem, best_levels(stock.problem))
    return Reckoned(_passed(stock), _returned(stock), slow_rows(stock, pieces), dead_rows(stock, pieces, day))


def _passed(stock: StandingStock):
    restocks = STAYS_DAYS / 365.25 * stock.problem.intervals_per_year
    found = passes(stock.problem, handling=HANDLING, intervals=restocks, most=MOST_PASSED)
    lines = [_move(stock, pieces, stock.places[pieces[0].taker], _why_passed) for pieces in _lines(found)]
    return tuple(sorted(lines, key=lambda line: -line.worth_per_year))


def _returned(stock: StandingStock):
    if stock.store is None:
        return ()
    found = returns(stock.problem, handling=HANDLING, wanted=stock.wanted, in_store=stock.in_store)
    return tuple(_move(stock, pieces, stock.store, _why_returned) for pieces in _lines(found))


def _lines(found: tuple[Pass, ...]):
    """Pieces of one part that go the same way, together."""
    lines: dict[tuple, list[Pass]] = defaultdict(list)
    for one in found:
        lines[one.part, one.giver, one.taker].append(one)
    return list(lines.values())


def _move(stock, pieces, taker, why):
    first, yearly = pieces[0], stock.problem.intervals_per_year
    here, there = ([getattr(p, side) for p in pieces] for side in ("here", "there"))
    if first.taker:
        worth = sum(t.money - h.money for h, t in zip(here, there, strict=True)) * yearly
    else:
        worth = sum(p.worth for p in pieces)
    giver = stock.places[first.giver]
    return Move(stock.parts[first.part], giver, taker, len(pieces), worth, why(stock, pieces, giver, taker))


def _why_passed(stock, pieces, giver, taker):
    jobs_here, jobs_there, money_here, money_there = _sums(stock, pieces)
    return (
        f"On {taker} {_it(pieces)} would save {_visits(jobs_there)} a year ({stock.sign}{money_there:,.0f}), "
        f"on {giver} {_visits(jobs_here)} ({stock.sign}{money_here:,.0f})."
    )


def _why_returned(stock, pieces, giver, taker):
    jobs, _, money, _ = _sums(stock, pieces)
    part = pieces[0].part
    price = next(p.price for p in stock.problem.parts if p.part == part)
    held = price * len(pieces) * stock.problem.money.holding_per_year
    return (
        f"On {giver} {_it(pieces)} would save {_visits(jobs)} a year ({stock.sign}{money:,.0f}) and costs "
        f"{stock.sign}{held:,.0f} to hold; about {stock.wanted[part]:,.1f} a year are wanted in the whole firm, so the "
        f"store need not buy the next."
    )


def _sums(stock, pieces):
    yearly = stock.problem.intervals_per_year
    sides = [[getattr(p, side) for p in pieces] for side in ("here", "there")]
    jobs = [yearly * sum(w.jobs for w in side) for side in sides]
    return (*jobs, *(yearly * sum(w.money for w in side) for side in sides))


def _it(pieces):
    return "it" if len(pieces) == 1 else f"the {len(pieces)}"


def _visits(jobs):
    return f"{jobs:,.1f} second visits" if jobs >= 0.05 else "next to no second visits"
