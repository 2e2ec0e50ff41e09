from importlib import import_module

from django.apps import AppConfig


class PlantConfig(AppConfig):
    name = "distillery.plant"
    label = "plant"

    def import_models(self) -> None:
        """The tables of the measuring, recipes and places stand in modules of their own, above those of the vessels."""
        super().import_models()
        import_module("distillery.plant.metrology")
        import_module("distillery.plant.recipes")
        import_module("distillery.plant.places")

    def ready(self) -> None:
        from distillery.plant import checks  # noqa: F401
        from distillery.plant.guards import plant_guards
        from distillery.trail.checks import watch

        watch(plant_guards)
