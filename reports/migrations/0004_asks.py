import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("installs", "0002_one_tractor_at_a_time"),
        ("reports", "0003_finding_picture"),
    ]

    operations = [
        migrations.CreateModel(
            name="Ask",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "measure",
                    models.CharField(
                        choices=[
                            ("gauges", "Both gauges again"),
                            ("pipe_temperatures", "Gauges and pipe temperatures"),
                            ("weighed_charge", "The whole charge, recovered and weighed"),
                            ("rest_and_load", "Voltage at rest and under load"),
                            ("nights", "A month of nights logged"),
                        ],
                        max_length=20,
                        verbose_name="what to measure",
                    ),
                ),
                ("by", models.DateField(verbose_name="by")),
                ("bits", models.FloatField(null=True, verbose_name="what it would tell, bits")),
                ("doubt_bits", models.FloatField(null=True, verbose_name="doubt there is, bits")),
                (
                    "cause",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("refrigerant_leak", "Refrigerant leak"),
                            ("battery_wear", "Worn battery bank"),
                            ("wiring_resistance", "Bad joint or cable"),
                            ("condenser_airflow", "Condenser short of air"),
                            ("restriction", "Restriction in the circuit"),
                            ("overcharge", "Overcharge"),
                            ("doubtful_instrument", "Doubtful gauge"),
                        ],
                        max_length=20,
                        verbose_name="likeliest cause",
                    ),
                ),
                ("probability", models.FloatField(null=True, verbose_name="probability")),
                (
                    "customer",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="asks",
                        to="installs.customer",
                        verbose_name="customer",
                    ),
                ),
                (
                    "run",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="asks",
                        to="reports.screenrun",
                    ),
                ),
                (
                    "tractor",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="asks",
                        to="installs.tractor",
                        verbose_name="tractor",
                    ),
                ),
                (
                    "unit",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="asks",
                        to="installs.unit",
                        verbose_name="unit",
                    ),
                ),
            ],
            options={
                "verbose_name": "measurement asked for",
                "verbose_name_plural": "measurements asked for",
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            (
                                "measure__in",
                                [
                                    "gauges",
                                    "pipe_temperatures",
                                    "weighed_charge",
                                    "rest_and_load",
                                    "nights",
                                ],
                            )
                        ),
                        name="ask_measure",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("bits", None),
                                ("cause", ""),
                                ("doubt_bits", None),
                                ("probability", None),
                            ),
                            models.Q(
                                ("bits__isnull", False),
                                ("doubt_bits__isnull", False),
                                ("probability__isnull", False),
                                ("bits__gte", 0),
                                ("bits__lte", models.F("doubt_bits")),
                                (
                                    "cause__in",
                                    [
                                        "refrigerant_leak",
                                        "battery_wear",
                                        "wiring_resistance",
                                        "condenser_airflow",
                                        "restriction",
                                        "overcharge",
                                        "doubtful_instrument",
                                    ],
                                ),
                                ("probability__gte", 0),
                                ("probability__lte", 1),
                            ),
                            _connector="OR",
                        ),
                        name="ask_in_numbers_or_for_want_of_readings",
                    ),
                    models.UniqueConstraint(
                        models.F("run"),
                        models.F("unit"),
                        models.F("measure"),
                        name="ask_once_a_run",
                    ),
                ],
            },
        ),
    ]
