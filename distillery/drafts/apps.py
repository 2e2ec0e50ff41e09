from django.apps import AppConfig


class DraftsConfig(AppConfig):
    name = "distillery.drafts"
    label = "drafts"
