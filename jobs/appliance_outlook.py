"""What lies ahead for one appliance: chances position by position, what to look at, what to renew, what to ask."""

from dataclasses import dataclass

from firm.words import count, number, years
from jobs.failure_words import noun
from jobs.leak_paths import LeakPath, leak_paths
from jobs.outlook_words import one_in, one_in_between
from jobs.positions import Position
from jobs.services.alarms import firm_alarms
from jobs.services.prompts import ServicePrompt, service_prompts, while_you_are_there, worth_asking

MOST, LEAST = 5, 0.01  # so many prompts at most, each with at least this chance until the next service


@dataclass(frozen=True)
class Row:
    """One position. age, how: in words; hazard: chance of a failure in a year, span: its likely range, in words; alarm:
    it holds a part that an alarm concerns; open: nobody knows how old it is.
    """

    position: Position
    prompt: ServicePrompt | None
    age: str
    hazard: str
    span: str
    alarm: bool

    @property
    def open(self):
        return self.position.how in ("perhaps the original", "not known")

    @property
    def name(self):
        which = f", {self.position.number} of {self.position.of}" if self.position.of > 1 else ""
        return f"{self.position.component.name}{which}"


@dataclass(frozen=True)
class Outlook:
    """rows: all positions; look: (row, words, chance in words) for the next service, alarms first; renew: what to renew
    while somebody is there, worth more than its price; ask: a sentence, "" where nothing matters; leaks: where
    appliances of its model are known to leak.
    """

    rows: list[Row]
    look: list
    renew: list
    ask: str
    asked: Position | None
    leaks: list[LeakPath]

    @property
    def touched(self):
        """Component types that this page shows to be worked on."""
        rows = [*(row for row, _ in self.look), *(row for _, row in self.renew)]
        found = [row.position.component for row in rows] + [path.component for path in self.leaks]
        return list({one.pk: one for one in found}.values())


def appliance_outlook(appliance, as_of, positions) -> Outlook:
    """For an appliance in care; one out of care has its positions and nothing else."""
    prompts = service_prompts(appliance, as_of)
    by_place = {(prompt.component, prompt.position): prompt for prompt in prompts}
    alarmed = _alarmed(appliance, as_of) if prompts else set()
    rows = [_row(one, by_place.get((one.component.key, one.number)), alarmed, as_of) for one in positions]
    there = while_you_are_there(appliance, as_of, prompts) if prompts else ()
    names = {(row.position.component.key, row.position.number): row for row in rows}
    renew = [(one, names[one.component, one.position]) for one in there if one.worth]
    asked = _asked(appliance, prompts, names)
    return Outlook(
        rows=rows,
        look=_look(rows),
        renew=[(one, row) for one, row in renew if (one.component, one.position) in names],
        ask=_question(asked, names) if asked else "",
        asked=names[asked.component, asked.position].position if asked else None,
        leaks=leak_paths(appliance.model, {one.component for one in positions}) if prompts else [],
    )


def _alarmed(appliance, as_of):
    """Components of this appliance that hold a part which an alarm concerns."""
    pieces = (piece for alarm in firm_alarms(as_of).alarms for piece in alarm.pieces)
    return {piece.component for piece in pieces if piece.appliance == appliance.pk and piece.in_place}


def _row(position, prompt, alarmed, as_of):
    known = position.age(as_of)
    told = known is not None and position.how != "perhaps the original"
    age = _age(known) if told else _likely_age(prompt, known)
    hazard = one_in(prompt.hazard_per_year) if prompt else ""
    span = one_in_between(prompt.hazard_low, prompt.hazard_high) if prompt else ""
    return Row(position, prompt, age, hazard, span, position.component.key in alarmed)


def _age(known):
    return years(known) if known >= 0.1 else "new"


def _likely_age(prompt, most):
    if prompt is None:
        return f"at most {years(most)}" if most is not None else "not known"
    told = count(max(round(prompt.age), 1), "year")
    return f"about {told}" + (f" (at most {number(most)})" if most is not None and most - prompt.age > 1 else "")


def _look(rows):
    """Alarms first, then the likeliest to fail before the next service."""
    alarms = [row for row in rows if row.alarm]
    others = [row for row in rows if row.prompt and not row.alarm and row.prompt.expected >= LEAST]
    others = sorted(others, key=lambda row: -row.prompt.expected)[:MOST]
    return [(row, one_in(row.prompt.expected) if row.prompt else "") for row in [*alarms, *others]]


def _asked(appliance, prompts, names):
    """The prompt whose age would tell most; without the appliance's own date that comes first."""
    if appliance.installed_on is None:
        return None
    open_ones = [one for one in prompts if (one.component, one.position) in names]
    return worth_asking([one for one in open_ones if names[one.component, one.position].open])


def _question(asked, names):
    row = names[asked.component, asked.position]
    return (
        f"Read the date code of the {noun(row.position.component)} at the next service. The chance that it fails "
        f"before the service after is {one_in(asked.if_original)} if it is the original, and "
        f"{one_in(asked.if_renewed)} if it was renewed before our care."
    )
