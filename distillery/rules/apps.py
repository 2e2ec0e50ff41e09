from importlib import import_module

from django.apps import AppConfig
from django.core.signals import request_started


class RulesConfig(AppConfig):
    name = "distillery.rules"
    label = "rules"

    def import_models(self) -> None:
        """What a site says of itself stands in a module of its own, beside the rules."""
        super().import_models()
        import_module("distillery.rules.site_facts")

    def ready(self) -> None:
        from distillery.rules.guards import rules_guards
        from distillery.rules.in_force import let_go
        from distillery.trail.checks import watch
        from distillery.trail.kept import keep

        watch(rules_guards)
        # Its rows are told with the figures that they are about.
        keep("rules.Entered", told=False)
        keep("rules.FigureAsked")
        keep("rules.FigureAnswered")
        request_started.connect(let_go, dispatch_uid="rules.let_go")
