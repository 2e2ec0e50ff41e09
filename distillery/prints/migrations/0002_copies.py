import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
        ('prints', '0001_initial'),
    ]

    operations = [
        migrations.AddField(
            model_name='print',
            name='copy',
            field=models.PositiveIntegerField(default=0),
        ),
        migrations.AddIndex(
            model_name='print',
            index=models.Index(fields=['document', 'number'], name='print_by_document'),
        ),
        migrations.CreateModel(
            name='IssuedSheet',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('serial', models.PositiveBigIntegerField(unique=True)),
                ('kind', models.CharField(max_length=40)),
                ('title', models.CharField(max_length=200)),
                ('lines', models.BooleanField(default=False)),
                ('place', models.PositiveIntegerField()),
                ('of', models.PositiveIntegerField()),
                ('issued_to', models.CharField(max_length=150)),
                ('at', models.DateTimeField()),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
        ),
        migrations.CreateModel(
            name='SheetReturned',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('what', models.CharField(choices=[('used', 'Used'), ('blank', 'Still blank'), ('spoilt', 'Spoilt'), ('lost', 'Lost')], max_length=10)),
                ('at', models.DateTimeField()),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('sheet', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='returned', to='prints.issuedsheet')),
            ],
        ),
    ]
