"""What was done about people, by whom and why."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('people', '0002_roles'),
    ]

    operations = [
        migrations.CreateModel(
            name='PersonChange',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('what', models.CharField(choices=[('made', 'Made'), ('roles', 'Other roles'), ('name', 'Other name shown'), ('ended', 'May no longer sign on'), ('back', 'May sign on again'), ('password', 'New password')], max_length=10)),
                ('roles', models.CharField(blank=True, max_length=80)),
                ('reason', models.TextField(blank=True)),
                ('at', models.DateTimeField()),
                ('by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('person', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='changes', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['id'],
            },
        ),
    ]
