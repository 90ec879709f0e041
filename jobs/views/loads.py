"""What a van should carry: the newest proposal, its reasons, and accepting all of it or some lines."""

from decimal import Decimal

from django.contrib import messages
from django.db import transaction
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from firm.charts import frontier
from firm.models import Setting
from firm.roles import office_required
from firm.words import money, number, per_cent
from inventory.models import CarryLevel, Place
from inventory.views.asking import whole
from inventory.views.once import OnceForm, press_once
from jobs.models import LoadLine, LoadProposal
from jobs.services import proposing


def van_or_404(pk):
    return get_object_or_404(Place.objects.vans().select_related("engineer"), pk=pk)


def still_fixed(van):
    """Levels that somebody fixed, and whose day has not passed."""
    return van.carry_levels.filter(fixed=True).exclude(until__lt=timezone.localdate())


def newest(van):
    return LoadProposal.objects.filter(van=van).select_related("made_by").first()


@office_required
@require_GET
def van_load(request, pk):
    """The newest proposal for this van."""
    van = van_or_404(pk)
    proposal = newest(van)
    lines = list(proposal.lines.select_related("part", "accepted_by")) if proposal else []
    fixed = {level.part_id: level for level in still_fixed(van).select_related("fixed_by")}
    rows = [(line, change_chip(line, fixed.get(line.part_id)), cash_of(line)) for line in ordered(lines)]
    shown = {
        "van": van,
        "proposal": proposal,
        "changed": [row for row in rows if row[0].now != row[0].proposed or row[0].part_id in fixed],
        "kept": [row for row in rows if row[0].now == row[0].proposed and row[0].part_id not in fixed],
        "changes": [line for line in lines if line.now != line.proposed and not line.accepted_at],
        "before": sum(line.now for line in lines),
        "after": sum(line.proposed for line in lines),
        "form": OnceForm(),
        "whole": whole_van(proposal, lines) if proposal else None,
        "frontier": picture(proposal) if proposal else None,
        "inputs": list(inputs_in_words(proposal)) if proposal else [],
        "older": LoadProposal.objects.filter(van=van).exclude(pk=proposal.pk)[:5] if proposal else [],
    }
    return render(request, "jobs/van_load.html", shown)


@office_required
@require_POST
def load_propose(request, pk):
    """Work out what this van should carry, and keep it with its date and inputs."""
    van = van_or_404(pk)

    def work_out(_typed, event):
        return {"pk": proposing.propose(van, event=event, by=request.user).pk}

    if press_once(request, "load-proposal", work_out, (proposing.NoSuchVan,)):
        messages.success(request, "Worked out. Nothing changes until you accept it.")
    return redirect("van_load", pk)


def whole_van(proposal, lines):
    """The line of the whole van: gain, cash, and in words the first-visit fix rate, its worth, room and limit."""
    found = proposal.result
    return {
        "gain": _gain(proposal),
        "cash": sum((cash for cash in map(cash_of, lines) if cash is not None), Decimal(0)),
        "words": _rate_words(found.get("first_visit_fix_rate_now"), found.get("first_visit_fix_rate")),
        "worth": _worth_words(proposal),
        "room": _room(proposal.van, found),
        "warnings": found.get("warnings", []),
        "method": found.get("method", ""),
    }


def _gain(proposal):
    """What the whole change saves in a year: visits saved less the cost of holding, against today's levels."""
    found, holding = proposal.result, proposal.inputs.get("holding_per_year")
    needed = [found.get(name) for name in ("worth_per_year", "worth_per_year_now", "spend", "spend_now")] + [holding]
    if None in needed:
        return None
    worth, worth_now, spend, spend_now, holding = needed
    return Decimal(str(worth - worth_now - holding * (spend - spend_now))).quantize(Decimal("0.01"))


def _rate_words(before, after):
    if after is None:
        return "No appliance in its area is known to need a part."
    was = f"{per_cent(before, 1)} now, " if before is not None else ""
    return f"Finished at the first visit: {was}{per_cent(after, 1)} as proposed."


def _worth_words(proposal):
    found, sign = proposal.result, Setting.current().currency
    if found.get("worth_per_year") is None or found.get("worth_per_year_now") is None:
        return ""
    now, then = (money(found[name], sign, 0) for name in ("worth_per_year_now", "worth_per_year"))
    cash_now, cash = (money(found.get(name), sign, 0) for name in ("spend_now", "spend"))
    return f"Visits saved are worth {then} a year (now {now}) with {cash} in the van (now {cash_now})."


def _room(van, found):
    """«87 of 120 litres, 141 of 300 kg. Cash is the limit.»"""
    said = []
    for name, unit in (("litres", "litres"), ("kilograms", "kg")):
        limit = getattr(van, name)
        if found.get(name) is not None:
            said.append(f"{number(found[name], 0)}{f' of {number(limit, 0)}' if limit else ''} {unit}")
    limits = {"cash": "Cash", "budget": "Cash", "litres": "Room", "kilograms": "Weight"}
    binding = found.get("binding")
    ends = f"{limits.get(binding, binding)} is the limit." if binding else "No limit binds: more would not pay."
    return f"{', '.join(said)}. {ends}" if said else ends


INPUT_WORDS = {
    "second_visit": "A second visit costs",
    "merchant_run": "A run to the merchant costs",
    "holding_per_year": "Holding costs in a year, share of the price",
    "intervals_per_year": "Top-ups in a year",
    "max_per_part": "Most pieces of one part",
    "horizon_days": "Days ahead that count",
    "budget": "Cash limit of this van",
    "litres": "Room, litres",
    "kilograms": "Weight limit, kg",
}


def inputs_in_words(proposal):
    """(what, value) of what the proposal reckoned with."""
    currency = Setting.current().currency
    for name, label in INPUT_WORDS.items():
        value = proposal.inputs.get(name)
        if value is None:
            yield label, "no limit" if name in {"budget", "litres", "kilograms"} else "not known"
        elif name in {"second_visit", "merchant_run", "budget"}:
            yield label, money(value, currency)
        else:
            yield label, per_cent(value) if name == "holding_per_year" else number(value, 0)


def picture(proposal):
    """Cash against first visits for this van, with where it is and what pays best."""
    found = proposal.result
    curve = [(point["spend"], point["first_visit_fix_rate"]) for point in found.get("frontier", [])]
    curve = [point for point in curve if point[1] is not None]  # without demand there is no share
    if not curve:
        return None
    here = (found.get("spend_now"), found.get("first_visit_fix_rate_now"))
    best = (found.get("spend"), found.get("first_visit_fix_rate"))
    return frontier(
        "cash-visits",
        "Cash against work finished first time",
        "share of visits that lack no part",
        curve,
        Setting.current().currency,
        here=here if None not in here else None,
        best=best if None not in best else None,
        budget=proposal.van.budget,
    )


def ordered(lines):
    """Changes first, the most saving first; then what stays."""
    return sorted(
        lines, key=lambda line: (line.now == line.proposed, -(line.gain_per_year or 0), line.part.description)
    )


def change_chip(line, fixed):
    """(kind, sign, word) of a line's change."""
    difference = line.proposed - line.now
    if fixed:
        return ("note", "pin", f"Fixed at {fixed.level}")
    if line.accepted_at:
        return ("good", "tick", f"Accepted {line.proposed}")
    if difference > 0:
        return ("good", "up", f"Add {difference}")
    return ("care", "down", f"Take {-difference} out") if difference < 0 else ("", "same", f"Keep {line.now}")


def cash_of(line):
    """What the change puts into the van or takes out of it, or None where nobody knows the price."""
    return None if line.price is None else ((line.proposed - line.now) * line.price).quantize(Decimal("0.01"))


@office_required
@require_POST
def load_accept(request, pk):
    """Make levels of the chosen lines of a proposal; those fixed by somebody stay."""
    van = van_or_404(pk)
    proposal = get_object_or_404(LoadProposal, pk=whole(request.POST.get("proposal")) or 0, van=van)
    chosen = request.POST.getlist("line")

    def accept(_typed, _event):
        lines = proposal.lines.filter(accepted_at=None).select_related("part")
        lines = lines.filter(pk__in=[pk for pk in map(whole, chosen) if pk]) if "all" not in request.POST else lines
        return {"lines": accept_lines(proposal, lines, request.user)}

    if answer := press_once(request, "load", accept):
        words = f"{answer['lines']} level{'s' if answer['lines'] != 1 else ''} agreed. The next top-up brings them."
        messages.success(request, words)
    return redirect("van_load", pk)


@transaction.atomic
def accept_lines(proposal, lines, by):
    """Turn lines into carry levels of the van; lines of parts whose level is fixed are left. Return how many."""
    fixed = set(still_fixed(proposal.van).values_list("part", flat=True))
    taken = [line for line in lines if line.part_id not in fixed]
    now = timezone.now()
    for line in taken:
        CarryLevel.objects.update_or_create(
            place=proposal.van, part=line.part, defaults={"level": line.proposed, "fixed": False}
        )
    LoadLine.objects.filter(pk__in=[line.pk for line in taken]).update(accepted_at=now, accepted_by=by)
    if taken and not proposal.lines.filter(accepted_at=None).exclude(part__in=fixed).exists():
        LoadProposal.objects.filter(pk=proposal.pk).update(accepted_at=now)
    return len(taken)


@office_required
@require_GET
def load_paper(request, pk):
    """The list that goes into the van, printed."""
    van = van_or_404(pk)
    levels = van.carry_levels.filter(level__gt=0).select_related("part").order_by("part__description")
    return render(request, "jobs/load_paper.html", {"van": van, "levels": levels, "proposal": newest(van)})
