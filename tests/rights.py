"""Root reads and writes every file; a test of rights means nothing then. So the tests give that up."""

from __future__ import annotations

import ctypes
import os
import sys

_OVERRIDE, _SEARCH = 1, 2  # CAP_DAC_OVERRIDE and CAP_DAC_READ_SEARCH of linux/capability.h
_VERSION = 0x20080522  # _LINUX_CAPABILITY_VERSION_3: two sets of 32
_Header = ctypes.c_uint32 * 2
_Sets = ctypes.c_uint32 * 6  # effective, permitted, inheritable; twice


def give_up_roots_rights() -> None:
    """Let files without rights be unreadable to this thread, and to all threads and forks it starts from now on.

    Programs it starts have all rights again. Without effect where nobody is root, and on systems other than Linux.
    """
    if sys.platform != "linux" or os.geteuid() != 0:
        return
    libc = ctypes.CDLL(None, use_errno=True)
    header, sets = _Header(_VERSION, 0), _Sets()
    if libc.capget(header, sets):
        raise OSError(ctypes.get_errno(), "capget")
    sets[0] &= ~(1 << _OVERRIDE | 1 << _SEARCH)
    if libc.capset(header, sets):
        raise OSError(ctypes.get_errno(), "capset")
