"""Closed words: case, and blank, hyphen or underscore, make no difference; anything else is an error."""

import re
import sys

from jobs.services.importing.values import Wrong, cached, listed


def same_word(cell):
    """A closed word in our spelling, if it is one."""
    return re.sub(r"[\s_-]+", "-", cell.strip().casefold())


def word(*allowed):
    @cached
    def read(cell):
        found = same_word(cell)
        if found not in allowed:
            raise Wrong(f"Must be one of: {', '.join(allowed)}.")
        return sys.intern(found)

    return read


@cached
def yes_no(cell):
    found = same_word(cell)
    if found in {"yes", "true", "1"}:
        return True
    if found in {"no", "false", "0"}:
        return False
    raise Wrong("Must be one of: yes, no, true, false, 1, 0.")


def words(nothing, *allowed):
    """A list of closed words; the word `nothing` alone is the empty list."""
    several = listed(word(nothing, *allowed))

    @cached
    def read(cell):
        found = several(cell)
        if nothing in found and len(found) > 1:
            raise Wrong(f"{nothing} stands beside others.")
        return tuple(one for one in allowed if one in found)

    return read
