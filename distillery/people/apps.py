from django.apps import AppConfig


class PeopleConfig(AppConfig):
    name = "distillery.people"
    label = "people"
