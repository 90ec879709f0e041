"""What to bring from the store to each van at the next top-up, counting only what is free, each piece once."""

from collections import defaultdict
from dataclasses import dataclass
from decimal import Decimal

from inventory.models import CarryLevel, Place, Stock

NONE = Decimal(0)


@dataclass
class Bring:
    """One line of a van's list. bring: pieces that the store has free for it; missing: to the level."""

    part: object
    level: int
    free: Decimal
    missing: Decimal
    bring: Decimal
    shelf: str

    @property
    def short(self):
        return self.missing - self.bring


def top_ups(store: Place | None, vans: list[Place]) -> list[tuple[Place, list[Bring]]]:
    """(van, its lines) in the order given. Where the store has too little for all, those with least on board go first.

    In three queries. Opened pieces on board count, opened ones in the store do not go out as new.
    """
    on_board = _free(Stock.objects.filter(place__in=vans))
    in_store, shelves = defaultdict(Decimal), {}
    if store is not None:
        for row in Stock.objects.filter(place=store, condition="new").there().free():
            in_store[row.part_id] += row.free
            shelves[row.part_id] = row.shelf
    wanted = defaultdict(list)
    levels = CarryLevel.objects.filter(place__in=vans, level__gt=0).select_related("part")
    for level in levels:
        free = on_board[level.place_id, level.part_id]
        if free < level.level:
            line = Bring(level.part, level.level, free, level.level - free, NONE, shelves.get(level.part_id, ""))
            wanted[level.part_id].append((level.place_id, line))
    lists = defaultdict(list)
    for part, lines in wanted.items():
        _share(in_store[part], [line for _, line in lines])
        for place, line in lines:
            lists[place].append(line)
    return [(van, sorted(lists[van.pk], key=lambda line: line.part.description.casefold())) for van in vans]


def _free(rows):
    """(place, part) to the pieces that no job has."""
    free = defaultdict(Decimal)
    for row in rows.there().free():
        free[row.place_id, row.part_id] += row.free if row.condition == "new" else row.on_hand
    return free


def _share(left, lines):
    """Give out what the store has, piece by piece, to the van that has least of its level."""
    while left > 0:
        hungry = [line for line in lines if line.short > 0]
        if not hungry:
            return
        line = min(hungry, key=lambda line: (line.free + line.bring) / line.level)
        piece = min(Decimal(1), left, line.short)
        line.bring += piece
        left -= piece
