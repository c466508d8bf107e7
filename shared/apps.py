from django.apps import AppConfig


class SharedConfig(AppConfig):
    name = "shared"

    def ready(self) -> None:
        from shared import chain  # noqa: F401  (hears what the ledgers write)
