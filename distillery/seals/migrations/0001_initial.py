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
            name='BooksSeal',
            fields=[
                ('number', models.PositiveBigIntegerField(primary_key=True, serialize=False)),
                ('made_at', models.DateTimeField()),
                ('movement', models.BigIntegerField()),
                ('movement_seal', models.CharField(max_length=64)),
                ('entry', models.BigIntegerField()),
                ('entry_digest', models.CharField(max_length=64)),
                ('previous_seal', models.CharField(max_length=64)),
                ('seal', models.CharField(max_length=64, unique=True)),
            ],
        ),
        migrations.CreateModel(
            name='PutBack',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('at', models.DateTimeField()),
                ('copy', models.CharField(max_length=200)),
                ('number', models.PositiveBigIntegerField()),
            ],
        ),
        migrations.CreateModel(
            name='SealGap',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('noted_number', models.PositiveBigIntegerField(unique=True)),
                ('noted_seal', models.CharField(max_length=64)),
                ('noted_on', models.DateField()),
                ('after', models.PositiveBigIntegerField()),
                ('reason', models.TextField()),
                ('recorded_at', models.DateTimeField()),
                ('person', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('second', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'constraints': [models.CheckConstraint(condition=models.Q(('person', models.F('second')), _negated=True), name='seal_gap_by_two'), models.CheckConstraint(condition=models.Q(('after__lt', models.F('noted_number'))), name='seal_gap_of_some')],
            },
        ),
    ]
