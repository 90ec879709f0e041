"""What should change its place: the Friday list, and what each van gives back to the store; as last worked out."""

from uuid import uuid5

from django.contrib import messages
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_POST

from firm.models import Setting
from firm.roles import office_required
from firm.tables import Column, Filter, Table
from firm.words import count, money
from inventory.models import Place
from inventory.views.asking import whole
from inventory.views.once import OnceForm, press_once
from jobs.models import MoveLine, MoveList
from jobs.services import kept_moves, long_work

FRIDAY = 5
SECONDS = "4"


def standing(request, **more):
    """What every page of a kept list shows: the list, whether a new one is being worked out, and the button."""
    last = MoveList.objects.first()
    return {
        "moves": kept_moves.newest(),
        "running": last if last and last.state == "running" else None,
        "failed": last if last and last.state in {"failed", "stopped"} else None,
        "form": OnceForm(),
        "seconds": SECONDS,
        "here": request.path,
        **more,
    }


@office_required
@require_GET
def move_list(request):
    """Five lines on Fridays: who passes what to whom; then what goes back to the store."""
    shown, currency = standing(request), Setting.current().currency
    lines = shown["moves"].lines.all() if shown["moves"] else MoveLine.objects.none()
    lines = lines.select_related("part", "giver__engineer", "taker__engineer", "done_by")
    passes = [(line, OnceForm()) for line in lines.filter(kind="pass", rank__lte=FRIDAY)]
    returns = _returns(request, lines, currency)
    if returns.response:
        return returns.response
    open_lines = [line for line, _ in passes if not line.done_at]
    shown |= {"passes": passes, "returns": returns, "to_do": len(open_lines)}
    shown["worth"] = sum(line.worth_per_year for line in open_lines)
    return render(request, "jobs/move_list.html", shown)


def _returns(request, lines, currency):
    rows = lines.filter(kind="return")
    vans = sorted({(line.giver.key, str(line.giver)) for line in rows})
    columns = [
        Column(
            "part",
            "Part",
            value=lambda line: line.part.description,
            order="part__description",
            href=lambda line: reverse("part_detail", args=[line.part_id]),
            sub=lambda line: line.part.number,
        ),
        Column(
            "giver",
            "From",
            value=lambda line: str(line.giver),
            order="giver__key",
            href=lambda line: reverse("move_van", args=[line.giver_id]),
        ),
        Column("quantity", "Pieces", numeric=True),
        Column("worth_per_year", "Worth a year", numeric=True, show=lambda v: money(v, currency, 0)),
        Column("why", "Why", whole=True, order=""),
        Column("done", "Done", value=_done, order=""),
    ]
    return Table(
        request,
        rows.order_by("rank"),
        columns,
        name="returns-to-the-store",
        caption="What goes back to the store",
        filters=[
            Filter("van", "Van", lambda found, key: found.filter(giver__key=key), vans),
            Filter("state", "Show", _of_state, [("open", "still to do"), ("done", "done")]),
        ],
        per_page=25,
        empty="Nothing should go back to the store.",
    )


def _of_state(rows, state):
    return rows.filter(done_at__isnull=state == "open")


def _done(line):
    return f"{line.done_at:%-d %b} by {line.done_by}" if line.done_at else ""


@office_required
@require_POST
def move_work_out(request):
    """Work the lists out anew, in the background."""

    def begin(_typed, event):
        return {"pk": kept_moves.begin_in_background(event=event, by=request.user).pk}

    if press_once(request, "moves", begin, (long_work.Busy,)):
        messages.success(request, "It is being worked out. The lists below stay until the new ones are there.")
    return redirect(_back(request))


def _back(request):
    """The page that the button stood on, one of ours."""
    pages = {reverse(name) for name in ("move_list", "slow_list", "dead_list")}
    return request.POST.get("next") if request.POST.get("next") in pages else reverse("move_list")


@office_required
@require_POST
def move_done(request, pk):
    """The pieces were handed over: book it, once."""
    line = get_object_or_404(MoveLine.objects.select_related("part", "giver", "taker", "moves"), pk=pk)

    def book(_typed, event):
        kept_moves.book(line, event=event, by=request.user)
        return {"words": f"{line.quantity} × {line.part.description}: from {line.giver} to {line.taker}, booked."}

    if answer := press_once(request, "move-done", book, (kept_moves.NotMoved,)):
        messages.success(request, answer["words"])
    return redirect("move_list")


@office_required
@require_GET
def move_van(request, pk):
    """What one van hands over, to print and to tick off: passes of the Friday list, and returns to the store."""
    van = get_object_or_404(Place.objects.vans(), pk=pk)
    moves = kept_moves.newest()
    lines = moves.lines.filter(giver=van).exclude(kind="pass", rank__gt=FRIDAY) if moves else MoveLine.objects.none()
    lines = list(lines.select_related("part", "taker", "done_by"))
    shown = {"van": van, "moves": moves, "lines": lines, "open": [line for line in lines if not line.done_at]}
    return render(request, "jobs/move_van.html", shown | {"form": OnceForm()})


@office_required
@require_POST
def move_van_done(request, pk):
    """Book the ticked lines of one van, all of them or none."""
    van = get_object_or_404(Place.objects.vans(), pk=pk)
    ticked = [line for line in map(whole, request.POST.getlist("line")) if line]

    def book(_typed, event):
        lines = MoveLine.objects.filter(pk__in=ticked, giver=van).select_related("part", "giver", "taker", "moves")
        for line in lines:
            kept_moves.book(line, event=uuid5(event, str(line.pk)), by=request.user)
        return {"lines": len(lines)}

    if answer := press_once(request, "moves-done", book, (kept_moves.NotMoved,)):
        messages.success(request, f"{count(answer['lines'], 'line')} booked.")
    return redirect("move_van", pk)
