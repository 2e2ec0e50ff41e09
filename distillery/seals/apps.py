"""The seals of the books: one digest over the heads of all chains, made with each piece of writing."""

from django.apps import AppConfig


class SealsConfig(AppConfig):
    name = "distillery.seals"
    label = "seals"

    def ready(self) -> None:
        from distillery.seals.guards import seal_guards
        from distillery.trail.checks import watch
        from distillery.trail.kept import keep

        keep("seals.PutBack")
        keep("seals.SealGap")
        watch(seal_guards)
