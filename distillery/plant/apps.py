from django.apps import AppConfig


class PlantConfig(AppConfig):
    name = "distillery.plant"
    label = "plant"

    def ready(self) -> None:
        from distillery.plant import checks  # noqa: F401
        from distillery.plant.guards import plant_guards
        from distillery.trail.checks import watch

        watch(plant_guards)
