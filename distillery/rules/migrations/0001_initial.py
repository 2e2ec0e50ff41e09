from django.db import migrations, models


class Migration(migrations.Migration):

    initial = True

    dependencies = [
    ]

    operations = [
        migrations.CreateModel(
            name='CaskBand',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('from_day', models.DateField()),
                ('warehouse', models.CharField(blank=True, max_length=40)),
                ('cask_kind', models.CharField(blank=True, max_length=40)),
                ('low_millionths_a_year', models.BigIntegerField()),
                ('high_millionths_a_year', models.BigIntegerField()),
                ('source', models.TextField()),
            ],
            options={
                'ordering': ['from_day', 'warehouse', 'cask_kind'],
            },
        ),
        migrations.CreateModel(
            name='DutyRate',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('from_day', models.DateField()),
                ('to_day', models.DateField(blank=True, null=True)),
                ('strength_from_millionths', models.BigIntegerField()),
                ('strength_to_millionths', models.BigIntegerField()),
                ('pence_hundredths_per_lpa', models.BigIntegerField()),
                ('tax_type', models.CharField(blank=True, max_length=10)),
                ('source', models.TextField()),
            ],
            options={
                'ordering': ['from_day', 'strength_from_millionths'],
            },
        ),
        migrations.CreateModel(
            name='GravityFactor',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('table', models.CharField(max_length=60)),
                ('from_day', models.DateField()),
                ('drop_from_thousandths', models.BigIntegerField()),
                ('drop_to_thousandths', models.BigIntegerField()),
                ('factor_millionths', models.BigIntegerField()),
                ('source', models.TextField()),
            ],
            options={
                'ordering': ['table', 'from_day', 'drop_from_thousandths'],
            },
        ),
        migrations.CreateModel(
            name='LossCause',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(max_length=60, unique=True)),
                ('from_day', models.DateField()),
                ('source', models.TextField(blank=True)),
            ],
            options={
                'ordering': ['name'],
            },
        ),
        migrations.CreateModel(
            name='ReviewThreshold',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('operation', models.CharField(max_length=40)),
                ('vessel', models.CharField(blank=True, max_length=40)),
                ('from_day', models.DateField()),
                ('usual_millionths', models.BigIntegerField(default=0)),
                ('usual_half_width_millionths', models.BigIntegerField(default=0)),
                ('spread_millionths', models.BigIntegerField(default=0)),
                ('threshold_millionths', models.BigIntegerField()),
                ('floor_ul', models.BigIntegerField()),
                ('source', models.TextField()),
            ],
            options={
                'ordering': ['operation', 'vessel', 'from_day'],
            },
        ),
        migrations.CreateModel(
            name='RoundingRule',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(max_length=60)),
                ('from_day', models.DateField()),
                ('step_millionths', models.BigIntegerField()),
                ('way', models.CharField(max_length=10)),
                ('source', models.TextField()),
            ],
            options={
                'ordering': ['name', 'from_day'],
            },
        ),
        migrations.CreateModel(
            name='UsualFigure',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(max_length=60)),
                ('from_day', models.DateField()),
                ('unit', models.CharField(blank=True, max_length=20)),
                ('expected_millionths', models.BigIntegerField(blank=True, null=True)),
                ('spread_millionths', models.BigIntegerField()),
                ('source', models.TextField()),
            ],
            options={
                'ordering': ['name', 'from_day'],
            },
        ),
    ]
