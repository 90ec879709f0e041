"""HiGHS writes a line of its own to standard output, past every option: here it goes to standard error instead.

The file descriptor belongs to the whole process, so one solve at a time: two that restored it in the wrong order
would leave it turned away for good. What another thread writes meanwhile comes out on standard error too.
"""

import ctypes
import os
import sys
import threading
from contextlib import contextmanager

_ONE_AT_A_TIME = threading.Lock()


@contextmanager
def standard_output_kept_clean():
    with _ONE_AT_A_TIME:
        _flush()
        try:
            kept = os.dup(1)
        except OSError:  # there is no standard output
            yield
            return
        try:
            os.dup2(2, 1)
            yield
        finally:
            _flush()
            os.dup2(kept, 1)
            os.close(kept)


def _flush():
    """What C and Python still hold back for standard output."""
    if sys.stdout is not None and not sys.stdout.closed:
        sys.stdout.flush()
    try:
        ctypes.CDLL(None).fflush(None)
    except (OSError, TypeError, AttributeError):  # no C library to be had under that name
        return
