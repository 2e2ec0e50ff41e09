from django.apps import AppConfig


class HandoverConfig(AppConfig):
    name = "batches.handover"
    label = "handover"

    def ready(self) -> None:
        from batches.handover.guards import handover_guards
        from distillery.trail.checks import watch
        from distillery.trail.kept import keep_all_of

        watch(handover_guards, label="handover")
        keep_all_of("handover")
