from django.apps import AppConfig


class ReadinessConfig(AppConfig):
    name = "readiness"

    def ready(self) -> None:
        # The Celery application is set up here, not in readiness/__init__.py, so that the pure
        # readiness.rating can be imported without Celery or Django.
        from readiness import celery, predictions, receivers  # noqa: F401
