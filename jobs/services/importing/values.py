"""What a cell of a firm's file may hold. A reader takes text without outer blanks; returns a value or raises Wrong."""

import functools
import re
import sys
from datetime import date, time
from decimal import ROUND_HALF_UP, Decimal
from zoneinfo import available_timezones

from django.core.exceptions import ValidationError
from django.core.validators import validate_email

from inventory.models import gtin_is_right
from jobs.models import Precision

FIRST_YEAR, LAST_YEAR = 1900, 2100
NUMBER = re.compile(r"-?(\d+(\.\d*)?|\.\d+)", re.ASCII)
DAY = re.compile(r"(\d{4})-(\d{2})-(\d{2})", re.ASCII)
PART_OF_DATE = re.compile(r"(\d{4})(?:-(\d{2})(?:-(\d{2}))?)?", re.ASCII)
CLOCK = re.compile(r"(\d{1,2}):(\d{2})(?::(\d{2}))?", re.ASCII)


class Wrong(Exception):
    """This text is no such value; the message says why, for the person who will mend the cell."""


def cached(reader):
    """Equal cells share one value: a long file repeats its days, words and prices."""
    return functools.lru_cache(maxsize=20_000)(reader)


def text(most):
    def read(cell):
        if "\0" in cell:
            raise Wrong("Holds a NUL character.")
        if len(cell) > most:
            raise Wrong(f"Longer than {most} characters.")
        return cell

    return read


def key(most=60):
    """A number or name by which other rows refer to this one."""
    checked = text(most)

    def read(cell):
        if ";" in cell or "\n" in cell or "\r" in cell:
            raise Wrong("A number may not hold a semicolon or a line break.")
        return sys.intern(checked(cell))

    return read


def number(whole_digits, places, *, least=None, most=None, above=None):
    """A decimal with a decimal point, at most `places` decimals."""

    @cached
    def read(cell):
        found = _decimal(cell)
        if found != found.quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP):
            raise Wrong(f"At most {places} decimals." if places else "Must be a whole number.")
        _within(found, least, most, above)
        if abs(found) >= Decimal(10) ** whole_digits:
            raise Wrong("Too large.")
        return found

    return read


def whole(least, most):
    as_number = number(12, 0, least=least, most=most)

    def read(cell):
        return int(as_number(cell))

    return read


def _decimal(cell):
    if NUMBER.fullmatch(cell) and len(cell) <= 40:
        return Decimal(cell)
    if re.fullmatch(r"-?\d+,\d+", cell):
        raise Wrong(f"Write a decimal point, not a comma: {cell.replace(',', '.')}.")
    raise Wrong("Not a number (digits and a decimal point, no blanks, no units).")


def _within(found, least, most, above):
    if above is not None and found <= above:
        raise Wrong(f"Must be more than {above}.")
    if least is not None and found < least:
        raise Wrong(f"Must not be less than {least}.")
    if most is not None and found > most:
        raise Wrong(f"Must not be more than {most}.")


@cached
def day(cell):
    found = DAY.fullmatch(cell)
    if not found:
        raise Wrong("Not a date: write year-month-day, as 2024-03-09.")
    return _date(*map(int, found.groups()))


@cached
def imprecise_day(cell):
    """(first day of the day, month or year that was written, Precision)."""
    found = PART_OF_DATE.fullmatch(cell)
    if not found:
        raise Wrong("Not a date: write 2012, 2012-05 or 2012-05-17.")
    year, month, on = found.groups()
    precision = Precision.DAY if on else Precision.MONTH if month else Precision.YEAR
    return _date(int(year), int(month or 1), int(on or 1)), str(precision)


def _date(year, month, on):
    if not FIRST_YEAR <= year <= LAST_YEAR:
        raise Wrong(f"The year must lie between {FIRST_YEAR} and {LAST_YEAR}.")
    try:
        return date(year, month, on)
    except ValueError as error:
        raise Wrong("There is no such day.") from error


@cached
def clock(cell):
    found = CLOCK.fullmatch(cell)
    if not found:
        raise Wrong("Not a time of day: write 08:30.")
    hour, minute, second = (int(part or 0) for part in found.groups())
    if hour > 23 or minute > 59 or second > 59:
        raise Wrong("There is no such time of day.")
    return time(hour, minute, second)


def listed(read_one):
    """A list separated by semicolons."""

    @cached
    def read(cell):
        found = tuple(read_one(part.strip()) for part in cell.split(";") if part.strip())
        twice = next((one for place, one in enumerate(found) if one in found[:place]), None)
        if twice is not None:
            raise Wrong(f"{twice} stands in this list twice.")
        return _not_empty(found)

    return read


def _not_empty(found):
    if not found:
        raise Wrong("A list without an entry.")
    return found


def pieces(read_one):
    """Texts separated by semicolons, as often as they stand there; an empty piece is None."""

    @cached
    def read(cell):
        return tuple(read_one(part.strip()) if part.strip() else None for part in cell.split(";"))

    return read


def counted(read_count, most=60):
    """A list of keys, each with its count after a star: pump;fan;ntc*2. Pairs of key and count."""
    read_key = key(most)

    @cached
    def read(cell):
        found = {}
        for part in (one.strip() for one in cell.split(";")):
            name, star, count = part.rpartition("*") if "*" in part else (part, "", "1")
            if part and not name.strip():
                raise Wrong(f"{part}: what stands before the star?")
            if name.strip() in found:
                raise Wrong(f"{name.strip()} stands in this list twice.")
            if part:
                found[read_key(name.strip())] = read_count(count.strip())
        return _not_empty(tuple(found.items()))

    return read


@cached
def hours(cell):
    """(low, usual, high): one number is the usual one alone."""
    one = number(3, 2, least=0)
    found = [one(part.strip()) for part in cell.split(";")]
    if len(found) == 1:
        return (None, found[0], None)
    if len(found) != 3 or found != sorted(found):
        raise Wrong("Must be one number of hours, or low;usual;high in this order.")
    return tuple(found)


def gtin(cell):
    if not gtin_is_right(cell):
        raise Wrong("Not a GTIN of 8, 12, 13 or 14 digits with the right check digit.")
    return cell


def email(cell):
    try:
        validate_email(cell)
    except ValidationError as error:
        raise Wrong("Not an e-mail address.") from error
    return text(254)(cell)


def code(length):
    def read(cell):
        if not re.fullmatch(f"[A-Za-z]{{{length}}}", cell):
            raise Wrong(f"Must be {length} letters.")
        return cell.upper()

    return read


def time_zone(cell):
    if cell not in available_timezones():
        raise Wrong("Not a time zone, such as Europe/London.")
    return cell
