from django.apps import AppConfig
from django.db.models.signals import post_migrate, pre_migrate


class TrailConfig(AppConfig):
    name = "distillery.trail"
    label = "trail"

    def ready(self) -> None:
        from distillery.trail import checks, migrating
        from distillery.trail.kept import keep, keep_all_of

        # The password and the time of signing on are on no page, so they stay out of the trail.
        keep("people.Person", only=("username", "first_name", "last_name", "is_active"))
        keep("trail.Claim", told=False)
        keep("people.Person_groups")
        keep("auth.Group")
        keep_all_of("plant")
        keep_all_of("rules")
        checks.watch(checks.site_guards)
        pre_migrate.connect(migrating.before, sender=self)
        post_migrate.connect(migrating.after, sender=self)
