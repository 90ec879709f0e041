"""Alarms in plain words: what each is about, its evidence, and a short code for its address."""

import hashlib
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from firm.models import Setting
from firm.words import count, known, likely, money, number
from inventory.models import ApplianceModel, ComponentType, Part, Supplier
from jobs.failure_words import noun, plural
from jobs.models import Fitted
from jobs.services.alarms import Alarm

CHIPS = {"batch": ("bad", "warn", "Batch"), "rising": ("care", "eye", "Rising")}


@dataclass(frozen=True)
class Told:
    """One alarm for a page. code: for its address; pieces: of those concerned that are still in place."""

    alarm: Alarm
    code: str
    component: ComponentType
    title: str
    evidence: str
    chip: tuple[str, str, str]
    worth: Decimal
    guarantee: str

    @property
    def still(self):
        return [piece for piece in self.alarm.pieces if piece.in_place]

    @property
    def in_guarantee(self):
        return [piece for piece in self.alarm.pieces if piece.in_guarantee]

    @property
    def link_words(self):
        many = len(self.alarm.pieces)
        return f"See the {count(many, 'fitted part')}" if many else "See the evidence"


def code_of(alarm: Alarm) -> str:
    """The same for the same subject on every day, so that an address stays good."""
    subject = (alarm.kind, alarm.component, alarm.part, alarm.supplier, alarm.fitting_month, alarm.model)
    return hashlib.sha256(repr(subject).encode()).hexdigest()[:12]


def told(alarms) -> list[Told]:
    """Each alarm with its title and evidence, in the order given."""
    types = ComponentType.objects.in_bulk({one.component for one in alarms}, field_name="key")
    names = {
        "supplier": dict(Supplier.objects.values_list("key", "name")),
        "model": {one.key: one.name for one in ApplianceModel.objects.all()},
        "part": dict(Part.objects.filter(number__in={one.part for one in alarms}).values_list("number", "description")),
    }
    costs = _costs(alarms)
    return [_told(one, types[one.component], names, costs) for one in alarms if one.component in types]


def _costs(alarms):
    """What each fitted part cost that is still in guarantee, {primary key: cost}, None where not known."""
    wanted = {piece.fitted for one in alarms for piece in one.pieces if piece.in_guarantee}
    return dict(Fitted.objects.filter(pk__in=wanted).values_list("pk", "cost")) if wanted else {}


def worth(pieces, costs):
    """(sum of the known costs, how many are not known) of the pieces in guarantee."""
    found = [costs.get(pk) for pk in {piece.fitted for piece in pieces if piece.in_guarantee}]
    return sum((cost for cost in found if cost is not None), Decimal(0)), found.count(None)


def _guarantee(pieces, costs):
    many = sum(piece.in_guarantee for piece in pieces)
    if not many:
        return "None is in guarantee any more."
    total, unknown = worth(pieces, costs)
    price = f", {money(total, Setting.current().currency, 0)} at cost" if total else ""
    price += f" ({unknown} of unknown cost)" if unknown else ""
    return f"{number(many, None)} still in guarantee{price}."


def _told(alarm, component, names, costs):
    return Told(
        alarm=alarm,
        code=code_of(alarm),
        component=component,
        title=_title(alarm, component, names),
        evidence=_evidence(alarm),
        chip=CHIPS[alarm.kind],
        worth=worth(alarm.pieces, costs)[0],
        guarantee=_guarantee(alarm.pieces, costs),
    )


def _title(alarm, component, names):
    if alarm.kind == "rising":
        return f"{_upper(plural(noun(component)))} in {names['model'].get(alarm.model, alarm.model)}"
    month = f", fitted {date.fromisoformat(alarm.fitting_month + '-01'):%B %Y}" if alarm.fitting_month else ""
    what = names["part"].get(alarm.part) or plural(noun(component))
    supplier = f", from {names['supplier'].get(alarm.supplier, alarm.supplier)}" if alarm.supplier else ""
    return f"{_upper(what)}{month}{supplier}"


def _upper(words):
    return f"{words[:1].upper()}{words[1:]}"


def _evidence(alarm):
    """What failed since the rise began, and how many times the usual that is, in all."""
    failed = f"{count(alarm.rise_failures, 'failure')} since {alarm.since:%-d %B %Y}; "
    failed += f"{number(alarm.rise_expected)} would be usual."
    if not known(alarm.ratio):
        return _upper(failed)
    span = f" ({likely(alarm.ratio_low, alarm.ratio_high)})" if known(alarm.ratio_low) else ""
    if alarm.kind == "rising":
        return f"{_upper(failed)} The last year saw {number(alarm.ratio)} times as many as the years before{span}."
    return (
        f"{_upper(failed)} In all {number(alarm.failures, None)} failed in their first years against "
        f"{number(alarm.expected)} usual: {number(alarm.ratio)} times as many as the rest of their kind{span}."
    )
