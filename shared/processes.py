"""Child processes that end with the process that started them."""

import ctypes
import os
import signal
import subprocess
import sys
from collections.abc import Callable

PR_SET_PDEATHSIG = 1


def dies_with_parent(sig: signal.Signals = signal.SIGTERM) -> Callable[[], None] | None:
    """Return a ``preexec_fn`` that has the kernel send ``sig`` when the parent dies, even by kill -9.

    Only Linux offers it; elsewhere None, and a killed parent leaves its children to be ended by hand.
    """
    if sys.platform != "linux":
        return None
    # The library is loaded before the fork: after it, in a threaded parent, loading could deadlock.
    libc, parent = ctypes.CDLL(None, use_errno=True), os.getpid()

    def ask() -> None:
        libc.prctl(PR_SET_PDEATHSIG, int(sig), 0, 0, 0)
        if os.getppid() != parent:  # the parent died between the fork and the request
            os._exit(1)

    return ask


def end_group(process: subprocess.Popen, sig: signal.Signals) -> None:
    """Signal a child's whole process group; the child was started with ``start_new_session=True``."""
    try:
        os.killpg(process.pid, sig)
    except ProcessLookupError:
        return
