"""The columns of a firm's files: how a cell is read, whether it may be empty, which table it refers to."""

from collections import namedtuple
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from jobs.services.importing.values import text


@dataclass(frozen=True)
class Column:
    """optional: the file may lack it. empty: the cell may be empty, and then counts as `blank`. refers: to a table."""

    name: str
    read: Callable[[str], Any]
    optional: bool = False
    empty: bool = False
    blank: Any = None
    refers: str = ""

    @property
    def attribute(self):
        return {"from": "source"}.get(self.name, self.name)


@dataclass(frozen=True)
class Table:
    """One file. key: the columns that number a row; none where rows are known by all that they say."""

    name: str
    columns: tuple[Column, ...]
    key: tuple[str, ...] = ()

    @cached_property
    def Row(self):
        return namedtuple(self.name, ["row", *(column.attribute for column in self.columns)])

    @cached_property
    def required(self):
        return {column.name for column in self.columns if not column.optional}

    @cached_property
    def names(self):
        """{attribute of Row: column name}."""
        return {column.attribute: column.name for column in self.columns}

    @cached_property
    def by_name(self):
        return {column.name: column for column in self.columns}


def must(name, read, **more):
    return Column(name, read, **more)


def may(name, read, **more):
    return Column(name, read, optional=True, empty=True, **more)


def words(name, most, *, may_lack=True):
    """Free text; an empty cell is no text."""
    return Column(name, text(most), optional=may_lack, empty=True, blank="")
