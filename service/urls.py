from django.urls import path

from service.views import commissioning, refrigerant

urlpatterns: list = [
    # commissioning
    path("bookings/<int:pk>/begin/", commissioning.commissioning_begin, name="commissioning_begin"),
    path(
        "installs/<int:pk>/begin/",
        commissioning.commissioning_begin_install,
        name="commissioning_begin_install",
    ),
    path("commissioning/<int:pk>/", commissioning.commissioning, name="commissioning"),
    path(
        "commissioning/<int:pk>/certificate/",
        commissioning.commissioning_certificate,
        name="commissioning_certificate",
    ),
    path(
        "commissioning/<int:pk>/<str:step>/",
        commissioning.commissioning_step,
        name="commissioning_step",
    ),
    path(
        "commissioning/<int:pk>/<str:step>/photo/",
        commissioning.commissioning_photo,
        name="commissioning_photo",
    ),
    path(
        "commissioning/<int:pk>/<str:step>/let-pass/",
        commissioning.commissioning_let_pass,
        name="commissioning_let_pass",
    ),
    path("photos/<int:pk>/", commissioning.photo, name="photo"),
    # refrigerant
    path("refrigerant/", refrigerant.cylinders, name="cylinders"),
    path("refrigerant/new/", refrigerant.cylinder_new, name="cylinder_new"),
    path("refrigerant/balance/", refrigerant.refrigerant_balance, name="refrigerant_balance"),
    path("refrigerant/units/<path:serial>/", refrigerant.unit, name="unit_refrigerant"),
    path("refrigerant/<int:pk>/", refrigerant.cylinder, name="cylinder"),
    path("refrigerant/<int:pk>/<str:act>/", refrigerant.cylinder_act, name="cylinder_act"),
]
