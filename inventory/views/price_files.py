"""A supplier's price file: uploaded, its columns picked, looked through, then booked as a whole."""

from itertools import islice

from django import forms
from django.contrib import messages
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_POST

from firm.exports import csv_response
from firm.roles import office_required
from inventory.models import Offer, PriceFile, Supplier
from inventory.services import price_files
from inventory.services.price_sheets import FIELDS, CannotRead, read
from inventory.views.once import OnceForm, save_once

MOST_SHOWN = 100


class UploadForm(OnceForm):
    supplier = forms.ModelChoiceField(Supplier.objects.all(), label="Whose prices", empty_label="Choose")
    file = forms.FileField(label="File, CSV or XLSX", widget=forms.FileInput(attrs={"accept": ".csv,.xlsx,.txt"}))


class ColumnsForm(OnceForm):
    """Which column of the file is what."""

    valid_from = forms.DateField(
        required=False,
        label="Valid from, where no column says it",
        help_text="Empty: today.",
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )

    def __init__(self, *args, heads, **kwargs):
        super().__init__(*args, **kwargs)
        choices = [("", "not in the file"), *((head, head) for head in heads if head)]
        for name, label in FIELDS.items():
            key = f"column_{name}"
            self.fields[key] = forms.ChoiceField(choices=choices, required=False, label=label)
        self.order_fields([*(f"column_{name}" for name in FIELDS), "valid_from"])

    @property
    def mapping(self):
        return {name: self.cleaned_data[f"column_{name}"] for name in FIELDS if self.cleaned_data[f"column_{name}"]}


class BookForm(OnceForm):
    leave_out_errors = forms.BooleanField(required=False, label="Leave out the rows that cannot be read")
    with_jumps = forms.BooleanField(required=False, label="Book the prices ten times dearer or cheaper too")


def file_or_404(pk):
    return get_object_or_404(PriceFile.objects.select_related("supplier", "by"), pk=pk)


@office_required
def price_file_new(request):
    """Upload a file; it waits until its columns are picked and it is booked."""
    form = UploadForm(request.POST or None, request.FILES or None)

    def keep(typed, _event):
        upload = typed["file"]
        return {"pk": price_files.keep(typed["supplier"], upload.name, upload.read(), by=request.user).pk}

    if request.method == "POST" and (answer := save_once(request, form, "price-file", keep, (CannotRead,))):
        return redirect("price_file", answer["pk"])
    return render(request, "inventory/price_file_new.html", {"form": form}, status=400 if form.errors else 200)


@office_required
@require_GET
def price_file(request, pk):
    """What a file would do, or what was made of it."""
    file = file_or_404(pk)
    if file.content is None:
        return _booked(request, file)
    return _waiting(request, file)


def _booked(request, file):
    if request.GET.get("export") == "csv":
        return errors_as_csv(file, file.errors)
    shown = {
        "file": file,
        "counts": file.counts,
        "rows": file.errors[:MOST_SHOWN],
        "more": len(file.errors) > MOST_SHOWN,
    }
    return render(request, "inventory/price_file.html", shown)


def errors_as_csv(file, errors):
    names = ["row", "column", "value", "reason"]
    return csv_response(f"{file.name}-not-read", names, [[row.get(name, "") for name in names] for row in errors])


def _waiting(request, file, status=200, **forms_of):
    heads, rows = read(bytes(file.content), file.name)
    try:
        checked, refused = price_files.check(file), ""
    except CannotRead as problem:
        checked, refused = None, str(problem)
    if request.GET.get("export") == "csv" and checked:
        return errors_as_csv(file, checked.errors)
    initial = {f"column_{name}": column for name, column in file.mapping.items()} | {"valid_from": file.valid_from}
    changes = checked.changes if checked else []
    offers = Offer.objects.filter(pk__in=[row.offer for row in changes]).select_related("part").in_bulk()
    shown = {
        "file": file,
        "heads": heads,
        "sample": list(islice(rows, 3)),
        "columns_form": ColumnsForm(heads=heads, initial=initial),
        "refused": refused,
        "checked": checked,
        "counts": checked.counts if checked else {},
        "changes": [(row, offers[row.offer].part) for row in changes],
        "rows": checked.errors[:MOST_SHOWN] if checked else [],
        "more": bool(checked) and len(checked.errors) > MOST_SHOWN,
        "twice": PriceFile.objects.filter(sha256=file.sha256).exclude(booked_at=None).first(),
        "book_form": BookForm(),
        "drop_form": OnceForm(auto_id="drop_%s"),
        **forms_of,
    }
    return render(request, "inventory/price_file_waiting.html", shown, status=status)


@office_required
@require_POST
def price_file_columns(request, pk):
    """Keep which column is what, and look the file through with it."""
    file = get_object_or_404(PriceFile, pk=pk, booked_at=None)
    form = ColumnsForm(request.POST, heads=read(bytes(file.content), file.name)[0])

    def keep(typed, _event):
        file.mapping, file.valid_from = form.mapping, typed["valid_from"]
        file.save(update_fields=["mapping", "valid_from"])
        return {"pk": file.pk}

    if save_once(request, form, "price-columns", keep):
        return redirect("price_file", pk)
    return _waiting(request, file, status=400, columns_form=form)


@office_required
@require_POST
def price_file_book(request, pk):
    """Book the whole file, or nothing of it."""
    file = file_or_404(pk)
    form = BookForm(request.POST)

    def book(typed, _event):
        ticks = {name: typed[name] for name in ("leave_out_errors", "with_jumps")}
        return price_files.book(file, by=request.user, **ticks).counts

    if answer := save_once(request, form, "price-file-booked", book, (CannotRead,)):
        messages.success(request, f"Booked: {answer['new']} new prices, {answer['changed']} changed.")
        return redirect("price_file", pk)
    if file.content is None:
        messages.error(request, " ".join(form.non_field_errors()))
        return redirect("price_file", pk)
    return _waiting(request, file, status=400, book_form=form)


@office_required
@require_POST
def price_file_drop(request, pk):
    """Throw away a file that was never booked."""
    PriceFile.objects.filter(pk=pk, booked_at=None).exclude(content=None).delete()
    messages.success(request, "The file is thrown away; no price was changed.")
    return redirect("price_list")
