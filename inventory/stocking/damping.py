"""Which changes of a proposal are worth the bother this week."""

from dataclasses import dataclass

import numpy as np

from .problem import Problem, Van
from .van_load import Load


@dataclass(frozen=True)
class Damping:
    """handling: money per line changed, which its yearly net gain must beat. stays_weeks: of a new line.

    most_changes: lines per van and week, None at a change of season.
    """

    handling: float = 5.0
    stays_weeks: float = 8.0
    most_changes: int | None = 5


def damped(problem: Problem, van: Van, load: Load, rules: Damping, weeks_carried) -> dict[str, int]:
    """Part to level: today's levels with those changes of the proposal that deserve to be made now.

    weeks_carried: part to weeks since its line was new; a part that is absent has been carried for long. The best
    gains come first; what is taken off to make room for them comes with them. Limits are kept, or not further
    exceeded. Fixed levels are always followed.
    """
    levels = dict(van.now)
    lines = {line.part: line for line in load.lines}
    for part, (least, most) in van.pins.items():
        levels[part] = min(max(levels.get(part, 0), least), most)
    changes = [x for x in load.lines if x.level != levels.get(x.part, 0) and x.part not in van.pins]
    free = [x for x in changes if x.level > x.now or weeks_carried.get(x.part, np.inf) >= rules.stays_weeks]
    left = rules.most_changes if rules.most_changes is not None else len(free)
    for line in sorted(free, key=lambda x: -x.gain_per_year):
        if left <= 0 or line.gain_per_year <= rules.handling:
            break
        if levels.get(line.part, 0) == line.level:
            continue
        made = _with_room(problem, van, levels, line, free, rules)
        if made and len(made) <= left:
            levels.update({part: lines[part].level for part in made})
            left -= len(made)
    return {part: n for part, n in levels.items() if n}


def _with_room(problem, van, levels, line, free, rules):
    """The parts to change so that this line fits: itself, and those given up for it while the sum still pays."""
    made, gain = [line.part], line.gain_per_year
    trial = {**levels, line.part: line.level}
    given_up = sorted((x for x in free if x.level < levels.get(x.part, 0)), key=lambda x: -x.gain_per_year)
    while not _fits(problem, van, trial, levels):
        if not given_up:
            return []
        other = given_up.pop(0)
        made, gain = [*made, other.part], gain + other.gain_per_year
        trial[other.part] = other.level
    return made if gain > rules.handling * len(made) else []


def _fits(problem, van, trial, before):
    limits = np.array([np.inf if x is None else x for x in (van.budget, van.litres, van.kilograms)])
    used, was = _use(problem, trial), _use(problem, before)
    return bool((used <= np.maximum(limits, was) + 1e-9).all())


def _use(problem, levels):
    return sum((levels.get(p.part, 0) * np.array([p.price, p.litres, p.kilograms]) for p in problem.parts), np.zeros(3))
