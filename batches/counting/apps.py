from django.apps import AppConfig


class CountingConfig(AppConfig):
    name = "batches.counting"
    label = "counting"

    def ready(self) -> None:
        from batches.counting.guards import counting_guards
        from batches.counting.told import counted_in, seen_in, takes_in
        from distillery.trail.checks import watch
        from distillery.trail.kept import keep_all_of
        from ledger.statements.basis import COUNTED, SEEN, TAKES

        watch(counting_guards, label="counting")
        keep_all_of("counting")
        COUNTED.append(counted_in)
        SEEN.append(seen_in)
        TAKES.append(takes_in)
