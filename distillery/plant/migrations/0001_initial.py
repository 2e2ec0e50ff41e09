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
            name='Vessel',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('code', models.CharField(max_length=40, unique=True)),
                ('name', models.CharField(max_length=80)),
                ('kind', models.CharField(choices=[('washback', 'Washback'), ('still', 'Still'), ('receiver', 'Receiver'), ('vat', 'Vat'), ('tank', 'Tank'), ('cask', 'Cask')], max_length=20)),
                ('stage', models.CharField(choices=[('wash', 'Wash'), ('low wines and feints', 'Low wines and feints'), ('new spirit', 'New spirit'), ('rectified and compounded', 'Rectified and compounded'), ('maturing in cask', 'Maturing in cask'), ('vatted and reduced', 'Vatted and reduced'), ('bottled under bond', 'Bottled under bond')], max_length=40)),
                ('purpose', models.CharField(blank=True, choices=[('low wines', 'Low wines'), ('feints', 'Feints'), ('spirit', 'Spirit'), ('heads and tails', 'Heads and tails')], max_length=20)),
                ('capacity_ul', models.BigIntegerField(blank=True, null=True)),
                ('order', models.PositiveIntegerField(default=0)),
            ],
            options={
                'ordering': ['order', 'code'],
            },
        ),
        migrations.CreateModel(
            name='Instrument',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('code', models.CharField(max_length=40, unique=True)),
                ('measures', models.CharField(max_length=40)),
                ('unit', models.CharField(max_length=40)),
                ('works_by', models.CharField(choices=[('floating', 'Floats in the liquid'), ('oscillation', 'Oscillating tube')], default='floating', max_length=20)),
                ('density_basis', models.CharField(blank=True, choices=[('vacuum', 'Density in vacuum'), ('air', 'Density in air')], max_length=10)),
                ('resolution_millionths', models.BigIntegerField()),
                ('standard_uncertainty_millionths', models.BigIntegerField()),
                ('reference_millicelsius', models.IntegerField(blank=True, null=True)),
                ('glass_expansion_per_celsius_billionths', models.IntegerField(default=25000)),
            ],
            options={
                'ordering': ['code'],
                'constraints': [models.CheckConstraint(condition=models.Q(('standard_uncertainty_millionths__gt', 0), ('resolution_millionths__gte', 0)), name='instrument_has_an_uncertainty')],
            },
        ),
        migrations.CreateModel(
            name='Certificate',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('entered_at', models.DateTimeField()),
                ('number', models.CharField(max_length=60)),
                ('issuer', models.TextField()),
                ('issued_on', models.DateField()),
                ('from_day', models.DateField()),
                ('standard_uncertainty_millionths', models.BigIntegerField(null=True)),
                ('person', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('instrument', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='certificates', to='plant.instrument')),
            ],
            options={
                'ordering': ['from_day', 'id'],
            },
        ),
        migrations.CreateModel(
            name='InstrumentUse',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('entered_at', models.DateTimeField()),
                ('from_day', models.DateField()),
                ('instrument', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='uses', to='plant.instrument')),
                ('person', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('vessel', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='instrument_uses', to='plant.vessel')),
            ],
            options={
                'ordering': ['from_day', 'id'],
            },
        ),
        migrations.CreateModel(
            name='ObscurationFound',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('entered_at', models.DateTimeField()),
                ('from_at', models.DateTimeField()),
                ('percent_millionths', models.BigIntegerField()),
                ('standard_uncertainty_millionths', models.BigIntegerField()),
                ('determined_on', models.DateField()),
                ('source', models.TextField()),
                ('person', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('vessel', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='obscurations', to='plant.vessel')),
            ],
            options={
                'ordering': ['from_at', 'id'],
            },
        ),
        migrations.CreateModel(
            name='Recipe',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recipe', models.CharField(max_length=40)),
                ('botanical', models.CharField(max_length=60)),
                ('milligrams_per_lpa', models.BigIntegerField()),
            ],
            options={
                'ordering': ['recipe', 'id'],
                'constraints': [models.UniqueConstraint(fields=('recipe', 'botanical'), name='botanical_once_in_a_recipe')],
            },
        ),
        migrations.CreateModel(
            name='VesselCalibration',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('entered_at', models.DateTimeField()),
                ('from_day', models.DateField()),
                ('share_millionths', models.BigIntegerField()),
                ('calibration_millicelsius', models.IntegerField(null=True)),
                ('shell_expansion_per_celsius_billionths', models.IntegerField(null=True)),
                ('source', models.TextField()),
                ('person', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('vessel', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='calibrations', to='plant.vessel')),
            ],
            options={
                'ordering': ['from_day', 'id'],
            },
        ),
        migrations.CreateModel(
            name='Cask',
            fields=[
                ('vessel', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, primary_key=True, related_name='cask', serialize=False, to='plant.vessel')),
                ('kind', models.CharField(max_length=40)),
                ('fill_number', models.PositiveIntegerField(default=1)),
                ('nominal_ul', models.BigIntegerField()),
                ('warehouse', models.CharField(blank=True, max_length=40)),
                ('tare_g', models.BigIntegerField(blank=True, null=True)),
                ('filled_at', models.DateTimeField(blank=True, null=True)),
            ],
            options={
                'indexes': [models.Index(fields=['warehouse', 'vessel'], name='cask_by_warehouse'), models.Index(fields=['kind', 'vessel'], name='cask_by_kind')],
                'constraints': [models.CheckConstraint(condition=models.Q(('nominal_ul__gt', 0)), name='cask_has_a_size')],
            },
        ),
        migrations.CreateModel(
            name='CalibrationPoint',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('dip_um', models.BigIntegerField()),
                ('volume_ul', models.BigIntegerField()),
                ('vessel', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='calibration', to='plant.vessel')),
            ],
            options={
                'ordering': ['vessel', 'dip_um'],
                'constraints': [models.UniqueConstraint(fields=('vessel', 'dip_um'), name='one_volume_per_dip'), models.CheckConstraint(condition=models.Q(('dip_um__gte', 0), ('volume_ul__gte', 0)), name='calibration_not_negative')],
            },
        ),
        migrations.CreateModel(
            name='CertificatePoint',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('reading_millionths', models.BigIntegerField()),
                ('correction_millionths', models.BigIntegerField()),
                ('certificate', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='points', to='plant.certificate')),
            ],
            options={
                'ordering': ['certificate', 'reading_millionths'],
                'constraints': [models.UniqueConstraint(fields=('certificate', 'reading_millionths'), name='one_correction_a_reading')],
            },
        ),
        migrations.AddConstraint(
            model_name='certificate',
            constraint=models.CheckConstraint(condition=models.Q(('standard_uncertainty_millionths__isnull', True), ('standard_uncertainty_millionths__gte', 0), _connector='OR'), name='certificate_uncertainty_not_negative'),
        ),
        migrations.AddConstraint(
            model_name='certificate',
            constraint=models.CheckConstraint(condition=models.Q(('from_day__gte', models.F('issued_on'))), name='certificate_after_its_issue'),
        ),
        migrations.AddConstraint(
            model_name='obscurationfound',
            constraint=models.CheckConstraint(condition=models.Q(('standard_uncertainty_millionths__gte', 0)), name='obscuration_uncertainty_not_negative'),
        ),
        migrations.AddConstraint(
            model_name='vesselcalibration',
            constraint=models.CheckConstraint(condition=models.Q(('share_millionths__gte', 0), ('share_millionths__lt', 1000000)), name='calibration_share_is_a_share'),
        ),
    ]
