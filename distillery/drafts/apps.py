from django.apps import AppConfig


class DraftsConfig(AppConfig):
    name = "distillery.drafts"
    label = "drafts"

    def ready(self) -> None:
        from distillery.drafts.handed_on import keep_drafts
        from distillery.pen.pcs import ENROLLED

        ENROLLED.append(keep_drafts)
