from django.apps import AppConfig


class CopiesConfig(AppConfig):
    name = "distillery.copies"
    label = "copies"

    def ready(self) -> None:
        from distillery.copies import checks  # noqa: F401
        from distillery.copies.drill import DRILL
        from distillery.jobs.kinds import register

        register(DRILL)
