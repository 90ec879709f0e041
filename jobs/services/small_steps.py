"""How calm the proposals of a van are to be: what was changed of late, and the words for what waits."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta

from django.db.models import F, Max

from inventory.models import Place
from inventory.stocking.damping import ENOUGH, HANDLING, NEW, Damping, Waiting, change_of_season
from inventory.stocking.lines import Line
from jobs.models import LoadLine
from jobs.services.firm_problem import firm_season

RULES = Damping()
MOST_CHANGES = RULES.most_changes or 0
WEEK = timedelta(days=7)


def rules_for(van: Place, day: date) -> Damping:
    """The rules of that day: no limit of changes at a change of season, else what the week has left."""
    if change_of_season(firm_season(day), day.month):
        return replace(RULES, most_changes=None)
    accepted = LoadLine.objects.filter(proposal__van=van, accepted_at__date__gt=day - WEEK, accepted_at__date__lte=day)
    made = accepted.exclude(now=F("proposed")).count()
    return replace(RULES, most_changes=max(0, MOST_CHANGES - made))


def weeks_carried(van: Place, day: date) -> dict[str, float]:
    """Part number to the weeks since it was last taken on board by an accepted proposal."""
    taken = LoadLine.objects.filter(proposal__van=van, accepted_at__date__lte=day, now=0, proposed__gt=0)
    newest = taken.order_by().values_list("part__number").annotate(newest=Max("accepted_at"))
    return {part: (day - at.date()).days / 7 for part, at in newest}


@dataclass(frozen=True)
class LineWords:
    """turning: part to {factor of the cost of a second visit: level}. waiting: part to the change that waits."""

    turning: Mapping[str, Mapping[float, int]]
    waiting: Mapping[str, Waiting]
    sign: str

    def reason(self, line: Line, cost_of_fixing: float | None):
        """The reason of the line with what else is to be said of it."""
        said = [line.reason]
        if (waits := self.waiting.get(line.part)) is not None:
            said.append(self._waits(waits))
        if cost_of_fixing is not None:
            said.append(f"To fix it costs {self.sign}{cost_of_fixing:,.2f} a year against the best load.")
        if turns := self.turning.get(line.part):
            said.append(_turns(turns))
        return " ".join(said)

    def _waits(self, waits: Waiting):
        why = {
            HANDLING: "not worth the handling",
            NEW: f"a new line stays {RULES.stays_weeks:.0f} weeks",
            ENOUGH: "enough is changed this week",
        }.get(waits.why, "there is no room yet")
        gain = f"would gain {self.sign}{waits.gain:,.2f} a year" if waits.gain > 0 else "would gain only with others"
        return f"Left as it is: {waits.best} {gain}, but {why}."


def _turns(levels):
    words = {0.5: "half", 2.0: "twice"}
    each = [f"{n} at {words[factor]} the cost of a second visit" for factor, n in sorted(levels.items())]
    return f"It would be {' and '.join(each)}."
