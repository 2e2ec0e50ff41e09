from django.apps import AppConfig


class RecallsConfig(AppConfig):
    name = "batches.recalls"
    label = "recalls"

    def ready(self) -> None:
        from batches.recalls.guards import recalls_guards
        from distillery.trail.checks import watch
        from distillery.trail.kept import keep_all_of

        watch(recalls_guards, label="recalls")
        keep_all_of("recalls")
