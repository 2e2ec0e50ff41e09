"""Recipes have versions: dated, with who and why. What is there is the first version of each."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models
from django.utils import timezone


def first_versions(apps, schema_editor):
    using = schema_editor.connection.alias
    recipes = apps.get_model("plant", "Recipe").objects.using(using)
    versions = apps.get_model("plant", "RecipeVersion").objects.using(using)
    for recipe in recipes.order_by("recipe").values_list("recipe", flat=True).distinct():
        versions.create(recipe=recipe, version=1, why="as the plant's table has it", entered_at=timezone.now())


class Migration(migrations.Migration):

    dependencies = [
        ('plant', '0003_casks_by_warehouse_and_kind'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='RecipeVersion',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('entered_at', models.DateTimeField()),
                ('recipe', models.CharField(max_length=40)),
                ('version', models.PositiveIntegerField()),
                ('from_at', models.DateTimeField(null=True)),
                ('why', models.TextField()),
            ],
            options={
                'ordering': ['recipe', 'version'],
            },
        ),
        migrations.AlterModelOptions(
            name='recipe',
            options={'ordering': ['recipe', 'version', 'id']},
        ),
        migrations.RemoveConstraint(
            model_name='recipe',
            name='botanical_once_in_a_recipe',
        ),
        migrations.AddField(
            model_name='recipe',
            name='version',
            field=models.PositiveIntegerField(default=1),
        ),
        migrations.AddConstraint(
            model_name='recipe',
            constraint=models.UniqueConstraint(fields=('recipe', 'version', 'botanical'), name='botanical_once_in_a_version'),
        ),
        migrations.AddField(
            model_name='recipeversion',
            name='person',
            field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddConstraint(
            model_name='recipeversion',
            constraint=models.UniqueConstraint(fields=('recipe', 'version'), name='version_of_a_recipe_once'),
        ),
        migrations.RunPython(first_versions, migrations.RunPython.noop),
    ]
