from django.apps import AppConfig


class DistilleryConfig(AppConfig):
    name = "distillery"
    label = "distillery"

    def ready(self) -> None:
        from django.core.checks import register
        from django.db.backends.signals import connection_created

        from distillery.database import history, kept_open
        from distillery.database.owner_only import rights

        register(rights)
        connection_created.connect(history.look, dispatch_uid="distillery.database.history")
        kept_open.watch()
