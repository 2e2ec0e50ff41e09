from django.apps import AppConfig
from django.core.signals import request_started


class ClockConfig(AppConfig):
    name = "distillery.clock"
    label = "clock"

    def ready(self) -> None:
        from distillery.clock import checks  # noqa: F401
        from distillery.clock.guards import clock_guards
        from distillery.clock.reading import ask_again
        from distillery.trail.checks import watch
        from distillery.trail.kept import keep_all_of

        watch(clock_guards)
        keep_all_of("clock")
        request_started.connect(ask_again, dispatch_uid="clock.ask_again")
