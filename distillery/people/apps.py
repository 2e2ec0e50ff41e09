from importlib import import_module

from django.apps import AppConfig


class PeopleConfig(AppConfig):
    name = "distillery.people"
    label = "people"

    def import_models(self) -> None:
        """What was done about people stands in a module of its own, above the people."""
        super().import_models()
        import_module("distillery.people.changes")

    def ready(self) -> None:
        from distillery.people.guards import people_guards
        from distillery.trail.checks import watch
        from distillery.trail.kept import keep

        watch(people_guards)
        keep("people.PersonChange")
