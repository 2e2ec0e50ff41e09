import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    initial = True

    dependencies = [
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='Entry',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('table', models.CharField(max_length=60)),
                ('row', models.CharField(max_length=40)),
                ('act', models.CharField(choices=[('written', 'Written'), ('removed', 'Removed'), ('taken in', 'Taken in')], max_length=10)),
                ('at', models.DateTimeField()),
                ('content', models.TextField(blank=True)),
            ],
            options={
                'indexes': [models.Index(fields=['table', 'row', 'id'], name='trail_of_row')],
            },
        ),
        migrations.CreateModel(
            name='Claim',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('first', models.BigIntegerField(unique=True)),
                ('last', models.BigIntegerField(unique=True)),
                ('way', models.CharField(blank=True, max_length=40)),
                ('person', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'constraints': [models.CheckConstraint(condition=models.Q(('last__gte', models.F('first'))), name='claim_of_some')],
            },
        ),
    ]
