from django.apps import AppConfig
from django.core.signals import request_started


class RulesConfig(AppConfig):
    name = "distillery.rules"
    label = "rules"

    def ready(self) -> None:
        from distillery.rules.in_force import let_go

        request_started.connect(let_go, dispatch_uid="rules.let_go")
