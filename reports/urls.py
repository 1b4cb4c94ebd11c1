from django.urls import path

from reports.views import (
    concerns,
    customers,
    downloads,
    findings,
    quality,
    tractors,
    units,
    visit_log,
    visits,
)

urlpatterns = [
    path("findings/", findings.finding_list, name="findings"),
    path("findings/workbook/", downloads.fleet_workbook, name="fleet_workbook"),
    path("findings/<int:pk>/", findings.finding_detail, name="finding"),
    path("concerns/<int:pk>/acknowledge/", concerns.acknowledge, name="concern_acknowledge"),
    path("concerns/<int:pk>/put-off/", concerns.put_off, name="concern_put_off"),
    path("concerns/<int:pk>/book/", concerns.book, name="concern_book"),
    path("concerns/<int:pk>/found/", concerns.found, name="concern_found"),
    path("bookings/<int:pk>/packet/", downloads.job_packet, name="job_packet"),
    path("certificates/<int:pk>/pdf/", downloads.certificate_pdf, name="certificate_pdf"),
    path("visits/", visit_log.visit_day, name="visit_day"),
    path("visits/open/", visit_log.visit_open, name="visit_open"),
    path("visits/log/<path:serial>/", visit_log.visit_log, name="visit_log"),
    path("visits/<int:pk>/", visit_log.visit_detail, name="visit"),
    path("visits/<int:pk>/meanwhile/", visit_log.visit_meanwhile, name="visit_meanwhile"),
    path("visit-photos/<int:pk>/", visit_log.visit_photo, name="visit_photo"),
    path("refrigerant/workbook/", downloads.refrigerant_workbook, name="refrigerant_workbook"),
    path("visits/next/", visits.next_visits, name="next_visits"),
    path("quality/", quality.quality_page, name="quality"),
    path("units/", units.unit_list, name="units"),
    # A maker's serial may have a slash in it.
    path("units/<path:serial>/card/", downloads.unit_card, name="unit_card"),
    path("units/<path:serial>/", units.unit_detail, name="unit"),
    path("tractors/", tractors.tractor_list, name="tractors"),
    path("tractors/<str:vin>/", tractors.tractor_detail, name="tractor"),
    path("customers/", customers.customer_list, name="customers"),
    path("customers/<int:pk>/", customers.customer_detail, name="customer"),
]
