"""Parts, customers and vehicles from a table: a look first, all or nothing, and back as they went out."""

from __future__ import annotations

import csv
import io
import json

import openpyxl
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.forms.models import model_to_dict

from common.sheet_files import MOST_ROWS, csv_bytes, guarded, plain, read_table
from jobs.models import Customer, LogEntry, PanelSheet, Part, Vehicle

PARTS, CUSTOMERS = "/tables/parts/import/", "/tables/customers/import/"
POUND_KG = 0.45359237  # exact, by the international agreement of 1959


def sheet(*rows):
    return csv_bytes(rows)


def look(client, path, data, name="table.csv"):
    return client.post(path, {"file": SimpleUploadedFile(name, data)})


def take(client, path, data, **more):
    return client.post(path, {"rows": json.dumps(read_table("table.csv", data))} | more)


def exported(client, kind):
    return client.get(f"/tables/{kind}/export.csv").content


HEADS = ("Kind", "Stock code", "Name", "Weight (lb)", "Cost to the shop")
GOOD = sheet(HEADS, ("Cable", "W-8", "8 AWG tray cable", "0.2", "1.10"), ("mount", "Z-1", "Z foot", "1", "6"))


class TestParts:
    def test_a_look_stores_nothing_and_a_yes_stores_all(self, client_of, erin, shop):
        client = client_of(erin)
        page = look(client, PARTS, GOOD)
        assert page.status_code == 200
        assert "<dt>New</dt><dd>2</dd>" in page.text
        assert not Part.objects.exists()
        answer = take(client, PARTS, GOOD)
        assert answer.headers["Location"] == "/catalogue/"
        cable = Part.objects.get(sku="W-8")
        assert (cable.shop, cable.kind, str(cable.cost), cable.unit) == (shop, "cable", "1.10", "each")
        assert cable.mass_kg == pytest.approx(0.2 * POUND_KG)  # the shop's pounds
        assert LogEntry.objects.get(verb="parts imported").detail == "2 added, 0 changed"

    def test_one_bad_cell_keeps_all_out_and_is_named(self, client_of, erin):
        data = sheet(HEADS, ("cable", "W-8", "8 AWG", "0.2", "1.10"), ("foot", "Z", "Z", "1", "6"),
                     ("mount", "Z-2", "", "heavy", "6"), ("mount", "w-8", "Twice", "1", "6"))  # fmt: skip
        page = look(client_of(erin), PARTS, data)
        assert page.status_code == 422
        for row, heading, words in (
            (3, "Kind", "Say one of: Panel"), (4, "Name", "required"), (4, "Weight (lb)", "heavy"),
            (5, "Stock code", "stands in row 2 already"),
        ):  # fmt: skip
            lines = [one for one in page.text.split("<tr>") if f">Row {row}</th>" in one]
            assert any(heading in one and words in one for one in lines), (row, heading, words, lines)
        assert take(client_of(erin), PARTS, data).status_code == 422
        assert not Part.objects.exists()

    def test_a_data_sheet_comes_along_and_contradictions_are_told(self, client_of, erin):
        heads = (
            "Kind", "Stock code", "Name", "Panel: Rated power Pmp (W)",
            "Panel: Voltage at maximum power Vmp (V)", "Panel: Current at maximum power Imp (A)",
            "Panel: Open-circuit voltage Voc (V)", "Panel: Short-circuit current Isc (A)",
            "Panel: Length (ft)",
            "Panel: Width (ft)", "Panel: Frame height (ft)",
        )  # fmt: skip
        row = [
            "panel", "P200", "Panel 200", "200", "20.4", "9.8", "24.3", "10.2", "58 11/16 in",
            "26 3/8 in", "35 mm",
        ]  # fmt: skip
        known = {
            one.partition(" (")[0] for one in read_table("t.csv", _template(client_of(erin), "parts"))[0]
        }
        assert {one.partition(" (")[0] for one in heads} <= known
        bad = sheet(heads, [*row[:6], "19", *row[7:]])
        assert "Vmp 20.4 V must be below Voc 19 V" in look(client_of(erin), PARTS, bad).text
        take(client_of(erin), PARTS, sheet(heads, row), sure="1")
        assert Part.objects.get().panel_sheet.length_m == pytest.approx(58.6875 * 0.0254, abs=1e-6)

    def test_unusual_values_are_asked_about(self, client_of, erin):
        data = sheet(HEADS, ("other", "X", "Generator", "900 lb", "1"))  # 408 kg, usual: up to 300 kg
        assert "Unusual values" in look(client_of(erin), PARTS, data).text
        assert take(client_of(erin), PARTS, data).status_code == 422
        assert not Part.objects.exists()
        take(client_of(erin), PARTS, data, sure="1")
        assert Part.objects.get().mass_kg == pytest.approx(900 * POUND_KG)

    def test_what_went_out_comes_back_unchanged(self, client_of, erin, golden_job):
        client, data = client_of(erin), exported(client_of(erin), "parts")
        before = _all(Part), _all(PanelSheet)
        page = look(client, PARTS, data)
        assert "Everything in this file is stored already" in page.text, page.text[-3000:]
        take(client, PARTS, data)
        assert (_all(Part), _all(PanelSheet)) == before
        changed = data.replace(b"Battery monitor with shunt", b"Shunt and monitor")
        assert "<dt>Changed</dt><dd>1</dd>" in look(client, PARTS, changed).text
        take(client, PARTS, changed, sure="1")
        assert Part.objects.get(sku="SHUNT").name == "Shunt and monitor"
        assert [one for one in _all(Part) if one["sku"] != "SHUNT"] == [
            one for one in before[0] if one["sku"] != "SHUNT"
        ]
        assert _all(PanelSheet) == before[1]

    def test_a_part_keeps_its_kind(self, client_of, erin, shop):
        Part.objects.create(shop=shop, sku="W-8", name="Wire", kind="cable")
        page = look(client_of(erin), PARTS, sheet(HEADS, ("mount", "W-8", "Wire", "1", "1")))
        assert "a part keeps its kind" in page.text

    def test_unknown_headings_are_told(self, client_of, erin):
        page = look(client_of(erin), PARTS, sheet(("Kind", "Stock code", "Colour"), ("cable", "W", "red")))
        assert "Unknown heading: “Colour”" in page.text
        assert page.status_code == 422


class TestCustomers:
    HEADS = ("Name", "Phone", "Vehicle: Kind", "Vehicle: License plate", "Vehicle: GVWR (lb)")

    def test_a_customer_with_two_vehicles(self, client_of, erin, shop):
        data = sheet(self.HEADS, ("Ann Reed", "+1 303 555 0100", "Travel trailer", "abc 1", "7,600"),
                     ("Ann Reed", "+1 303 555 0100", "bus", "BUS 2", ""), ("Bo", "303 555 0101", "", "", "")
                     )  # fmt: skip
        page = look(client_of(erin), CUSTOMERS, data)
        assert "<dt>New</dt><dd>4</dd>" in page.text, page.text[-2500:]
        take(client_of(erin), CUSTOMERS, data)
        ann = Customer.objects.get(name="Ann Reed")
        assert (ann.shop, ann.phone, ann.vehicles.count()) == (shop, "+1 303 555 0100", 2)
        trailer = Vehicle.objects.get(plate="ABC 1")
        assert (trailer.kind, trailer.shop) == ("travel_trailer", shop)
        assert trailer.gvwr_kg == pytest.approx(7600 * POUND_KG)
        again = look(client_of(erin), CUSTOMERS, exported(client_of(erin), "customers"))
        assert "Everything in this file is stored already" in again.text

    def test_what_went_out_comes_back_unchanged(self, client_of, erin, golden_job):
        data, before = exported(client_of(erin), "customers"), (_all(Customer), _all(Vehicle))
        assert "Everything in this file is stored already" in look(client_of(erin), CUSTOMERS, data).text
        take(client_of(erin), CUSTOMERS, data)
        assert (_all(Customer), _all(Vehicle)) == before

    def test_faults_name_row_and_column(self, client_of, erin):
        data = sheet(
            self.HEADS, ("Ann", "12", "sailboat", "A", ""), ("", "", "", "", ""), ("Bo", "", "", "", "")
        )
        page = look(client_of(erin), CUSTOMERS, data)
        assert page.status_code == 422
        for words in (
            "7 to 15 digits",
            "Vehicle: Kind",
            "sailboat",
            ">Row 4</th>",
            "phone number or an e-mail",
        ):
            assert words in page.text, words
        assert not Customer.objects.exists()


class TestLists:
    @pytest.mark.parametrize(
        ("path", "kind", "most"),
        [("/catalogue/", "parts", "10,000"), ("/customers/", "customers", "500")],
    )
    def test_the_way_there(self, client_of, erin, bob, path, kind, most):
        way = f'href="/tables/{kind}/import/"'
        assert way in client_of(erin).get(path).text
        assert way not in client_of(bob).get(path).text
        assert f"at most {most} rows" in client_of(erin).get(f"/tables/{kind}/import/").text


class TestWho:
    @pytest.mark.parametrize(
        "path", [PARTS, CUSTOMERS, "/tables/parts/export.csv", "/tables/customers/template.csv"]
    )
    def test_only_the_desk(self, client_of, bob, lena, path):
        for person in (bob, lena):
            assert client_of(person).get(path).status_code == 403

    def test_a_stranger_sees_and_changes_only_their_own(self, client_of, charlie, golden_job):
        assert b"P200" not in exported(client_of(charlie), "parts")
        assert b"Pardee" not in exported(client_of(charlie), "customers")
        before = _all(Part)
        take(client_of(charlie), PARTS, sheet(HEADS, ("panel", "P200", "Theirs", "1", "1")))
        take(client_of(charlie), PARTS, sheet(HEADS, ("other", "SHUNT", "Theirs", "1", "1")))
        assert Part.objects.get(name="Theirs").shop == charlie.membership.shop
        assert [one for one in _all(Part) if one["name"] != "Theirs"] == before

    @pytest.mark.parametrize(
        "path", ["/tables/people/import/", "/tables/people/export.csv", "/tables/parts/all.csv"]
    )
    def test_nothing_else_is_a_table(self, client_of, erin, path):
        assert client_of(erin).get(path).status_code == 404


class TestFiles:
    @pytest.mark.parametrize("text", ["=1+1", "+1 303 555", "-x", "@SUM(A1)", "'=x", "''-y", "\tz"])
    def test_what_a_spreadsheet_would_run_is_text(self, text):
        assert guarded(text) == "'" + text
        assert plain(guarded(text)) == text

    @pytest.mark.parametrize("text", ["-0.28", "12 kg", "O'Neill", "'quoted'", ""])
    def test_the_rest_stays(self, text):
        assert guarded(text) == text == plain(text)

    def test_a_formula_in_xlsx_is_never_worked_out(self, client_of, erin):
        data = _xlsx([HEADS, ("other", "F", "=HYPERLINK(1,2)", 2, 3.5), ("other", "G", "G", "=1+1", 1)])
        page = look(client_of(erin), PARTS, data, "table.xlsx")
        assert "=1+1" in page.text
        assert page.status_code == 422
        rows = read_table("table.xlsx", data)
        assert rows[1] == ["other", "F", "=HYPERLINK(1,2)", "2", "3.5"]
        out = next(csv.reader(io.StringIO(csv_bytes([rows[1]]).decode("utf-8-sig"))))
        assert out[2] == "'=HYPERLINK(1,2)"

    @pytest.mark.parametrize(
        ("data", "words"),
        [
            (b"\x00\x01", "no CSV or XLSX"), (b"PK\x03\x04broken", "cannot be read"),
            (b"Kind,Name\r\n", "below it"),
            (b"Kind\n" + b"other\n" * (MOST_ROWS + 1), f"At most {MOST_ROWS} rows"),
            (b"a,b\n" + b"x" * 3000 + b",y\n", "2000 characters"), (b"x" * (2 * 2**20 + 1), "at most 2 MB"),
        ],
    )  # fmt: skip
    def test_limits_are_named(self, client_of, erin, data, words):
        page = look(client_of(erin), CUSTOMERS, data)  # long tables of parts: test_table_run.py
        assert (page.status_code, words in page.text) == (422, True)

    @pytest.mark.parametrize("rows", ["", "{", "[]", "[[1],[2]]", '["a","b"]', "null", '[["a"]]'])
    def test_a_made_up_answer_is_refused(self, client_of, erin, rows):
        answer = client_of(erin).post(PARTS, {"rows": rows})
        assert (answer.status_code, "choose the file again" in answer.text) == (422, True)

    def test_headings_are_told_apart(self, client_of, erin):
        for kind in ("parts", "customers"):
            heads = read_table("t.csv", _template(client_of(erin), kind))[0]
            assert len(heads) == len(set(heads))
            assert len(heads) > 20


def _template(client, kind):
    return client.get(f"/tables/{kind}/template.csv").content + b"x\r\n"


def _xlsx(rows):
    book = openpyxl.Workbook()
    for row in rows:
        book.active.append(row)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _all(model):
    return [model_to_dict(one) for one in model.objects.order_by("pk")]
