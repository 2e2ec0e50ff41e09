"""Makes the four roles that a person may hold."""

from django.db import migrations

ROLES = ("staff", "manager", "officer", "administrator")


def make(apps, schema_editor):
    groups = apps.get_model("auth", "Group").objects.using(schema_editor.connection.alias)
    for name in ROLES:
        groups.get_or_create(name=name)


class Migration(migrations.Migration):
    dependencies = [("people", "0001_initial"), ("auth", "0012_alter_user_first_name_max_length")]

    operations = [migrations.RunPython(make, migrations.RunPython.noop)]
