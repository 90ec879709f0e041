"""Cash in stock: by place, by how long the firm has not used the part, and what could be moved instead of bought."""

from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

from django.db.models import Max

from inventory.models import Count, CountWanted, Part, Place
from inventory.services.worth import holdings
from jobs.figures import kept
from jobs.models import Fitted

ZERO = Decimal(0)
AGES = [
    ("3-months", "Used in the last three months", 92),
    ("year", "Three months to a year", 365),
    ("older", "Over a year", None),
    ("never", "Never used in the book", None),
]


@dataclass
class Sum:
    """Lines with their money; `unknown` counts those whose cost is not known."""

    place: Place | None = None
    word: str = ""
    label: str = ""
    lines: int = 0
    pieces: Decimal = ZERO
    value: Decimal = ZERO
    over: Decimal = ZERO
    short: Decimal = ZERO
    idle: Decimal = ZERO
    unknown: int = 0
    counts_wanted: int = 0
    counted_on: date | None = None

    def add(self, holding, *, idle):
        if holding.on_hand:
            self.lines += 1
            self.pieces += holding.on_hand
        self.unknown += holding.value is None
        self.value += holding.value or ZERO
        self.over += holding.over or ZERO
        self.short += holding.short or ZERO
        if idle:
            self.idle += holding.value or ZERO


@dataclass
class Cash:
    places: list
    ages: list
    whole: Sum
    lines: list
    moves: list = field(default_factory=list)

    @property
    def movable(self):
        """What lies above a level in one place while it is missing in another."""
        return sum((move["value"] for move in self.moves), ZERO)


def cash(today):
    return kept("cash", lambda: _cash(today), today)


def _cash(today):
    places = {place.pk: Sum(place=place) for place in Place.objects.held().select_related("engineer")}
    ages = {word: Sum(word=word, label=label) for word, label, _ in AGES}
    parts = Part.objects.in_bulk()
    used = dict(Fitted.objects.standing().order_by().values_list("part").annotate(last=Max("visit__on")))
    whole, lines, all_of_it = Sum(), [], holdings()
    for one in all_of_it:
        age = _age(used.get(one.part), today)
        for total in (places[one.place], ages[age], whole):
            total.add(one, idle=age in ("older", "never"))
        if one.on_hand:
            lines.append(_line(one, places, parts, used.get(one.part), age))
    _counts(places)
    ordered = sorted(places.values(), key=lambda row: (row.place.kind, row.place.key))
    return Cash(ordered, list(ages.values()), whole, lines, _moves(all_of_it, places, parts))


def _age(last, today):
    if last is None:
        return "never"
    days = (today - last).days
    return "3-months" if days <= AGES[0][2] else "year" if days <= AGES[1][2] else "older"


def _line(one, places, parts, last, age):
    part = parts[one.part]
    return {
        "part": part.number,
        "description": part.description,
        "part_pk": part.pk,
        "place": str(places[one.place].place),
        "on_hand": one.on_hand,
        "level": one.level,
        "value": one.value,
        "over": one.over,
        "used": last,
        "age": age,
    }


def _counts(places):
    for place in CountWanted.objects.filter(done_at=None).values_list("place", flat=True):
        if place in places:
            places[place].counts_wanted += 1
    for place, day in Count.objects.order_by().values_list("place").annotate(last=Max("counted_at")):
        if place in places:
            places[place].counted_on = day


def _moves(all_of_it, places, parts):
    """One line per part that is above its level somewhere and missing elsewhere, worth most first."""
    over, short = {}, {}
    for one in all_of_it:
        if one.over:
            over.setdefault(one.part, []).append(one)
        if one.short:
            short.setdefault(one.part, []).append(one)
    moves = []
    for part in over.keys() & short.keys():
        giver = max(over[part], key=lambda one: one.over)
        taker = max(short[part], key=lambda one: one.short)
        pieces = min(giver.on_hand - giver.level, taker.level - taker.on_hand)
        moves.append(
            {
                "part": parts[part],
                "from": places[giver.place].place,
                "to": places[taker.place].place,
                "pieces": pieces,
                "value": min(giver.over, taker.short),
            }
        )
    return sorted(moves, key=lambda move: (-move["value"], move["part"].number))
