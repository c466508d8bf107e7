"""Settings of the test suite: the project's own, with quick passwords and no files of the real deployment."""

import atexit
import os
import shutil
import tempfile

if "HOLDAIR_VAR" not in os.environ:
    os.environ["HOLDAIR_VAR"] = tempfile.mkdtemp(prefix="holdair-tests-")
    atexit.register(shutil.rmtree, os.environ["HOLDAIR_VAR"], ignore_errors=True)
os.environ.setdefault("HOLDAIR_SECRET_KEY", "only-for-the-test-suite")

from readiness.settings import *  # noqa: E402, F403
from readiness.settings import DATABASES, STATIC_ROOT, VAR_DIR  # noqa: E402

PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
AXES_ENABLED = False

if DATABASES["default"]["ENGINE"].endswith("sqlite3"):
    # A file, as in the real deployment: every thread has its own connection and waits for the write lock. The
    # in-memory default shares one connection between threads and would hide, or make up, locking trouble.
    DATABASES["default"]["TEST"] = {"NAME": str(VAR_DIR / f"test-{os.getpid()}.sqlite3")}
STATIC_ROOT.mkdir(exist_ok=True)  # WhiteNoise warns about a folder that is not there
