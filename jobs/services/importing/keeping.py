"""Rows in their thousands: insert what is new, update what differs, touch nothing else."""

from collections.abc import Iterable
from itertools import islice
from typing import Any

CHUNK = 1_000


def chunks(rows: Iterable[Any], size=CHUNK):
    """Lists of at most `size` rows.

    >>> list(chunks([1, 2, 3], size=2))
    [[1, 2], [3]]
    """
    rows = iter(rows)
    while chunk := list(islice(rows, size)):
        yield chunk


def keep(model, key, wanted, *, new=None):
    """Make the rows of `model` say what `wanted` says: pairs of key and {field: value}, in order.

    new: a function from the key to {field: value} that only new rows get. Foreign keys are given by their attribute
    (`part_id`).
    """
    for chunk in chunks(wanted):
        there = {getattr(row, key): row for row in model.objects.filter(**{f"{key}__in": [one for one, _ in chunk]})}
        missing, changed, touched = [], [], set()
        for number, fields in chunk:
            row = there.get(number)
            if row is None:
                missing.append(model(**{key: number}, **(new(number) if new else {}), **fields))
                continue
            differing = [name for name, value in fields.items() if getattr(row, name) != value]
            for name in differing:
                setattr(row, name, fields[name])
            changed += [row] if differing else []
            touched.update(differing)
        model.objects.bulk_create(missing, batch_size=500)
        if changed:
            model.objects.bulk_update(changed, sorted(name.removesuffix("_id") for name in touched), batch_size=200)


def keep_links(through, left, right, wanted):
    """Make a many-to-many table link each left key of `wanted` to exactly its right keys. wanted: {left: rights}."""
    for chunk in chunks(wanted.items()):
        there = {}
        rows = through.objects.filter(**{f"{left}__in": [one for one, _ in chunk]})
        for pk, one, other in rows.values_list("pk", left, right):
            there.setdefault(one, {})[other] = pk
        surplus, missing = [], []
        for one, others in chunk:
            mine = there.get(one, {})
            surplus += [pk for other, pk in mine.items() if other not in others]
            missing += [through(**{left: one, right: other}) for other in others if other not in mine]
        if surplus:
            through.objects.filter(pk__in=surplus).delete()
        through.objects.bulk_create(missing, batch_size=500)


def numbers(model, key):
    """{key: pk} of a whole table."""
    return dict(model.objects.values_list(key, "pk").iterator(10_000))


def present(read, row, **fields):
    """{field: value} of those columns that the file has. fields: column attribute by field name."""
    names = read.table.names
    return {name: getattr(row, attribute) for name, attribute in fields.items() if names[attribute] in read.columns}
