"""Settings of the test suite: the project's own, with quick passwords and no files of the real deployment."""

import os
import tempfile

os.environ.setdefault("HOLDAIR_VAR", tempfile.mkdtemp(prefix="holdair-tests-"))
os.environ.setdefault("HOLDAIR_SECRET_KEY", "only-for-the-test-suite")

from readiness.settings import *  # noqa: E402, F403

PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
AXES_ENABLED = False
