from django.apps import AppConfig


class DistilleryConfig(AppConfig):
    name = "distillery"
    label = "distillery"

    def ready(self) -> None:
        from django.core.checks import register

        from distillery.owner_only import rights

        register(rights)
