"""Levels that people agree on: accepted from a proposal, or fixed by somebody with a reason until a day."""

from datetime import date

from django.db import transaction
from django.utils import timezone

from firm.models import User
from inventory.models import CarryLevel, Part, Place
from jobs.models import LoadLine, LoadProposal

LOOSE = {"fixed": False, "fixed_by": None, "why": "", "until": None}


def still_fixed(van: Place):
    """Levels of a van that somebody fixed, and whose day has not passed."""
    return van.carry_levels.filter(fixed=True).exclude(until__lt=timezone.localdate())


@transaction.atomic
def accept_lines(proposal: LoadProposal, lines, by: User) -> int:
    """Turn lines into carry levels of the van; lines of parts whose level is fixed are left. Return how many.

    lines: a QuerySet, or (line, level) pairs where another level than the proposed one is wanted.
    """
    pairs = [pair if isinstance(pair, tuple) else (pair, pair.proposed) for pair in lines]
    fixed = set(still_fixed(proposal.van).values_list("part", flat=True))
    taken = [(line, level) for line, level in pairs if line.part_id not in fixed]
    now = timezone.now()
    for line, level in taken:
        fields = {"level": level, **LOOSE}
        CarryLevel.objects.update_or_create(place=proposal.van, part=line.part, defaults=fields)
        LoadLine.objects.filter(pk=line.pk).update(proposed=level, accepted_at=now, accepted_by=by)
    if taken and not proposal.lines.filter(accepted_at=None).exclude(part__in=fixed).exists():
        LoadProposal.objects.filter(pk=proposal.pk).update(accepted_at=now)
    return len(taken)


def fix_level(van: Place, part: Part, level: int, *, by: User, why: str, until: date) -> CarryLevel:
    """Hold a van's level of a part against every proposal until that day, and keep who did it and why."""
    fields = {"level": level, "fixed": True, "fixed_by": by, "why": why, "until": until}
    return CarryLevel.objects.update_or_create(place=van, part=part, defaults=fields)[0]


def let_go(van: Place, part: Part) -> int:
    """Leave the level to the proposals again. It stays as it is until one is accepted. Return how many."""
    found = CarryLevel.objects.filter(place=van, part=part, fixed=True)
    return found.update(**LOOSE, since=timezone.now())
