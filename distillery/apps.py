from django.apps import AppConfig


class DistilleryConfig(AppConfig):
    name = "distillery"
    label = "distillery"
