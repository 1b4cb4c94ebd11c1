from django.urls import path

from installs.views import (
    bookings,
    calendars,
    certificates,
    fit,
    hours,
    receiving,
    sales,
    stock,
    terms,
)

urlpatterns: list = [
    path("hours/", hours.hours, name="hours"),
    path("hours/days-off/<int:pk>/end/", hours.day_off_end, name="day_off_end"),
    # the fit check
    path("fit/", fit.fit_check, name="fit_check"),
    path("fit/keep/", fit.fit_keep, name="fit_keep"),
    # bookings
    path("bookings/", bookings.bookings, name="bookings"),
    path("bookings/new/", bookings.booking_new, name="booking_new"),
    path("bookings/calendars/", calendars.calendars, name="calendars"),
    path("bookings/calendars/change/", calendars.calendar_change, name="calendar_change"),
    path("bookings/<int:pk>/", bookings.booking_detail, name="booking"),
    path("bookings/<int:pk>/move/", bookings.booking_move, name="booking_move"),
    path("bookings/<int:pk>/amend/", bookings.booking_amend, name="booking_amend"),
    path("bookings/<int:pk>/hold/", bookings.booking_hold, name="booking_hold"),
    path("bookings/<int:pk>/release/", bookings.booking_release, name="booking_release"),
    path("bookings/<int:pk>/done/", bookings.booking_done, name="booking_done"),
    path("bookings/<int:pk>/call-off/", bookings.booking_call_off, name="booking_call_off"),
    path("bookings/<int:pk>/confirm/", bookings.booking_confirm, name="booking_confirm"),
    path("bookings/<int:pk>/booking.ics", bookings.booking_ics, name="booking_ics"),
    path("calendar/<str:token>.ics", calendars.calendar_feed, name="calendar_feed"),
    # certificates
    path("certificates/<int:pk>/", certificates.certificate, name="certificate"),
    path(
        "certificates/<int:pk>/withdraw/",
        certificates.certificate_withdraw,
        name="certificate_withdraw",
    ),
    path("c/<str:token>/", certificates.certificate_public, name="certificate_public"),
    # stock
    path("stock/", stock.stock, name="stock"),
    path("stock/receive/", receiving.stock_receive, name="stock_receive"),
    path("stock/receive/sheet/", receiving.stock_receive_sheet, name="stock_receive_sheet"),
    path("stock/<int:pk>/", stock.stock_unit, name="stock_unit"),
    path("stock/<int:pk>/put-in/", stock.put_in, name="stock_put_in"),
    path("stock/<int:pk>/remove/", stock.remove, name="stock_remove"),
    path("stock/<int:pk>/move/", stock.move, name="stock_move"),
    path("stock/<int:pk>/return/", stock.return_to_maker, name="stock_return"),
    path("stock/<int:pk>/scrap/", stock.scrap, name="stock_scrap"),
    # terms
    path("terms/", terms.terms, name="terms"),
    path("terms/new/", terms.terms_new, name="terms_new"),
    path("tractors/<str:vin>/sell/", sales.tractor_sell, name="tractor_sell"),
]
