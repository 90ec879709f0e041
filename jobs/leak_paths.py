"""Where appliances of one model are known to leak: the trade's usual places, and what our own findings say."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Count, Q

from inventory.models import ApplianceModel, ComponentType
from jobs.models import Cause, Finding

LEAKS = ("water-leak", "tundish-dripping", "oil-smell")  # symptoms of which each cause is a place that leaks
LEAKAGE = ("external leakage", "internal leakage")  # failure modes, as in ISO 14224
MOST, OFTEN = 4, 2


@dataclass(frozen=True)
class LeakPath:
    """One component that leaks. test: how it shows, empty where the trade's table has none; leaks: findings of a leak
    on appliances of this model, of: findings on them that name a failure mode.
    """

    component: ComponentType
    test: str
    leaks: int
    of: int


def leak_paths(model: ApplianceModel, components: Iterable[ComponentType]) -> list[LeakPath]:
    """Those among the components of an appliance of this model, our own findings first, then the usual order.

    The trade's table is common practice without a source. A place that it does not name is told from two leaks on.
    """
    held = {one.pk: one for one in components}
    usual = _usual(model.kind, held)
    seen = _seen(model, held)
    paths = [
        LeakPath(held[pk], usual.get(pk, ""), *seen.get(pk, (0, 0)))
        for pk in dict.fromkeys([*usual, *seen])
        if pk in usual or seen[pk][0] >= OFTEN
    ]
    return sorted(paths, key=lambda path: -path.leaks)[:MOST]


def _usual(kind, held):
    """{component: how it shows}, the commonest first, of those whose failure modes hold a leak."""
    causes = Cause.objects.filter(symptom__key__in=LEAKS, component__in=held).order_by("-share", "pk")
    found = {}
    for cause in causes:
        if kind in cause.kinds and set(LEAKAGE) & set(held[cause.component_id].failure_modes):
            found.setdefault(cause.component_id, cause.quick_test)
    return found


def _seen(model, held):
    """{component: (leaks, findings that name a failure mode)} on appliances of the model."""
    told = Finding.objects.filter(appliance__model=model, component__in=held).exclude(failure_mode="")
    leaks = Count("pk", filter=Q(failure_mode__in=LEAKAGE))
    rows = told.order_by().values_list("component").annotate(leaks=leaks, named=Count("pk"))
    return {pk: (leaked, named) for pk, leaked, named in rows if leaked}
