"""A deployment's own settings, with one thing more: its workers know the jobs of these tests."""

from readiness.settings import *  # noqa: F403

CELERY_IMPORTS = ["tests.services.jobs"]
