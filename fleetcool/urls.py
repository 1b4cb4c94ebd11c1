"""The root list of routes."""

from django.contrib import admin
from django.contrib.auth import views as auth
from django.urls import include, path

from fleetcool import views

urlpatterns = [
    path("", views.home, name="home"),
    path("sign-in/", auth.LoginView.as_view(redirect_authenticated_user=True), name="login"),
    path("sign-out/", auth.LogoutView.as_view(), name="logout"),
    path("my-units/", views.set_unit_system, name="set_unit_system"),
    path("language/", include("django.conf.urls.i18n")),
    path("back-office/", admin.site.urls),
    path("", include("reports.urls")),
]
