"""The root list of routes."""

from django.contrib import admin
from django.contrib.auth import views as auth
from django.contrib.auth.decorators import login_not_required
from django.urls import include, path
from django.views.i18n import set_language

from fleetcool import views

urlpatterns = [
    path("", views.home, name="home"),
    path("sign-in/", auth.LoginView.as_view(redirect_authenticated_user=True), name="login"),
    path("sign-out/", auth.LogoutView.as_view(), name="logout"),
    path("my-units/", views.set_unit_system, name="set_unit_system"),
    path("language/", login_not_required(set_language), name="set_language"),
    path("worker.js", views.service_worker, name="service_worker"),
    path("no-network/", views.no_network, name="no_network"),
    path("back-office/", admin.site.urls),
    path("", include("installs.urls")),
    path("", include("service.urls")),
    path("", include("reports.urls")),
]
