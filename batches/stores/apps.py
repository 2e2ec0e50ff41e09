from django.apps import AppConfig


class StoresConfig(AppConfig):
    name = "batches.stores"
    label = "stores"

    def ready(self) -> None:
        from batches.stores.guards import stores_guards
        from distillery.trail.checks import watch
        from distillery.trail.kept import keep

        watch(stores_guards, label="stores")
        keep("stores.StockEntry")
