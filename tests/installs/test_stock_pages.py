"""The stock in the browser: the list, a unit's page and what is done there, receiving, a sale."""

from datetime import date, timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from django.utils import timezone

from installs.models import StockMove, Unit
from tests.books import write_workbook
from tests.factories import (
    BookingFactory,
    CustomerFactory,
    InstallFactory,
    TractorFactory,
    UnitFactory,
    UnitModelFactory,
    YardFactory,
)

pytestmark = pytest.mark.django_db

EVERYONE = ("olga", "tomas", "clara", "osman", "frida")


@pytest.fixture
def yard():
    return YardFactory(customer=None, name="Shop yard")


@pytest.fixture
def model():
    return UnitModelFactory(name="M5-12")


@pytest.fixture
def unit(yard, model):
    return UnitFactory(serial="K-7", lot="L7", yard=yard, model=model)


@pytest.fixture
def office(client, olga):
    client.force_login(olga)
    return client


def serials(response) -> list[str]:
    return [unit.serial for unit, _where in response.context["rows"]]


class TestTheList:
    @pytest.fixture
    def stock(self, unit, yard, model):
        """One free, one held, one in a truck, one scrapped."""
        held = UnitFactory(serial="K-8", yard=yard, model=model)
        BookingFactory(bay__yard=yard, unit=held, tractor__truck_number="T-8")
        InstallFactory(unit=UnitFactory(serial="K-9"), tractor__truck_number="T-9")
        UnitFactory(serial="K-10", left_stock="scrapped")

    @pytest.mark.parametrize(
        ("asked", "found"),
        [
            ({}, ["K-7", "K-8"]),
            ({"standing": "free"}, ["K-7"]),
            ({"standing": "held"}, ["K-8"]),
            ({"standing": "in_truck"}, ["K-9"]),
            ({"standing": "scrapped"}, ["K-10"]),
            ({"standing": "all"}, ["K-10", "K-7", "K-8", "K-9"]),
            ({"q": "k-9"}, ["K-9"]),
            ({"q": "T-8"}, ["K-8"]),
            ({"q": "k-9", "standing": "in_stock"}, []),
            ({"q": "L7"}, ["K-7"]),
        ],
    )
    def test_it_is_narrowed(self, office, stock, asked, found):
        assert serials(office.get(reverse("stock"), asked)) == found

    def test_by_yard_and_by_model(self, office, stock, yard, model):
        other = UnitFactory(yard=YardFactory(customer=None, name="South yard"))
        assert serials(office.get(reverse("stock"), {"yard": yard.pk})) == ["K-7", "K-8"]
        assert serials(office.get(reverse("stock"), {"model": other.model.pk})) == [other.serial]

    def test_it_counts_by_yard_and_model(self, office, stock):
        counts = office.get(reverse("stock")).context["counts"]
        assert [(row.yard, row.model, row.in_stock, row.held, row.free) for row in counts] == [
            ("Shop yard", "M5-12", 2, 1, 1)
        ]

    def test_more_units_cost_no_more_queries(
        self, office, unit, yard, model, django_assert_num_queries
    ):
        def asked() -> int:
            with django_assert_num_queries(7):
                return len(serials(office.get(reverse("stock"))))

        assert asked() == 1
        for _ in range(20):
            UnitFactory(yard=yard, model=model)
        assert asked() == 21

    def test_nonsense_in_the_address_is_no_error(self, office, stock):
        asked = {"yard": "x", "standing": "lost", "page": "-3"}
        assert office.get(reverse("stock"), asked).status_code == 200


@pytest.mark.parametrize("person", EVERYONE)
class TestWhoMayDoWhat:
    MAY = {
        "stock_put_in": ("olga", "tomas", "osman"),
        "stock_remove": ("olga", "tomas", "osman"),
        "stock_move": ("olga", "tomas", "osman"),
        "stock_return": ("olga", "osman"),
        "stock_scrap": ("olga", "osman"),
    }

    @pytest.mark.parametrize("name", MAY)
    def test_an_act(self, client, request, unit, person, name):
        client.force_login(request.getfixturevalue(person))
        response = client.post(reverse(name, args=[unit.pk]), {})
        assert response.status_code == (200 if person in self.MAY[name] else 403)
        assert not StockMove.objects.exists()

    def test_receiving_a_sheet(self, client, request, person):
        client.force_login(request.getfixturevalue(person))
        response = client.post(reverse("stock_receive_sheet"), {})
        assert response.status_code == (200 if person in ("olga", "osman") else 403)

    def test_selling_a_truck(self, client, request, person):
        client.force_login(request.getfixturevalue(person))
        response = client.post(reverse("tractor_sell", args=[TractorFactory().vin]), {})
        assert response.status_code == (200 if person in ("olga", "osman") else 403)


class TestAUnitsPage:
    def act(self, client, name, unit, **details):
        return client.post(reverse(name, args=[unit.pk]), details, follow=True)

    def test_it_offers_what_can_become_of_the_unit(self, office, unit):
        response = office.get(reverse("stock_unit", args=[unit.pk]))
        routes = [form.route for form in response.context["forms"]]
        assert routes == ["stock_put_in", "stock_move", "stock_return", "stock_scrap"]

    def test_a_technician_is_not_offered_what_is_the_offices(self, client, tomas, unit):
        client.force_login(tomas)
        response = client.get(reverse("stock_unit", args=[unit.pk]))
        routes = [form.route for form in response.context["forms"]]
        assert routes == ["stock_put_in", "stock_move"]

    def test_a_unit_goes_into_a_truck_and_out_again(self, office, unit, yard):
        tractor = TractorFactory(truck_number="T-1")
        today = timezone.localdate().isoformat()
        response = self.act(office, "stock_put_in", unit, tractor="t-1", on_day=today)
        assert "in truck T-1" in response.content.decode()
        assert unit.installs.get().tractor == tractor
        response = self.act(office, "stock_remove", unit, on_day=today, to_yard=yard.pk, why="x")
        assert "removed from a truck, in stock at Shop yard" in response.content.decode()
        assert [move.kind for move in response.context["moves"]] == ["installed", "removed"]

    def test_the_last_six_of_a_vin_name_a_truck(self, office, unit):
        tractor = TractorFactory()
        today = timezone.localdate().isoformat()
        self.act(office, "stock_put_in", unit, tractor=tractor.vin[-6:].lower(), on_day=today)
        assert unit.installs.get().tractor == tractor

    def test_a_number_that_two_trucks_have_asks_for_the_vin(self, office, unit):
        one, other = TractorFactory(truck_number="9"), TractorFactory(truck_number="9")
        response = self.act(office, "stock_put_in", unit, tractor="9", on_day="2026-01-01")
        page = response.content.decode()
        assert one.vin in page and other.vin in page
        assert not unit.installs.exists()

    def test_a_refusal_stands_at_the_form_and_keeps_what_was_typed(self, office, unit):
        TractorFactory(truck_number="T-1")
        ahead = (timezone.localdate() + timedelta(days=9)).isoformat()
        page = self.act(office, "stock_put_in", unit, tractor="T-1", on_day=ahead).content.decode()
        assert "still to come" in page and f'value="{ahead}"' in page

    def test_taking_out_and_scrapping_carry_their_cautions(self, office, unit):
        page = office.get(reverse("stock_unit", args=[unit.pk])).content.decode()
        assert "recovers the charge before a unit is scrapped" in page
        InstallFactory(unit=unit)
        page = office.get(reverse("stock_unit", args=[unit.pk])).content.decode()
        assert "Disconnect the batteries before any cable is undone" in page

    def test_a_move_and_a_return_are_written_down(self, office, unit):
        south = YardFactory(customer=None, name="South yard")
        self.act(office, "stock_move", unit, yard=south.pk)
        self.act(office, "stock_return", unit, why="noisy fan")
        assert list(unit.stock_moves.values_list("kind", "yard__name", "why")) == [
            ("moved", "South yard", ""),
            ("returned", "South yard", "noisy fan"),
        ]

    def test_sent_twice_it_is_done_once(self, office, unit):
        self.act(office, "stock_scrap", unit, why="burnt")
        response = self.act(office, "stock_scrap", unit, why="burnt")
        assert "was scrapped" in response.content.decode()
        assert StockMove.objects.count() == 1


class TestReceiving:
    def scan(self, client, yard, model, *lines):
        form = {"yard": yard.pk, "model": model.pk, "lot": "L7", "made_on": "2026-09-01"}
        return client.post(reverse("stock_receive"), form | {"scans": "\r\n".join(lines)})

    def test_all_good_lines_are_taken_and_the_next_batch_begins_alike(self, office, yard, model):
        response = self.scan(office, yard, model, "K-1", "K-2", "")
        assert response.status_code == 302
        form = office.get(response.url).context["form"]
        assert (form["yard"].value(), form["lot"].value()) == (str(yard.pk), "L7")
        assert not form["scans"].value()
        assert set(Unit.objects.values_list("serial", "made_on")) == {
            ("K-1", date(2026, 9, 1)),
            ("K-2", date(2026, 9, 1)),
        }

    def test_bad_lines_stay_in_the_box_and_are_named(self, office, yard, model):
        InstallFactory(unit=UnitFactory(serial="K-1", model=model))
        response = self.scan(office, yard, model, "K-1", "K-2", "K-2")
        page = response.content.decode()
        assert "Line 1, <strong>K-1</strong>" in page and "Line 3, <strong>K-2</strong>" in page
        assert "1 unit received, 2 not taken." in page
        assert response.context["form"]["scans"].value() == "K-1\nK-2"
        assert response.context["form"]["model"].value() == str(model.pk)

    def test_without_a_model_nothing_is_taken_and_nothing_is_lost(self, office, yard):
        form = {"yard": yard.pk, "model": "", "scans": "K-1"}
        response = office.post(reverse("stock_receive"), form)
        assert response.context["form"]["scans"].value() == "K-1"
        assert not Unit.objects.exists()

    def test_a_customers_yard_cannot_be_chosen(self, office, model):
        assert self.scan(office, YardFactory(), model, "K-1").context["form"].errors["yard"]

    def sheet(self, client, yard, name: str, content: bytes):
        upload = SimpleUploadedFile(name, content)
        form = {"sheet-yard": yard.pk, "sheet-sheet": upload}
        return client.post(reverse("stock_receive_sheet"), form).content.decode()

    def test_a_sheet_tells_what_became_of_its_rows(self, office, yard, model):
        rows = b"serial,model,lot,made_on\nK-1,M5-12,L1,2026-09-01\nK-2,K99,L1,2026-09-01\n"
        page = self.sheet(office, yard, "delivery 7.csv", rows)
        assert "1 unit taken into Shop yard" in page
        assert "Row 3: model: no unit model “K99”" in page
        assert Unit.objects.get().yard == yard

    def test_a_workbook_is_read_too(self, office, yard, model, tmp_path):
        rows = [{"serial": "K-1", "model": "M5-12"}, {"serial": 1002, "model": "M5-12"}]
        path = write_workbook(tmp_path / "book.xlsx", {"units": rows})
        page = self.sheet(office, yard, "book.xlsx", path.read_bytes())
        assert "2 units taken into Shop yard" in page
        assert Unit.objects.filter(serial="1002", yard=yard).exists()

    @pytest.mark.parametrize(
        ("name", "content", "words"),
        [
            ("book.xlsx", b"no workbook", "book.xlsx is not a workbook"),
            ("book.pdf", b"%PDF", "Give a workbook"),
            ("units.csv", b"serial,model\nK\xff,M5-12\n", "not in UTF-8"),
            ("units.csv", b"x" * 5_000_001, "larger than 5 MB"),
            ("units.csv", b"", "The submitted file is empty"),
        ],
    )
    def test_what_is_no_sheet_is_refused_in_words(self, office, yard, name, content, words):
        page = self.sheet(office, yard, name, content)
        assert words in page
        assert "/tmp" not in page
        assert not Unit.objects.exists()

    def test_a_sheet_without_serials_is_refused_in_words(self, office, yard):
        assert "serial, by which its rows are known" in self.sheet(
            office, yard, "units.csv", b"model\nM5-12\n"
        )


class TestSelling:
    def test_the_office_writes_a_sale_down(self, office):
        install = InstallFactory()
        buyer = CustomerFactory(name="Birch Haulage")
        address = reverse("tractor_sell", args=[install.tractor.vin.lower()])
        assert install.unit.serial in office.get(address).content.decode()
        form = {"customer": buyer.pk, "on_day": "2025-03-01", "truck_number": "B-5"}
        page = office.post(address, form, follow=True).content.decode()
        assert "Birch Haulage" in page and "Truck B-5" in page
        assert install.unit.installs.current().get().customer == buyer

    def test_a_refusal_keeps_what_was_typed(self, office):
        install = InstallFactory()
        address = reverse("tractor_sell", args=[install.tractor.vin])
        form = {"customer": CustomerFactory().pk, "on_day": "2024-03-01", "truck_number": "B-5"}
        page = office.post(address, form).content.decode()
        assert "was put in on 2024-03-04" in page and 'value="B-5"' in page

    def test_the_seller_cannot_be_chosen(self, office):
        tractor = TractorFactory()
        address = reverse("tractor_sell", args=[tractor.vin])
        form = {"customer": tractor.customer.pk, "on_day": "2025-03-01"}
        assert office.post(address, form).context["form"].errors["customer"]
