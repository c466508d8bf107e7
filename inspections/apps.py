from django.apps import AppConfig


class InspectionsConfig(AppConfig):
    name = "inspections"

    def ready(self) -> None:
        from inspections import sealing  # noqa: F401  (says what belongs to a signed inspection)
