import django.db.models.deletion
import django.db.models.manager
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    initial = True

    dependencies = [
        ('plant', '0001_initial'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='Account',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('code', models.CharField(max_length=120, unique=True)),
                ('kind', models.CharField(choices=[('vessel', 'Vessel'), ('stock', 'Bottled stock'), ('source', 'Source'), ('removal', 'Removal'), ('loss', 'Known loss'), ('difference', 'Difference'), ('water', 'Water')], max_length=20)),
                ('name', models.CharField(max_length=120)),
                ('stage', models.CharField(blank=True, choices=[('wash', 'Wash'), ('low wines and feints', 'Low wines and feints'), ('new spirit', 'New spirit'), ('rectified and compounded', 'Rectified and compounded'), ('maturing in cask', 'Maturing in cask'), ('vatted and reduced', 'Vatted and reduced'), ('bottled under bond', 'Bottled under bond')], max_length=40)),
                ('floor_zero', models.BooleanField(default=False)),
                ('bottle_pure_ul', models.BigIntegerField(null=True)),
                ('vessel', models.OneToOneField(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='account', to='plant.vessel')),
            ],
        ),
        migrations.CreateModel(
            name='Hand',
            fields=[
                ('id', models.PositiveSmallIntegerField(default=1, primary_key=True, serialize=False)),
            ],
        ),
        migrations.CreateModel(
            name='Leg',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('line', models.PositiveIntegerField()),
                ('position', models.BigIntegerField()),
                ('stage', models.CharField(blank=True, choices=[('wash', 'Wash'), ('low wines and feints', 'Low wines and feints'), ('new spirit', 'New spirit'), ('rectified and compounded', 'Rectified and compounded'), ('maturing in cask', 'Maturing in cask'), ('vatted and reduced', 'Vatted and reduced'), ('bottled under bond', 'Bottled under bond')], max_length=40)),
                ('entry', models.CharField(choices=[('flow', 'Moved'), ('gauging', 'Found at the gauge'), ('loss', 'Known loss'), ('difference', 'Difference')], max_length=20)),
                ('happened_at', models.DateTimeField()),
                ('period', models.CharField(max_length=7)),
                ('pure_ul', models.BigIntegerField()),
                ('mass_g', models.BigIntegerField()),
                ('account', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='legs', to='ledger.account')),
                ('other', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='ledger.account')),
            ],
        ),
        migrations.CreateModel(
            name='Balance',
            fields=[
                ('account', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, primary_key=True, related_name='balance', serialize=False, to='ledger.account')),
                ('balance_ul', models.BigIntegerField()),
                ('mass_g', models.BigIntegerField()),
                ('last_leg', models.BigIntegerField()),
            ],
        ),
        migrations.CreateModel(
            name='CloseRequest',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('period', models.CharField(max_length=7)),
                ('asked_at', models.DateTimeField()),
                ('last_number', models.BigIntegerField()),
                ('remark', models.TextField(blank=True)),
                ('person', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
        ),
        migrations.CreateModel(
            name='Closing',
            fields=[
                ('number', models.PositiveIntegerField(primary_key=True, serialize=False)),
                ('period', models.CharField(max_length=7, unique=True)),
                ('begins', models.DateTimeField()),
                ('ends', models.DateTimeField(unique=True)),
                ('agreed_at', models.DateTimeField()),
                ('last_number', models.BigIntegerField()),
                ('last_seal', models.CharField(max_length=64)),
                ('books_seal', models.CharField(blank=True, max_length=64)),
                ('previous_digest', models.CharField(max_length=64)),
                ('digest', models.CharField(max_length=64, unique=True)),
                ('person', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('request', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='closing', to='ledger.closerequest')),
            ],
        ),
        migrations.CreateModel(
            name='ClosingBalance',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('pure_ul', models.BigIntegerField()),
                ('mass_g', models.BigIntegerField()),
                ('account', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='ledger.account')),
                ('closing', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='balances', to='ledger.closing')),
            ],
        ),
        migrations.CreateModel(
            name='Enquiry',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('number', models.CharField(max_length=20, unique=True)),
                ('key', models.CharField(max_length=200, unique=True)),
                ('kind', models.CharField(max_length=20)),
                ('opened_at', models.DateTimeField()),
                ('record_kind', models.CharField(max_length=40)),
                ('record_number', models.CharField(max_length=40)),
                ('operation', models.CharField(max_length=120)),
                ('happened_at', models.DateTimeField()),
                ('period', models.CharField(max_length=7)),
                ('difference_ul', models.BigIntegerField(default=0)),
                ('uncertainty_ul', models.BigIntegerField(default=0)),
                ('threshold_ul', models.BigIntegerField(default=0)),
                ('in_ul', models.BigIntegerField(default=0)),
                ('basis', models.TextField(blank=True)),
                ('said', models.TextField()),
                ('opened_by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['pk'],
            },
        ),
        migrations.CreateModel(
            name='ComparisonOutcome',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('period', models.CharField(max_length=7)),
                ('at', models.DateTimeField()),
                ('after', models.TextField(blank=True)),
                ('error', models.CharField(blank=True, max_length=100)),
            ],
            options={
                'ordering': ['pk'],
                'indexes': [models.Index(fields=['period'], name='comparison_by_period')],
            },
        ),
        migrations.CreateModel(
            name='EnquiryRun',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('serial', models.PositiveIntegerField()),
                ('record_kind', models.CharField(max_length=40)),
                ('record_number', models.CharField(max_length=40)),
                ('happened_at', models.DateTimeField()),
                ('period', models.CharField(max_length=7)),
                ('charge_ul', models.BigIntegerField()),
                ('enquiry', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='runs', to='ledger.enquiry')),
            ],
            options={
                'ordering': ['enquiry', 'serial', 'happened_at'],
            },
        ),
        migrations.CreateModel(
            name='Measurement',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(max_length=60)),
                ('method', models.CharField(max_length=20)),
                ('pure_ul', models.BigIntegerField()),
                ('mass_g', models.BigIntegerField()),
                ('litres20_ul', models.BigIntegerField()),
                ('percent20_millionths', models.BigIntegerField()),
                ('uncertainty_ul', models.BigIntegerField()),
                ('rule', models.CharField(max_length=60)),
                ('raw', models.TextField()),
                ('chain', models.TextField(blank=True)),
                ('role', models.CharField(blank=True, max_length=10)),
                ('happened_at', models.DateTimeField(null=True)),
                ('position', models.BigIntegerField(null=True)),
                ('book_ul', models.BigIntegerField(null=True)),
                ('line', models.PositiveIntegerField(null=True)),
                ('account', models.ForeignKey(db_index=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='ledger.account')),
                ('giver', models.ForeignKey(db_index=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='ledger.account')),
                ('taker', models.ForeignKey(db_index=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='ledger.account')),
            ],
            managers=[
                ('everything', django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name='Gauge',
            fields=[
            ],
            options={
                'proxy': True,
                'indexes': [],
                'constraints': [],
            },
            bases=('ledger.measurement',),
        ),
        migrations.CreateModel(
            name='MeasuredFlow',
            fields=[
            ],
            options={
                'proxy': True,
                'indexes': [],
                'constraints': [],
            },
            bases=('ledger.measurement',),
        ),
        migrations.CreateModel(
            name='Head',
            fields=[
                ('id', models.PositiveSmallIntegerField(default=1, primary_key=True, serialize=False)),
                ('last_number', models.BigIntegerField(default=0)),
                ('last_seal', models.CharField(max_length=64)),
            ],
            options={
                'constraints': [models.CheckConstraint(condition=models.Q(('id', 1)), name='one_head')],
            },
        ),
        migrations.CreateModel(
            name='RunningBalance',
            fields=[
                ('leg', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, primary_key=True, related_name='running', serialize=False, to='ledger.leg')),
                ('happened_at', models.DateTimeField()),
                ('position', models.BigIntegerField()),
                ('balance_ul', models.BigIntegerField()),
                ('mass_g', models.BigIntegerField()),
            ],
        ),
        migrations.CreateModel(
            name='Movement',
            fields=[
                ('id', models.BigIntegerField(primary_key=True, serialize=False)),
                ('kind', models.CharField(choices=[('operation', 'Operation'), ('correction', 'Correction'), ('restatement', 'Restated gauging'), ('explanation', 'Explanation')], max_length=20)),
                ('operation', models.CharField(max_length=40)),
                ('happened_at', models.DateTimeField()),
                ('true_at', models.DateTimeField(null=True)),
                ('written_at', models.DateTimeField()),
                ('period', models.CharField(max_length=7)),
                ('record_kind', models.CharField(max_length=40)),
                ('record_number', models.CharField(max_length=40)),
                ('moment', models.CharField(blank=True, max_length=40)),
                ('reason', models.TextField(blank=True)),
                ('slot', models.BigIntegerField()),
                ('record_digest', models.CharField(blank=True, max_length=64)),
                ('judged_against', models.CharField(blank=True, max_length=60)),
                ('judged_ul', models.BigIntegerField(null=True)),
                ('judged_parts', models.TextField(blank=True)),
                ('previous_seal', models.CharField(max_length=64)),
                ('seal', models.CharField(max_length=64, unique=True)),
                ('corrects', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='corrections', to='ledger.movement')),
                ('person', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('restates', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='restatements', to='ledger.gauge')),
                ('second', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
        ),
        migrations.AddField(
            model_name='leg',
            name='movement',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='legs', to='ledger.movement'),
        ),
        migrations.AddField(
            model_name='measurement',
            name='movement',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='measurements', to='ledger.movement'),
        ),
        migrations.CreateModel(
            name='Figure',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('line', models.PositiveIntegerField()),
                ('name', models.CharField(max_length=60)),
                ('like', models.CharField(max_length=120)),
                ('beside', models.CharField(blank=True, max_length=40)),
                ('field', models.CharField(max_length=60)),
                ('unit', models.CharField(blank=True, max_length=20)),
                ('value_millionths', models.BigIntegerField()),
                ('expected_millionths', models.BigIntegerField(null=True)),
                ('spread_millionths', models.BigIntegerField(null=True)),
                ('parts', models.TextField(default='{}')),
                ('movement', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='figures', to='ledger.movement')),
            ],
        ),
        migrations.CreateModel(
            name='EnquiryEvent',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('serial', models.PositiveIntegerField()),
                ('what', models.CharField(choices=[('note', 'Note'), ('checked', 'Checked'), ('asked', 'Reading asked for'), ('cause', 'Thought to be the cause'), ('tied', 'Tied with another enquiry'), ('proposed', 'Ending proposed'), ('agreed', 'Agreed to by a second person'), ('sent back', 'Sent back'), ('reopened', 'Opened again'), ('taken back', 'Explanation taken back'), ('found again', 'Found again'), ('put right', 'Put right by a correction'), ('gone', 'No longer there'), ('covers', 'Runs it covers')], max_length=20)),
                ('at', models.DateTimeField()),
                ('text', models.TextField(blank=True)),
                ('checked', models.TextField(blank=True)),
                ('ending', models.CharField(blank=True, choices=[('loss', 'A known loss'), ('measuring', 'Measuring: a reading was wrong and cannot be taken again'), ('right', 'The figures are right, and nothing is missing'), ('set off', 'Set off against the enquiry it is tied with'), ('not found', 'Cause not found'), ('corrected', 'A reading was wrong and has been put right by a correction')], max_length=20)),
                ('cause', models.CharField(blank=True, max_length=60)),
                ('happened_at', models.DateTimeField(null=True)),
                ('product', models.CharField(blank=True, max_length=120)),
                ('pure_ul', models.BigIntegerField(default=0)),
                ('percent_millionths', models.BigIntegerField(null=True)),
                ('record', models.CharField(blank=True, max_length=40)),
                ('left_ul', models.BigIntegerField(null=True)),
                ('enquiry', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='events', to='ledger.enquiry')),
                ('other', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='ledger.enquiry')),
                ('person', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('movement', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='ledger.movement')),
            ],
            options={
                'ordering': ['enquiry', 'serial'],
            },
        ),
        migrations.CreateModel(
            name='Duty',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('removal', models.CharField(max_length=40)),
                ('tax_type', models.CharField(blank=True, max_length=10)),
                ('litres20_ul', models.BigIntegerField()),
                ('percent_millionths', models.BigIntegerField()),
                ('pure_ul', models.BigIntegerField()),
                ('rate_pence_hundredths', models.BigIntegerField(null=True)),
                ('pence', models.BigIntegerField(null=True)),
                ('source', models.TextField()),
                ('movement', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='duties', to='ledger.movement')),
            ],
        ),
        migrations.CreateModel(
            name='StageMonth',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('period', models.CharField(max_length=7)),
                ('stage', models.CharField(max_length=40)),
                ('in_ul', models.BigIntegerField()),
                ('out_ul', models.BigIntegerField()),
                ('loss_ul', models.BigIntegerField()),
                ('difference_ul', models.BigIntegerField()),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('stage', 'period'), name='stage_month_once')],
            },
        ),
        migrations.CreateModel(
            name='StockPeriod',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('code', models.CharField(max_length=7, unique=True)),
                ('first_day', models.DateField(unique=True)),
                ('last_day', models.DateField(unique=True)),
                ('source', models.TextField()),
                ('entered_at', models.DateTimeField()),
                ('previous_digest', models.CharField(max_length=64)),
                ('digest', models.CharField(max_length=64, unique=True)),
                ('person', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
        ),
        migrations.CreateModel(
            name='AccountMonth',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('period', models.CharField(max_length=7)),
                ('stage', models.CharField(blank=True, max_length=40)),
                ('pure_ul', models.BigIntegerField()),
                ('mass_g', models.BigIntegerField()),
                ('account', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='ledger.account')),
            ],
            options={
                'indexes': [models.Index(fields=['period'], name='account_month_by_period')],
                'constraints': [models.UniqueConstraint(fields=('account', 'period', 'stage'), name='account_month_once')],
            },
        ),
        migrations.AddIndex(
            model_name='closerequest',
            index=models.Index(fields=['period', 'id'], name='close_request_by_period'),
        ),
        migrations.AddConstraint(
            model_name='closingbalance',
            constraint=models.UniqueConstraint(fields=('closing', 'account'), name='closing_balance_once'),
        ),
        migrations.AddIndex(
            model_name='enquiry',
            index=models.Index(fields=['period'], name='enquiry_by_period'),
        ),
        migrations.AddIndex(
            model_name='enquiry',
            index=models.Index(fields=['record_kind', 'record_number'], name='enquiry_by_record'),
        ),
        migrations.AddConstraint(
            model_name='enquiryrun',
            constraint=models.UniqueConstraint(fields=('enquiry', 'serial', 'record_kind', 'record_number'), name='enquiry_run_once'),
        ),
        migrations.AddConstraint(
            model_name='enquiryrun',
            constraint=models.CheckConstraint(condition=models.Q(('charge_ul__gte', 0)), name='enquiry_run_share'),
        ),
        migrations.AddField(
            model_name='runningbalance',
            name='account',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='ledger.account'),
        ),
        migrations.AddIndex(
            model_name='movement',
            index=models.Index(fields=['record_kind', 'record_number'], name='movement_by_record'),
        ),
        migrations.AddIndex(
            model_name='movement',
            index=models.Index(fields=['period', 'happened_at'], name='movement_by_period'),
        ),
        migrations.AddIndex(
            model_name='movement',
            index=models.Index(fields=['happened_at', 'id'], name='movement_in_time'),
        ),
        migrations.AddIndex(
            model_name='movement',
            index=models.Index(fields=['operation', 'id'], name='movement_by_operation'),
        ),
        migrations.AddIndex(
            model_name='movement',
            index=models.Index(condition=models.Q(('kind', 'operation'), _negated=True), fields=['kind', 'id'], name='movement_unusual'),
        ),
        migrations.AddIndex(
            model_name='account',
            index=models.Index(fields=['-kind', 'code'], name='account_by_kind'),
        ),
        migrations.AddIndex(
            model_name='movement',
            index=models.Index(condition=models.Q(('true_at__isnull', False)), fields=['true_at'], name='movement_carried'),
        ),
        migrations.AddIndex(
            model_name='movement',
            index=models.Index(condition=models.Q(('corrects__isnull', False)), fields=['period'], name='movement_corrections'),
        ),
        migrations.AddConstraint(
            model_name='movement',
            constraint=models.UniqueConstraint(condition=models.Q(('corrects__isnull', False)), fields=('corrects',), name='corrected_once'),
        ),
        migrations.AddConstraint(
            model_name='leg',
            constraint=models.UniqueConstraint(fields=('movement', 'line'), name='leg_line_once'),
        ),
        migrations.AddConstraint(
            model_name='leg',
            constraint=models.CheckConstraint(condition=models.Q(('mass_g', 0), ('pure_ul', 0), _negated=True), name='leg_moves_something'),
        ),
        migrations.AddIndex(
            model_name='measurement',
            index=models.Index(condition=models.Q(('giver__isnull', True)), fields=['account', 'happened_at', 'position'], name='gauge_by_account'),
        ),
        migrations.AddIndex(
            model_name='measurement',
            index=models.Index(condition=models.Q(('giver__isnull', False)), fields=['taker'], name='flow_by_taker'),
        ),
        migrations.AddConstraint(
            model_name='measurement',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('account__isnull', False), ('book_ul__isnull', False), ('happened_at__isnull', False), ('position__isnull', False), ('giver__isnull', True), ('line__isnull', True), ('taker__isnull', True)), models.Q(('giver__isnull', False), ('line__isnull', False), ('role', ''), ('taker__isnull', False), ('account__isnull', True), ('book_ul__isnull', True), ('happened_at__isnull', True), ('position__isnull', True)), _connector='OR'), name='of_a_vessel_or_of_a_flow'),
        ),
        migrations.AddConstraint(
            model_name='measurement',
            constraint=models.CheckConstraint(condition=models.Q(('giver__isnull', False), models.Q(('mass_g__gte', 0), ('pure_ul__gte', 0)), _connector='OR'), name='gauge_not_negative'),
        ),
        migrations.AddConstraint(
            model_name='measurement',
            constraint=models.UniqueConstraint(condition=models.Q(('giver__isnull', False)), fields=('movement', 'line'), name='flow_line_once'),
        ),
        migrations.AddIndex(
            model_name='figure',
            index=models.Index(fields=['name', 'like'], name='figure_by_kind'),
        ),
        migrations.AddConstraint(
            model_name='figure',
            constraint=models.UniqueConstraint(fields=('movement', 'line'), name='figure_line_once'),
        ),
        migrations.AddConstraint(
            model_name='enquiryevent',
            constraint=models.UniqueConstraint(fields=('enquiry', 'serial'), name='enquiry_event_once'),
        ),
        migrations.AddConstraint(
            model_name='enquiryevent',
            constraint=models.CheckConstraint(condition=models.Q(('serial__gte', 1)), name='enquiry_events_from_one'),
        ),
        migrations.AddIndex(
            model_name='runningbalance',
            index=models.Index(fields=['account', 'happened_at', 'position', 'leg'], name='running_in_order'),
        ),
    ]
