from django.apps import AppConfig


class PlantConfig(AppConfig):
    name = "distillery.plant"
    label = "plant"
