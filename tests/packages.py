"""See to the system packages: `python3 tests/packages.py` for the tests', with `venv` for what a first install needs.

It runs before anything is installed, so it uses the standard library alone. As root on a Debian system it installs what
is missing; anywhere else it says exactly what to install.
"""

import os
import shutil
import subprocess
import sys
from importlib.util import find_spec
from pathlib import Path


def has_any(*programs: str) -> bool:
    return any(shutil.which(program) for program in programs)


def missing_for_tests() -> list[str]:
    """Return the Debian packages that the suite's real servers, browser and PDF checks come from."""
    there = {
        "redis-server": has_any("redis-server"),
        "postgresql": has_any("initdb") or any(Path("/usr/lib/postgresql").glob("*/bin/initdb")),
        "chromium": has_any("chromium", "chromium-browser", "google-chrome"),
        "poppler-utils": has_any("pdftoppm") and has_any("pdftotext"),
    }
    return [package for package, is_there in there.items() if not is_there]


def missing_for_venv() -> list[str]:
    """Return Debian's own package for virtual environments, which its Python comes without."""
    return [] if find_spec("ensurepip") else [f"python{sys.version_info.major}.{sys.version_info.minor}-venv"]


def install(packages: list[str]) -> int:
    """Install packages as root, or say how; return an exit code."""
    command = ["apt-get", "install", "-y", "--no-install-recommends", *packages]
    if os.geteuid() != 0 or not has_any("apt-get"):
        print(f"Please install first: {' '.join(packages)}\nOn Debian or Ubuntu: sudo {' '.join(command)}")
        return 1
    print(f"Installing system packages: {' '.join(packages)}", flush=True)
    quiet = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    for step in (["apt-get", "update"], command):
        done = subprocess.run(step, env=quiet, stdin=subprocess.DEVNULL, capture_output=True, text=True)
        if done.returncode:
            print(f"{' '.join(step)} failed:\n{done.stdout}{done.stderr}")
            return 1
    return 0


if __name__ == "__main__":
    if sys.version_info < (3, 11):  # noqa: UP036
        sys.exit(
            f"Holdair needs Python 3.11 or newer, this is {sys.version.split()[0]}. Try: make PYTHON=python3.11 ..."
        )
    wanted = missing_for_venv() if sys.argv[1:] == ["venv"] else missing_for_tests()
    sys.exit(install(wanted) if wanted else 0)
