from django.apps import AppConfig


class JobsConfig(AppConfig):
    name = "distillery.jobs"
    label = "jobs"
