from django.db import migrations, models


class Migration(migrations.Migration):

    initial = True

    dependencies = [
    ]

    operations = [
        migrations.CreateModel(
            name='BooksClock',
            fields=[
                ('id', models.PositiveSmallIntegerField(default=1, primary_key=True, serialize=False)),
                ('offset_days', models.IntegerField()),
                ('set_at', models.DateTimeField()),
                ('why', models.CharField(max_length=200)),
            ],
            options={
                'constraints': [models.CheckConstraint(condition=models.Q(('id', 1)), name='one_clock'), models.CheckConstraint(condition=models.Q(('offset_days__gte', -73000), ('offset_days__lte', 73000), models.Q(('offset_days', 0), _negated=True)), name='clock_away_by_whole_days')],
            },
        ),
    ]
