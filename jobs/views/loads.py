"""What a van should carry: the newest proposal, its reasons, accepting all of it or some lines, fixing a line."""

from django.contrib import messages
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_POST

from firm.charts import frontier
from firm.models import Setting
from firm.roles import office_required
from firm.tables import Column, Table
from inventory.models import CarryLevel, Part, Place
from inventory.views.asking import whole
from inventory.views.once import OnceForm, press_once, save_once
from jobs.load_words import cash_of, change_chip, could_be, fixed_words, inputs_in_words, whole_van
from jobs.models import LoadLine, LoadProposal
from jobs.services import agreeing, proposing
from jobs.van_forms import FixForm


def van_or_404(pk):
    return get_object_or_404(Place.objects.vans().select_related("engineer"), pk=pk)


def newest(van):
    return LoadProposal.objects.filter(van=van).select_related("made_by", "van").first()


@office_required
@require_GET
def van_load(request, pk):
    """The newest proposal for this van."""
    van, currency = van_or_404(pk), Setting.current().currency
    proposal = newest(van)
    fixed = {level.part_id: level for level in agreeing.still_fixed(van).select_related("fixed_by")}
    lines = list(proposal.lines.select_related("part", "accepted_by")) if proposal else []
    for line in lines:
        line.proposal = proposal
        line.fixed = fixed.get(line.part_id)
        line.fixed_words = fixed_words(line.fixed, line, currency)
    table = _export(request, van, lines)
    if table.response:
        return table.response
    return render(request, "jobs/van_load.html", _shown(van, proposal, ordered(lines)) | {"export": table})


def _shown(van, proposal, lines):
    rows = [(line, change_chip(line, line.fixed), cash_of(line)) for line in lines]
    return {
        "van": van,
        "proposal": proposal,
        "lines": lines,
        "changed": [row for row in rows if _changes(row[0])],
        "damped": [(line, could_be(line)) for line in lines if line.damped and not _changes(line)],
        "kept": [row for row in rows if not _changes(row[0]) and not row[0].damped],
        "changes": [line for line in lines if line.now != line.proposed and not line.accepted_at and not line.fixed],
        "fixed_since": sum(bool(line.fixed and line.fixed.since > proposal.made_at) for line in lines),
        "before": sum(line.now for line in lines),
        "after": sum(line.proposed for line in lines),
        "form": OnceForm(),
        "whole": whole_van(proposal, lines) if proposal else None,
        "frontier": picture(proposal) if proposal else None,
        "inputs": list(inputs_in_words(proposal)) if proposal else [],
        "older": LoadProposal.objects.filter(van=van).exclude(pk=proposal.pk)[:5] if proposal else [],
    }


def _changes(line):
    return line.now != line.proposed or bool(line.fixed)


def ordered(lines):
    """Changes first, the most saving first; then what stays."""
    return sorted(
        lines, key=lambda line: (line.now == line.proposed, -(line.gain_per_year or 0), line.part.description)
    )


def _export(request, van, lines):
    """The lines as a file: all of them, with what the page says of each."""
    columns = [
        Column("part", "Part", value=lambda line: line.part.number),
        Column("description", "Description", value=lambda line: line.part.description),
        Column("now", "Level now"),
        Column("proposed", "Proposed"),
        Column("best", "Pays best, handling aside"),
        Column("gain_per_year", "Saves a year"),
        Column("cash", "Cash in van", value=cash_of),
        Column("damped", "Not worth the bother now", value=lambda line: "yes" if line.damped else ""),
        Column("flips", "Depends on the cost of a second visit", value=lambda line: "yes" if line.flips else ""),
        Column("fixed_words", "Fixed"),
        Column("accepted_at", "Accepted", value=lambda line: line.accepted_at and f"{line.accepted_at:%Y-%m-%d}"),
        Column("reason", "Why"),
    ]
    return Table(request, ordered(lines), columns, name=f"proposal-{van.key}", caption="Lines")


def picture(proposal):
    """Cash against first visits for this van, with where it is and what pays best."""
    found = proposal.result
    curve = [(point["spend"], point["first_visit_fix_rate"]) for point in found.get("frontier", [])]
    curve = [point for point in curve if point[1] is not None]  # without demand there is no share
    if not curve:
        return None
    here = (found.get("spend_now"), found.get("first_visit_fix_rate_now"))
    pays_best = found.get("best") or found
    best = (pays_best.get("spend"), pays_best.get("first_visit_fix_rate"))
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


@office_required
@require_POST
def load_propose(request, pk):
    """Work out what this van should carry, in small steps or all at once, and keep it with its date and inputs."""
    van, at_once = van_or_404(pk), "at_once" in request.POST

    def work_out(_typed, event):
        return {"pk": proposing.propose(van, event=event, by=request.user, at_once=at_once).pk}

    if press_once(request, "load-proposal", work_out, (proposing.NoSuchVan,)):
        messages.success(request, "Worked out. Nothing changes until you accept it.")
    return redirect("van_load", pk)


@office_required
@require_POST
def load_accept(request, pk):
    """Make levels of the chosen lines of a proposal; those fixed by somebody stay."""
    van = van_or_404(pk)
    proposal = get_object_or_404(LoadProposal, pk=whole(request.POST.get("proposal")) or 0, van=van)
    chosen = [pk for pk in map(whole, request.POST.getlist("line")) if pk]

    def accept(_typed, _event):
        lines = proposal.lines.filter(accepted_at=None).select_related("part")
        if "all" not in request.POST:
            lines = [(line, _wanted(line)) for line in lines.filter(pk__in=chosen)]
        return {"lines": agreeing.accept_lines(proposal, lines, request.user)}

    if answer := press_once(request, "load", accept):
        words = f"{answer['lines']} level{'s' if answer['lines'] != 1 else ''} agreed. The next top-up brings them."
        messages.success(request, words)
    return redirect("van_load", pk)


def _wanted(line):
    """The level that a ticked line gets: what pays best where the proposal itself left it as it is."""
    return line.best if line.damped and line.best is not None else line.proposed


@office_required
def load_fix(request, pk, part):
    """Fix one line: its level, why, and until when. Or leave it to the proposals again."""
    van, part = van_or_404(pk), get_object_or_404(Part, pk=part)
    level = CarryLevel.objects.filter(place=van, part=part).select_related("fixed_by").first()
    line = LoadLine.objects.filter(proposal=newest(van), part=part).select_related("proposal").first()
    first = {"level": level.level if level else line.now if line else 1}
    form = FixForm(request.POST if request.method == "POST" else None, initial=first)

    def fix(typed, _event):
        given = {name: typed[name] for name in ("why", "until")}
        agreeing.fix_level(van, part, typed["level"], by=request.user, **given)
        return {"words": f"{part.description} is fixed at {typed['level']} until {typed['until']:%-d %B %Y}."}

    if request.method == "POST" and (answer := save_once(request, form, "load-fixed", fix)):
        messages.success(request, answer["words"])
        return redirect("van_load", pk)
    fixed = level if level and level in agreeing.still_fixed(van) else None
    shown = {"van": van, "part": part, "form": form, "line": line, "fixed": fixed, "let_go": OnceForm()}
    shown["fixed_words"] = fixed_words(fixed, line, Setting.current().currency)
    return render(request, "jobs/load_fix.html", shown, status=400 if form.errors else 200)


@office_required
@require_POST
def load_let_go(request, pk, part):
    """The level is fixed no longer: proposals may change it."""
    van, part = van_or_404(pk), get_object_or_404(Part, pk=part)

    def loosen(_typed, _event):
        return {"levels": agreeing.let_go(van, part)}

    if press_once(request, "load-let-go", loosen):
        messages.success(request, f"{part.description} is fixed no longer: the next proposal may change it.")
    return redirect(reverse("van_load", args=[pk]))


@office_required
@require_GET
def load_paper(request, pk):
    """The list that goes into the van, printed."""
    van = van_or_404(pk)
    levels = van.carry_levels.filter(level__gt=0).select_related("part", "fixed_by").order_by("part__description")
    return render(request, "jobs/load_paper.html", {"van": van, "levels": levels, "proposal": newest(van)})
