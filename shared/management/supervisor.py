"""Keeps a few child processes up, and ends all of them together."""

import signal
import subprocess
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from types import FrameType
from typing import Final

from shared.processes import dies_with_parent, end_group

TICK_S: Final = 0.2
SHORT_LIFE_S: Final = 10.0  # a child that ends sooner than this after its start did not really run
MOST_SHORT_LIVES: Final = 4
GRACE_S: Final = 8.0  # between the polite signal and kill -9; the outbox carries what was cut off


@dataclass
class Child:
    """One program to keep up. It leads a process group of its own, so that its helpers can be ended with it."""

    name: str
    command: Sequence[str]
    environ: Mapping[str, str]
    pass_fds: Sequence[int] = ()
    process: subprocess.Popen | None = field(default=None, init=False)
    started: float = field(default=0.0, init=False)
    short_lives: int = field(default=0, init=False)

    def start(self) -> None:
        self.started = time.monotonic()
        self.process = subprocess.Popen(
            self.command,
            env=dict(self.environ),
            pass_fds=self.pass_fds,
            stdin=subprocess.DEVNULL,
            # The terminal's Ctrl-C then reaches the supervisor alone, which ends the children in order.
            start_new_session=True,
            preexec_fn=dies_with_parent(signal.SIGTERM),
        )

    @property
    def runs(self) -> bool:
        return self.process is not None and self.process.poll() is None

    def end(self, sig: signal.Signals) -> None:
        if self.process is not None:
            end_group(self.process, sig)


class Supervisor:
    """Starts children, restarts one that dies, and ends all on SIGINT, SIGTERM or SIGHUP."""

    def __init__(self, children: Sequence[Child], say: Callable[[str], None]) -> None:
        self.children = children
        self.say = say
        self.asked_to_end = 0

    def run(self, when_up: Callable[[], bool]) -> int:
        """Keep the children up until asked to end; return the exit code.

        Args:
            when_up: called at each turn until it returns True, to say that the service answers.
        """
        # SIGINT too where it came ignored, as a shell's `&` leaves it: whoever sends it to us means it.
        for sig in (signal.SIGINT, signal.SIGTERM):
            signal.signal(sig, self._ask_to_end)
        if signal.getsignal(signal.SIGHUP) != signal.SIG_IGN:  # nohup asks to outlive the terminal
            signal.signal(signal.SIGHUP, self._ask_to_end)
        up = False
        try:
            for child in self.children:
                child.start()
            while not self.asked_to_end:
                time.sleep(TICK_S)
                up = up or when_up()
                if not all(self._keep_up(child) for child in self.children):
                    return 1
            return 0
        finally:
            self._end_all()

    def _ask_to_end(self, _sig: int, _frame: FrameType | None) -> None:
        self.asked_to_end += 1

    def _keep_up(self, child: Child) -> bool:
        """Restart a child that ended; return False where it will not stay up."""
        if child.runs or self.asked_to_end:
            return True
        # What a killed leader leaves behind (the worker's scheduler) must not live on beside its successor.
        child.end(signal.SIGKILL)
        short = time.monotonic() - child.started < SHORT_LIFE_S
        child.short_lives = child.short_lives + 1 if short else 0
        if child.short_lives >= MOST_SHORT_LIVES:
            self.say(f"{child.name} ended {child.short_lives} times soon after its start; giving up.")
            return False
        self.say(f"{child.name} ended (code {child.process.returncode}); starting it again.")
        child.start()
        return True

    def _end_all(self) -> None:
        """End every child: politely, and by kill -9 after the grace or at a second request."""
        asked = self.asked_to_end
        for child in self.children:
            if child.runs:
                child.process.terminate()
        until = time.monotonic() + GRACE_S
        while any(child.runs for child in self.children) and time.monotonic() < until and self.asked_to_end <= asked:
            time.sleep(TICK_S / 4)
        for child in self.children:
            child.end(signal.SIGKILL)
            if child.process is not None:
                child.process.wait()
