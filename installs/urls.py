from django.urls import path

urlpatterns: list = [
    # the fit check
    # bookings
    # stock
]
