from django.apps import AppConfig


class PenConfig(AppConfig):
    name = "distillery.pen"
    label = "pen"

    def ready(self) -> None:
        from django.contrib.auth.signals import user_logged_in

        from distillery.pen.guards import pen_guards
        from distillery.pen.lasting import begin
        from distillery.trail.checks import watch
        from distillery.trail.kept import keep

        keep("pen.EnrolledPC")
        keep("pen.PinChosen")
        keep("pen.SecurityKey")
        keep("pen.DatedPass")
        keep("pen.OnShift")
        watch(pen_guards, label="pen")
        user_logged_in.connect(begin)
