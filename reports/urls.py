from django.urls import path

from reports.views import customers, downloads, findings, tractors, units

urlpatterns = [
    path("findings/", findings.finding_list, name="findings"),
    path("findings/workbook/", downloads.fleet_workbook, name="fleet_workbook"),
    path("units/", units.unit_list, name="units"),
    # A maker's serial may have a slash in it.
    path("units/<path:serial>/card/", downloads.unit_card, name="unit_card"),
    path("units/<path:serial>/", units.unit_detail, name="unit"),
    path("tractors/", tractors.tractor_list, name="tractors"),
    path("tractors/<str:vin>/", tractors.tractor_detail, name="tractor"),
    path("customers/", customers.customer_list, name="customers"),
    path("customers/<int:pk>/", customers.customer_detail, name="customer"),
]
