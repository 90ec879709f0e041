"""A supplier's price file: every kind of row by hand, the whole file or nothing, and the pages around it."""

import datetime
import io
import uuid
from decimal import Decimal

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from django.utils import timezone
from openpyxl import Workbook

from inventory.models import Offer, Price, PriceFile
from inventory.services import price_files
from inventory.services.price_sheets import CannotRead
from tests import factories as make

pytestmark = pytest.mark.django_db
HEADS = "supplier_part;part;price_ex_vat;pack;valid_from"


@pytest.fixture
def offer():
    offer = make.OfferFactory(supplier_part="D1")
    make.PriceFactory(offer=offer, price_ex_vat=40, pack=2)
    return offer


def kept(offer, *rows, heads=HEADS, name="prices.csv"):
    return price_files.keep(offer.supplier, name, "\n".join([heads, *rows]).encode())


def today():
    return timezone.localdate().isoformat()


def test_a_changed_price_is_booked_per_piece_from_its_day(offer):
    file = kept(offer, f"D1;;44;2;{today()}")
    checked = price_files.book(file)
    assert checked.counts["changed"] == 1
    price = Price.objects.get(price_file=file)
    assert (price.price_per_piece, price.valid_from) == (Decimal("22.0000"), timezone.localdate())
    file.refresh_from_db()
    assert file.content is None


def test_a_part_of_ours_that_this_supplier_is_new_to_gets_an_offer(offer):
    part = make.PartFactory(number="104999")
    price_files.book(kept(offer, f"D9;104999;12.50;1;{today()}"))
    assert Offer.objects.get(supplier_part="D9").part == part


def test_what_is_as_before_and_what_is_not_ours_books_nothing(offer):
    checked = price_files.book(kept(offer, f"D1;;40;2;{today()}", f"X7;;3;1;{today()}"))
    assert (checked.same, checked.unknown) == (1, 1)
    assert Price.objects.count() == 1


def test_a_price_ten_times_the_last_waits_for_a_look(offer):
    file = kept(offer, f"D1;;400;2;{today()}")
    assert price_files.check(file).counts["ten times dearer or cheaper"] == 1
    price_files.book(file)
    assert Price.objects.count() == 1
    price_files.book(kept(offer, f"D1;;400;2;{today()}"), with_jumps=True)
    assert Price.objects.count() == 2


@pytest.mark.parametrize(
    ("row", "column", "reason"),
    [
        (";;44;2;2026-01-01", "Supplier’s number", "is empty"),
        ("D1;;;2;2026-01-01", "Price of a pack, without VAT", "is empty"),
        ("D1;;forty;2;2026-01-01", "Price of a pack, without VAT", "is no plain number"),
        ("D1;;-4;2;2026-01-01", "Price of a pack, without VAT", "is no plain number"),
        ("D1;;44;0;2026-01-01", "Pieces in a pack", "must be more than nothing"),
        ("D1;;44;2;soon", "Valid from", "is no day"),
        ("D1;;44;2;2020-01-01", "Valid from", "another price from that day"),
    ],
)
def test_an_impossible_row_is_named_with_its_column_and_books_nothing(offer, row, column, reason):
    file = kept(offer, row)
    (error,) = price_files.check(file).errors
    assert (error["row"], error["column"]) == (2, column)
    assert reason in error["reason"]
    with pytest.raises(CannotRead, match="1 rows cannot be read"):
        price_files.book(file)
    assert Price.objects.count() == 1


def test_good_rows_are_booked_without_the_bad_ones_only_when_that_is_ticked(offer):
    file = kept(offer, f"D1;;44;2;{today()}", "D2;;forty;;")
    checked = price_files.book(file, leave_out_errors=True)
    assert checked.counts["changed"] == 1
    file.refresh_from_db()
    assert file.errors[0]["row"] == 3


def test_one_number_twice_for_one_day_is_an_error_in_the_second_row(offer):
    checked = price_files.check(kept(offer, f"D1;;44;2;{today()}", f"D1;;45;2;{today()}"))
    assert [error["row"] for error in checked.errors] == [3]


def test_a_file_is_booked_once(offer):
    file = kept(offer, f"D1;;44;2;{today()}")
    price_files.book(file)
    with pytest.raises(CannotRead, match="booked already"):
        price_files.book(file)


def test_the_columns_of_the_last_file_are_remembered(offer):
    file = kept(offer, "D1,44", heads="Art,Net")
    with pytest.raises(CannotRead, match="Choose the column of"):
        price_files.check(file)
    file.mapping = {"supplier_part": "Art", "price_ex_vat": "Net"}
    file.save()
    price_files.book(file)
    assert kept(offer, "D1,45", heads="Art,Net").mapping == file.mapping


def test_a_spreadsheet_and_an_old_encoding_are_read_too(offer):
    book, content = Workbook(), io.BytesIO()
    book.active.append(["supplier_part", "price_ex_vat", "pack", "valid_from"])
    book.active.append(["D1", 44.5, 2, datetime.datetime(2026, 1, 1)])
    book.save(content)
    file = price_files.keep(offer.supplier, "list.xlsx", content.getvalue())
    assert price_files.check(file).changes[0].price == Decimal("44.5")
    old = price_files.keep(offer.supplier, "old.csv", "supplier_part;price_ex_vat\nD1;£1,044.00\n".encode("cp1252"))
    assert price_files.check(old).jumps[0].price == Decimal("1044.00")


@pytest.mark.parametrize("content", [b"", b"supplier_part,price_ex_vat\n", b"PK\x03\x04nonsense"])
def test_what_is_no_price_file_is_refused(offer, content):
    with pytest.raises(CannotRead):
        price_files.keep(offer.supplier, "list.xlsx" if content.startswith(b"PK") else "list.csv", content)
    assert not PriceFile.objects.exists()


def test_the_office_uploads_looks_through_and_books_a_file_once(client, offer):
    client.force_login(make.OfficeFactory())
    content = f"Art;Net;Day\nD1;44;{today()}\nD2;x;{today()}\n".encode()
    upload = {
        "event": str(uuid.uuid4()),
        "supplier": offer.supplier.pk,
        "file": SimpleUploadedFile("list.csv", content),
    }
    page = client.post(reverse("price_file_new"), upload).url
    assert "Choose the column of" in client.get(page).content.decode()
    columns = {"column_supplier_part": "Art", "column_price_ex_vat": "Net", "column_valid_from": "Day"}
    client.post(f"{page}columns/", {"event": str(uuid.uuid4()), **columns})
    looked = client.get(page).content.decode()
    assert "is no plain number" in looked
    assert "120.0%" in looked
    refused = client.post(f"{page}book/", {"event": str(uuid.uuid4())})
    assert refused.status_code == 400
    assert "1 rows cannot be read" in refused.content.decode()
    typed = {"event": str(uuid.uuid4()), "leave_out_errors": "on"}
    for _ in range(2):
        client.post(f"{page}book/", typed)
    assert Price.objects.filter(price_file__isnull=False).count() == 1
    assert "is no plain number" in client.get(page).content.decode()
    assert b"is no plain number" in client.get(page + "?export=csv").content


def test_a_file_that_was_not_booked_can_be_thrown_away(client, offer):
    client.force_login(make.OfficeFactory())
    file = kept(offer, f"D1;;44;2;{today()}")
    client.post(reverse("price_file_drop", args=[file.pk]), {"event": str(uuid.uuid4())})
    assert not PriceFile.objects.exists()
