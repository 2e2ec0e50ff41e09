from django.apps import AppConfig


class LedgerConfig(AppConfig):
    name = "ledger"

    def ready(self) -> None:
        from ledger import checks  # noqa: F401
