"""kombu's file transport, with messages put in place and taken whole.

As kombu has it, a reader may take a file between its creation and its writing, and reads nothing: a message is lost
whenever two processes are unlucky. Here a message gets its final name only when it is whole, and is taken by a rename
that one reader alone can win. A crash between taking and doing still loses a message; that is what the outbox is for.
"""

import os
import time
import uuid
from pathlib import Path
from queue import Empty
from typing import Any

from kombu.transport import filesystem
from kombu.utils.encoding import bytes_to_str, str_to_bytes
from kombu.utils.json import dumps, loads


class Channel(filesystem.Channel):
    """A folder of messages, oldest name first."""

    def _put(self, queue: str, payload: dict[str, Any], **kwargs: Any) -> None:
        # Wall-clock nanoseconds, not kombu's monotonic milliseconds: those start again when the machine boots, so that
        # new messages would overtake old ones.
        name = f"{time.time_ns():020d}_{uuid.uuid4()}.{queue}.msg"
        half = Path(self.data_folder_out) / f"{name}.tmp"
        half.write_bytes(str_to_bytes(dumps(payload)))
        half.replace(Path(self.data_folder_out) / name)

    def _get(self, queue: str) -> dict[str, Any]:
        for name in sorted(os.listdir(self.data_folder_in)):
            if name.partition(".")[2] != f"{queue}.msg":
                continue
            taken = Path(self.data_folder_in) / f"{name}.taken"
            try:
                (Path(self.data_folder_in) / name).rename(taken)
            except FileNotFoundError:  # another reader was first
                continue
            text = bytes_to_str(taken.read_bytes())
            taken.unlink()
            return loads(text)
        raise Empty


class Transport(filesystem.Transport):
    """Named in settings as ``shared.file_broker:Transport://``."""

    Channel = Channel
