"""Long tables in the background: looked at, taken in after a yes, whole or not at all; prices by number."""

from __future__ import annotations

import datetime as dt
import io
from decimal import Decimal

import openpyxl
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils import timezone

from common.sheet_files import MOST_ROWS, csv_bytes, read_table
from jobs.forms import import_run
from jobs.forms.import_run import table_run_ask, table_work
from jobs.models import LogEntry, Part, PriceChange, Supplier, TableRun

PARTS, PRICES = "/tables/parts/import/", "/tables/prices/import/"
HEADS = ("Kind", "Stock code", "Name", "Cost to the shop")


def parts(count, cost="2.50"):
    return [("Other", f"S{n}", f"Part {n}", cost) for n in range(count)]


def send(client, path, rows, heads=HEADS, name="table.csv"):
    return client.post(path, {"file": SimpleUploadedFile(name, csv_bytes([heads, *rows]))})


@pytest.fixture(autouse=True)
def queue(monkeypatch):
    """Keep what is put into the queue; ``work`` does it as the worker would."""
    waiting: list[int] = []
    monkeypatch.setattr(import_run, "_enqueue", waiting.append)
    return waiting


@pytest.fixture
def work(queue, django_capture_on_commit_callbacks):
    """Return a call that posts something and then works on what was put into the queue."""

    def run(act):
        with django_capture_on_commit_callbacks(execute=True):
            answer = act()
        for pk in [queue.pop(0) for _ in range(len(queue))]:
            table_work(pk, clock=timezone.now)
        return answer

    return run


class TestLong:
    def test_a_look_a_yes_and_all_is_there(self, client_of, erin, shop, work):
        client = client_of(erin)
        answer = work(lambda: send(client, PARTS, parts(MOST_ROWS + 1)))
        where = answer.headers["Location"]
        assert f"<dt>New</dt><dd>{MOST_ROWS + 1}</dd>" in client.get(where).text
        assert not Part.objects.exists()
        work(lambda: client.post(where))
        assert "All of it is stored" in client.get(where).text
        assert Part.objects.of_shop(shop).count() == MOST_ROWS + 1
        assert (
            PriceChange.objects.filter(new=Decimal("2.50"), old=None, way="import").count() == MOST_ROWS + 1
        )
        assert LogEntry.objects.get(verb="parts imported").detail == f"{MOST_ROWS + 1} added, 0 changed"
        assert bytes(TableRun.objects.get().data) == b""  # the file is not kept
        work(lambda: client.post(where))  # a second yes
        assert LogEntry.objects.filter(verb="parts imported").count() == 1

    def test_one_bad_row_keeps_all_out_and_is_named(self, client_of, erin, work):
        client, rows = client_of(erin), parts(MOST_ROWS + 1)
        rows[400] = ("Other", "S400", "Part 400", "a lot")
        where = work(lambda: send(client, PARTS, rows)).headers["Location"]
        page = client.get(where).text
        assert "Row 402" in page
        assert "Cost to the shop" in page
        assert "Import</button>" not in page
        work(lambda: client.post(where))
        assert not Part.objects.exists()

    def test_it_tells_how_far_it_is(self, client_of, erin, shop):
        run = TableRun.objects.create(
            shop=shop, kind="parts", name="p.csv", state="running", progress_fraction=0.42,
            doing="4,200 of 10,000 rows read", at=timezone.now(), touched_at=timezone.now(), by=erin,
        )  # fmt: skip
        page = client_of(erin).get(f"/tables/runs/{run.pk}/", headers={"HX-Request": "true"}).text
        assert 'value="42"' in page
        assert "4,200 of 10,000 rows read" in page
        assert 'hx-trigger="every 1s"' in page

    @pytest.mark.parametrize(
        ("data", "words"),
        [(b"Kind\n" + b"other\n" * 10_001, "At most 10,000 rows"), (b"x" * (8 * 2**20 + 1), "at most 8 MB")],
    )
    def test_limits_are_named(self, client_of, erin, work, data, words):
        client = client_of(erin)
        answer = work(lambda: client.post(PARTS, {"file": SimpleUploadedFile("x.csv", data)}))
        page = client.get(answer.headers["Location"]) if answer.status_code == 302 else answer
        assert words in page.text

    def test_what_is_no_table_is_told(self, client_of, erin, shop, work):
        data = b"\0" * 200_000
        client = client_of(erin)
        answer = work(lambda: client.post(PARTS, {"file": SimpleUploadedFile("x.csv", data)}))
        assert "This is no CSV or XLSX file." in client.get(answer.headers["Location"]).text

    def test_charlie_gets_404_and_a_technician_403(self, client_of, erin, charlie, bob, shop):
        at = dt.datetime(2026, 11, 25, tzinfo=dt.UTC)
        run = table_run_ask(shop=shop, kind="parts", name="p.csv", data=b"", actor=erin, at=at)
        assert client_of(charlie).get(f"/tables/runs/{run.pk}/").status_code == 404
        assert client_of(charlie).post(f"/tables/runs/{run.pk}/").status_code == 404
        assert client_of(bob).get(f"/tables/runs/{run.pk}/").status_code == 403


@pytest.fixture
def listed(shop):
    """Return a supplier's part that costs 2.00."""
    wire = Supplier.objects.create(shop=shop, name="Ridgeline")
    facts = {"shop": shop, "kind": "cable", "cost": Decimal(2), "supplier": wire}
    return Part.objects.create(sku="PV10", name="PV wire", supplier_number="RW-10", **facts)


NUMBERS = ("Supplier's number", "Cost to the shop")


class TestPrices:
    def test_a_list_of_a_supplier_changes_what_the_shop_has(self, client_of, erin, listed, work):
        client = client_of(erin)
        rows = [("rw-10", "2.35"), *((f"X{n}", "1") for n in range(MOST_ROWS))]
        where = work(lambda: send(client, PRICES, rows, NUMBERS, "november.csv")).headers["Location"]
        page = client.get(where).text
        assert "<dt>Changed</dt><dd>1</dd>" in page
        assert f"passed over</dt><dd>{MOST_ROWS}</dd>" in page
        work(lambda: client.post(where))
        listed.refresh_from_db()
        assert listed.cost == Decimal("2.35")
        change = PriceChange.objects.get()
        assert (change.old, change.new, change.way, change.why) == (
            Decimal("2.00"), Decimal("2.35"), "import", "Price list november.csv",
        )  # fmt: skip

    @pytest.mark.parametrize(
        ("row", "words"),
        [(("RW-10", "-1"), "Cost to the shop must be 0 to 1,000,000 USD; you typed -1."),
         (("", "1"), "Please give the supplier"), (("RW-10", ""), "required")],
    )  # fmt: skip
    def test_faults_are_named(self, client_of, erin, listed, row, words):
        page = send(client_of(erin), PRICES, [row], NUMBERS)
        assert page.status_code == 422
        assert words in page.text

    def test_one_number_of_two_suppliers_asks_which(self, client_of, erin, shop, listed):
        other = Supplier.objects.create(shop=shop, name="Tarn")
        Part.objects.create(
            shop=shop, sku="T", name="T", kind="cable", supplier=other, supplier_number="RW-10"
        )
        assert "of two suppliers" in send(client_of(erin), PRICES, [("RW-10", "3")], NUMBERS).text
        named = send(client_of(erin), PRICES, [("Tarn", "RW-10", "3")], ("Supplier", *NUMBERS))
        assert "<dt>Changed</dt><dd>1</dd>" in named.text


class TestFiles:
    def test_xlsx_out_and_in_again(self, client_of, erin, shop, listed):
        Part.objects.filter(pk=listed.pk).update(name="=2+3")
        data = client_of(erin).get("/tables/parts/export.xlsx").content
        cells = [cell for row in openpyxl.load_workbook(io.BytesIO(data)).active for cell in row]
        assert all(cell.data_type != "f" for cell in cells)  # no formula
        assert "'=2+3" in {cell.value for cell in cells}
        assert "=2+3" in {text for row in read_table("t.xlsx", data) for text in row}
        answer = client_of(erin).post(PARTS, {"file": SimpleUploadedFile("t.xlsx", data)})
        assert "Everything in this file is stored already" in answer.text

    def test_supplier_and_typed_cable_come_along(self, client_of, erin, shop, listed):
        heads = ("Kind", "Stock code", "Name", "Supplier", "Supplier's number", "Unit", "Cable: Gauge")
        rows = [("cable", "B40", "Battery cable", "ridgeline", "RW-40", "foot", "0000")]
        answer = send(client_of(erin), PARTS, rows, heads)
        assert "<dt>New</dt><dd>1</dd>" in answer.text
        bad = send(client_of(erin), PARTS, [("cable", "B", "B", "Nobody", "1", "ft", "11")], heads)
        assert "No supplier of this name is in the price book." in bad.text
        assert "No cable of gauge “11” in AWG" in bad.text
        taken = send(client_of(erin), PARTS, [("cable", "B", "B", "Ridgeline", "RW-10", "ft", "")], heads)
        assert "Number RW-10 of Ridgeline is that of PV wire, PV10." in taken.text
