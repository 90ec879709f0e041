"""The fitted parts that an alarm concerns: where they are, whether they failed, and what their guarantee says."""

from calendar import monthrange
from collections import defaultdict
from dataclasses import dataclass
from datetime import date

from django.db.models import Q

from inventory.models import Part
from jobs.models import Fitted

FETCH = "The failed part and its label, for a claim under guarantee."
LOOK = "Under guarantee: look at it on the next visit, and tell the supplier before it ends."


@dataclass(frozen=True)
class FittedPiece:
    """One fitted part. in_place: nothing was fitted there later, and it did not come out again. failed_on: its first
    failure, None without. guarantee_until: from the day of fitting, None where no guarantee is known.
    """

    fitted: int
    appliance: int
    number: str
    customer: str
    address: str
    fitted_on: date
    part: str
    component: str
    quantity: float
    in_place: bool
    failed_on: date | None
    guarantee_until: date | None
    in_guarantee: bool
    fetch: str


def fitted_pieces(alarms, fittings, as_of: date) -> list[tuple[FittedPiece, ...]]:
    """For each alarm (its dict of names) the fitted parts that it concerns, the latest first. Two queries in all.

    fittings: of each alarm {(appliance's number, day): day of failure or None} of its fittings, which choose those of a
    batch.
    """
    if not alarms:
        return []
    wanted = Q(pk=None)
    for alarm in alarms:
        wanted |= _wanted(alarm)
    rows = (
        Fitted.objects.standing()
        .filter(wanted, visit__on__lte=as_of)
        .select_related(
            "visit", "part", "component", "appliance__customer", "appliance__address", "appliance__model",
            "came_from__supplier", "taken_out",
        )
        .order_by("-visit__on", "-pk")
    )  # fmt: skip
    rows = list(rows)
    latest = _latest(rows, as_of)
    return [
        tuple(_piece(row, latest, as_of, own) for row in rows if _concerns(alarm, own, row))
        for alarm, own in zip(alarms, fittings, strict=True)
    ]


def _wanted(alarm):
    if alarm["kind"] == "rising":
        return Q(component__key=alarm["component"], appliance__model__key=alarm["model"])
    since = Q(visit__on__gte=alarm["fitted_from"])
    if alarm["part"]:
        return since & Q(part__number=alarm["part"])
    covering = Part.objects.filter(covers__key=alarm["component"])
    return since & (Q(component__key=alarm["component"]) | Q(part__in=covering))


def _concerns(alarm, fittings, row):
    if alarm["kind"] == "rising":
        return row.component.key == alarm["component"] and row.appliance.model.key == alarm["model"]
    return (row.appliance.number, row.visit.on) in fittings and alarm["part"] in ("", row.part.number)


def _latest(rows, as_of):
    """Day of the last fitting of each component of each appliance."""
    there = Fitted.objects.standing().filter(
        appliance__in={row.appliance_id for row in rows}, visit__on__lte=as_of, taken_out=None
    )
    last = defaultdict(lambda: date.min)
    for appliance, component, day in there.values_list("appliance_id", "component_id", "visit__on"):
        last[appliance, component] = max(last[appliance, component], day)
    return last


def _piece(row, latest, as_of, fittings):
    until = _months_later(row.visit.on, row.part.guarantee_months) if row.part.guarantee_months else None
    in_guarantee = until is not None and as_of <= until
    out = getattr(row, "taken_out", None)
    in_place = out is None and row.visit.on >= latest[row.appliance_id, row.component_id]
    appliance = row.appliance
    failed = fittings.get((appliance.number, row.visit.on))
    return FittedPiece(
        fitted=row.pk,
        appliance=appliance.pk,
        number=appliance.number,
        customer=str(appliance.customer or ""),
        address=appliance.address.text if appliance.address else "",
        fitted_on=row.visit.on,
        part=row.part.number,
        component=row.component.key,
        quantity=float(row.quantity),
        in_place=in_place,
        failed_on=failed,
        guarantee_until=until,
        in_guarantee=in_guarantee,
        fetch=_fetch(in_place, failed) if in_guarantee else "",
    )


def _fetch(in_place, failed):
    """What a part in guarantee is good for; one that came out sound is none."""
    return LOOK if in_place else FETCH if failed else ""


def _months_later(day, months):
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    return date(year, month + 1, min(day.day, monthrange(year, month + 1)[1]))
