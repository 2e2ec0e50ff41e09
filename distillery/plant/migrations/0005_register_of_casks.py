"""What stands of a cask in a register: wood, owner, marks, place; rows of warehouses, and keyholders."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


def as_listed(apps, schema_editor):
    """Where each cask lies now is where the plant's list has it, until a record says otherwise."""
    casks = apps.get_model("plant", "Cask").objects.using(schema_editor.connection.alias)
    casks.update(listed_warehouse=models.F("warehouse"))


class Migration(migrations.Migration):

    dependencies = [
        ('plant', '0004_recipe_versions'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='Keyholder',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('entered_at', models.DateTimeField()),
                ('warehouse', models.CharField(max_length=40)),
                ('name', models.CharField(max_length=80)),
                ('key', models.CharField(max_length=40)),
                ('from_day', models.DateField()),
                ('until_day', models.DateField(null=True)),
            ],
            options={
                'ordering': ['warehouse', 'id'],
            },
        ),
        migrations.CreateModel(
            name='WarehouseRow',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('entered_at', models.DateTimeField()),
                ('warehouse', models.CharField(max_length=40)),
                ('row', models.CharField(max_length=20)),
                ('tiers', models.PositiveIntegerField()),
            ],
            options={
                'ordering': ['warehouse', 'id'],
            },
        ),
        migrations.AddField(
            model_name='cask',
            name='first_warehoused_on',
            field=models.DateField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name='cask',
            name='head_distillery',
            field=models.CharField(blank=True, default='', max_length=80),
        ),
        migrations.AddField(
            model_name='cask',
            name='head_number',
            field=models.CharField(blank=True, default='', max_length=40),
        ),
        migrations.AddField(
            model_name='cask',
            name='head_year',
            field=models.PositiveIntegerField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name='cask',
            name='listed_owner',
            field=models.CharField(blank=True, default='', max_length=80),
        ),
        migrations.AddField(
            model_name='cask',
            name='listed_row',
            field=models.CharField(blank=True, default='', max_length=20),
        ),
        migrations.AddField(
            model_name='cask',
            name='listed_tier',
            field=models.CharField(blank=True, default='', max_length=20),
        ),
        migrations.AddField(
            model_name='cask',
            name='listed_warehouse',
            field=models.CharField(blank=True, default='', max_length=40),
        ),
        migrations.AddField(
            model_name='cask',
            name='owner',
            field=models.CharField(blank=True, default='', max_length=80),
        ),
        migrations.AddField(
            model_name='cask',
            name='row',
            field=models.CharField(blank=True, default='', max_length=20),
        ),
        migrations.AddField(
            model_name='cask',
            name='seen_leaking_at',
            field=models.DateTimeField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name='cask',
            name='tier',
            field=models.CharField(blank=True, default='', max_length=20),
        ),
        migrations.AddField(
            model_name='cask',
            name='wood',
            field=models.CharField(blank=True, default='', max_length=60),
        ),
        migrations.AddIndex(
            model_name='cask',
            index=models.Index(fields=['warehouse', 'row', 'tier', 'vessel'], name='cask_by_place'),
        ),
        migrations.AddIndex(
            model_name='cask',
            index=models.Index(fields=['wood', 'vessel'], name='cask_by_wood'),
        ),
        migrations.AddIndex(
            model_name='cask',
            index=models.Index(fields=['owner', 'vessel'], name='cask_by_owner'),
        ),
        migrations.AddIndex(
            model_name='cask',
            index=models.Index(fields=['filled_at'], name='cask_by_filling'),
        ),
        migrations.AddIndex(
            model_name='cask',
            index=models.Index(condition=models.Q(('seen_leaking_at__isnull', False)), fields=['seen_leaking_at'], name='cask_seen_leaking'),
        ),
        migrations.AddField(
            model_name='keyholder',
            name='person',
            field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='warehouserow',
            name='person',
            field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddIndex(
            model_name='keyholder',
            index=models.Index(fields=['warehouse', 'name'], name='keyholder_of_a_warehouse'),
        ),
        migrations.AddConstraint(
            model_name='keyholder',
            constraint=models.CheckConstraint(condition=models.Q(('until_day__isnull', True), ('until_day__gte', models.F('from_day')), _connector='OR'), name='key_given_back_after_it_was_taken'),
        ),
        migrations.AddIndex(
            model_name='warehouserow',
            index=models.Index(fields=['warehouse', 'row'], name='row_of_a_warehouse'),
        ),
        migrations.RunPython(as_listed, migrations.RunPython.noop),
    ]
