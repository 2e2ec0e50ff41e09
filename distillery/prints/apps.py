from django.apps import AppConfig


class PrintsConfig(AppConfig):
    name = "distillery.prints"
    label = "prints"

    def ready(self) -> None:
        from distillery.prints.guards import print_guards
        from distillery.trail.checks import watch
        from distillery.trail.kept import keep

        # A print taken out of the register must be missed; who looks at changes does not look for prints.
        keep("prints.Print", told=False)
        keep("prints.IssuedSheet")
        keep("prints.SheetReturned")
        watch(print_guards, label="prints")
