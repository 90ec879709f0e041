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
from firm.words import number, per_cent
from inventory.models import CarryLevel, Place
from inventory.views.once import OnceForm, press_once
from jobs.models import LoadLine, LoadProposal
from jobs.services import proposing


def van_or_404(pk):
    return get_object_or_404(Place.objects.vans().select_related("engineer"), pk=pk)


def newest(van):
    return LoadProposal.objects.filter(van=van).select_related("made_by").first()


@office_required
@require_GET
def van_load(request, pk):
    """The newest proposal for this van."""
    van = van_or_404(pk)
    proposal = newest(van)
    lines = list(proposal.lines.select_related("part", "accepted_by")) if proposal else []
    fixed = {level.part_id: level for level in van.carry_levels.filter(fixed=True).select_related("fixed_by")}
    shown = {
        "van": van,
        "proposal": proposal,
        "rows": [(line, change_chip(line, fixed.get(line.part_id)), cash_of(line)) for line in ordered(lines)],
        "changes": [line for line in lines if line.now != line.proposed and not line.accepted_at],
        "before": sum(line.now for line in lines),
        "after": sum(line.proposed for line in lines),
        "form": OnceForm(),
        "whole": whole(proposal, lines) if proposal else None,
        "frontier": picture(proposal) if proposal else None,
        "inputs": list(proposal.inputs.items()) if proposal else [],
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

    if press_once(request, "load-proposal", work_out):
        messages.success(request, "Worked out. Nothing changes until you accept it.")
    return redirect("van_load", pk)


def whole(proposal, lines):
    """The line of the whole van: its gain and cash, and in words the first-visit fix rate, room and what binds."""
    found = proposal.result
    gains = [line.gain_per_year for line in lines if line.gain_per_year is not None]
    cash = [cash_of(line) for line in lines]
    before, after = found.get("first_visit_fix_rate_now"), found.get("first_visit_fix_rate")
    return {
        "gain": sum(gains, Decimal(0)) if gains else None,
        "cash": sum((each for each in cash if each is not None), Decimal(0)),
        "words": f"Finished at the first visit: {per_cent(before, 1)} now, {per_cent(after, 1)} as proposed."
        if after
        else "",
        "room": _room(proposal.van, found),
        "warnings": found.get("warnings", []),
        "method": found.get("method", ""),
    }


def _room(van, found):
    """«87 of 120 litres, 141 of 300 kg. Cash is the limit.»"""
    said = []
    for name, unit in (("litres", "litres"), ("kilograms", "kg")):
        limit = getattr(van, name)
        if found.get(name) is not None:
            said.append(f"{number(found[name], 0)}{f' of {number(limit, 0)}' if limit else ''} {unit}")
    limits = {"cash": "Cash", "litres": "Room", "kilograms": "Weight"}
    binding = found.get("binding") or []
    binds = [limits.get(name, name) for name in ([binding] if isinstance(binding, str) else binding)]
    return (
        ", ".join(said)
        + (". " if said else "")
        + (f"{' and '.join(binds)}: the limit." if binds else "No limit binds.")
    )


def picture(proposal):
    """Cash against first visits for this van, with where it is and what pays best."""
    found = proposal.result
    curve = [(point["spend"], point["first_visit_fix_rate"]) for point in found.get("frontier", [])]
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
    proposal = get_object_or_404(LoadProposal, pk=request.POST.get("proposal"), van=van)
    chosen = request.POST.getlist("line")

    def accept(_typed, _event):
        lines = proposal.lines.filter(accepted_at=None).select_related("part")
        lines = lines.filter(pk__in=[pk for pk in chosen if pk.isdigit()]) if "all" not in request.POST else lines
        return {"lines": accept_lines(proposal, lines, request.user)}

    if answer := press_once(request, "load", accept):
        words = f"{answer['lines']} level{'s' if answer['lines'] != 1 else ''} agreed. The next top-up brings them."
        messages.success(request, words)
    return redirect("van_load", pk)


@transaction.atomic
def accept_lines(proposal, lines, by):
    """Turn lines into carry levels of the van; lines of parts whose level is fixed are left. Return how many."""
    fixed = set(CarryLevel.objects.filter(place=proposal.van, fixed=True).values_list("part", flat=True))
    taken = [line for line in lines if line.part_id not in fixed]
    now = timezone.now()
    for line in taken:
        CarryLevel.objects.update_or_create(place=proposal.van, part=line.part, defaults={"level": line.proposed})
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
