from django.apps import AppConfig


class BatchesConfig(AppConfig):
    name = "batches"

    def ready(self) -> None:
        from batches import checks  # noqa: F401
