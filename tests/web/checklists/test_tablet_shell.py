"""The roof tablet's shell, worker and manifest, and what it takes along of a job."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from django.contrib.staticfiles import finders
from django.urls import reverse

from jobs.models import Membership
from tests.unit.checklists.conftest import checklist, entry, media, record  # noqa: F401

pytestmark = pytest.mark.django_db


def text_of(name: str) -> str:
    """Return the text of one static file."""
    return Path(finders.find(name)).read_text()


class TestShell:
    def test_it_is_the_same_for_everybody_and_names_nobody(self, client, client_of, lena, shop):
        signed_out = client.get(reverse("checklists:tablet")).content
        signed_in = client_of(lena).get(reverse("checklists:tablet")).content.decode()
        assert signed_in == signed_out.decode()
        assert shop.name not in signed_in
        assert "Lena" not in signed_in

    def test_it_is_in_english_whoever_opens_it_first(self, client, client_of, lena):
        """It is kept for all who share the tablet; the scripts say its words in each person's language."""
        signed_out = client.get(reverse("checklists:tablet")).text
        Membership.objects.filter(user=lena).update(language="es")
        assert client_of(lena).get(reverse("checklists:tablet")).text == signed_out

    def test_the_worker_keeps_the_shell_and_files_that_are_there(self, client):
        answer = client.get(reverse("checklists:tablet_worker"))
        assert answer["Content-Type"].startswith("text/javascript")
        assert answer["Cache-Control"] == "no-cache"
        names = json.loads(re.search(r"new Set\((\[.*?\])\)", answer.content.decode())[1])
        assert all(finders.find(name.removeprefix("/static/")) for name in names)
        assert "/static/js/tablet/main.js" in names
        assert not [name for name in names if "js/signature.js" in name or "workspace" in name]

    def test_the_decoder_is_kept_and_the_policy_of_the_page_allows_no_webassembly(self, client):
        names = json.loads(
            re.search(
                r"new Set\((\[.*?\])\)", client.get(reverse("checklists:tablet_worker")).content.decode()
            )[1]
        )
        assert "/static/vendor/zxing-wasm-3.1.6/zxing_reader.wasm" in names
        page = client.get(reverse("checklists:tablet"))
        assert "script-src 'self'" in page["Content-Security-Policy"]
        assert (
            "eval" not in page["Content-Security-Policy"]
        )  # it is compiled in a worker, by the worker's policy
        assert "scan/worker.js" not in page.content.decode().split("data-urls")[0]  # not loaded beforehand

    def test_the_manifest_names_pictures_that_are_there(self, client):
        data = json.loads(client.get(reverse("checklists:tablet_manifest")).content)
        assert data["start_url"] == reverse("checklists:tablet")
        assert all(finders.find(icon["src"].removeprefix("/static/")) for icon in data["icons"])

    def test_every_module_the_shell_imports_is_kept(self):
        from checklists.tablet.shell import shell_names

        names = set(shell_names())
        for name in [name for name in names if name.startswith("js/tablet/")]:
            for wanted in re.findall(r'(?:from |import\()"(\.{1,2}/[^"]+)"', text_of(name)):
                parts = name.split("/")[:-1]
                for piece in wanted.split("/"):
                    parts = parts[:-1] if piece == ".." else parts if piece == "." else [*parts, piece]
                assert "/".join(parts) in names, f"{name} imports {wanted}"

    def test_every_icon_the_modules_ask_for_is_in_the_shell(self, client):
        from checklists.tablet.shell import ICONS, shell_names

        text = "".join(text_of(name) for name in shell_names() if name.startswith("js/tablet/"))
        assert set(re.findall(r'icon\("([a-z0-9-]+)"\)', text)) <= set(ICONS)


class TestTakeAlong:
    def test_it_works(self, client_of, bob, checklist, record):  # noqa: F811
        record(checklist, "appliances_tried", "tried", True)
        answer = client_of(bob).get(reverse("checklists:take_along", args=[checklist.job_id]))
        assert answer["Cache-Control"].startswith("max-age=0, no-cache, no-store")
        data = answer.json()
        assert [step["pk"] for step in data["steps"]] == list(checklist.steps.values_list("pk", flat=True))
        assert data["plan_svg"].startswith("<svg")
        assert data["one_line_svg"].startswith("<svg")
        feet = {f"panel:{panel['number']}": len(panel["feet"]) for panel in data["roof"]["panels"]}
        assert feet == {f"panel:{name}": each["feet"] for name, each in checklist.facts["panel"].items()}
        assert {row["id"] for row in data["schedule"]} >= {"C1", "C2", "C4"}
        customers = [one["who"] for one in data["contacts"] if one["group"] == "customer"]
        assert customers == [checklist.job.vehicle.customer.name]
        assert all(data["texts"][name] for name in ("care", "cautions", "shut_down"))

    def test_whom_to_call_goes_along_and_a_new_number_is_fetched(self, client_of, bob, alice, checklist):  # noqa: F811
        from checklists.record.missed import stamp
        from jobs.models import Membership, Part

        before = stamp(checklist)
        Membership.objects.filter(user=alice).update(phone="+1 303 555 0181 ext 4")
        panel = checklist.design.panels.first().part
        Part.objects.filter(pk=panel.pk).update(support_phone="+1 800 555 0190")
        assert stamp(checklist) != before
        data = client_of(bob).get(reverse("checklists:take_along", args=[checklist.job_id])).json()
        assert data["emergency"] == "911"  # 47 CFR 9.4: the number of the US
        people = [one for one in data["contacts"] if one["group"] == "people"]
        assert (people[0]["who"], people[0]["phone"]) == ("Alice Test", "+1 303 555 0181 ext 4")
        makers = {one["who"]: one["phone"] for one in data["contacts"] if one["group"] == "makers"}
        assert makers[panel.name] == "+1 800 555 0190"

    def test_no_person_of_another_shop_goes_along(self, client_of, bob, charlie, checklist):  # noqa: F811
        data = client_of(bob).get(reverse("checklists:take_along", args=[checklist.job_id])).json()
        assert charlie.get_full_name() not in {one["who"] for one in data["contacts"]}

    def test_no_cost_and_no_price_goes_along(self, client_of, bob, checklist, odd_costs):  # noqa: F811
        text = client_of(bob).get(reverse("checklists:take_along", args=[checklist.job_id])).content.decode()
        assert not odd_costs(text)
        assert not re.search(r'"(cost|price|total|margin|deposit|unit_price)"', text)

    def test_units_turn_stored_numbers_into_the_shops(self, client_of, bob, checklist):  # noqa: F811
        data = client_of(bob).get(reverse("checklists:take_along", args=[checklist.job_id])).json()
        metre, warm, inch = (data["units"][unit] for unit in ("m", "°C", "mm"))
        assert metre["factor"] == pytest.approx(1 / 0.3048)  # the foot: NIST SP 811, appendix B
        assert (warm["factor"], warm["offset"]) == (pytest.approx(1.8), pytest.approx(32))
        assert inch["factor"] == pytest.approx(1 / 25.4)
        assert inch["is_fraction"]

    def test_it_is_listed_while_the_job_is_in_work(self, client_of, bob, checklist):  # noqa: F811
        url = reverse("checklists:tablet_jobs")
        assert [job["pk"] for job in client_of(bob).get(url).json()["jobs"]] == [checklist.job_id]
        type(checklist.job).objects.filter(pk=checklist.job_id).update(state="released")
        assert client_of(bob).get(url).json()["jobs"] == []

    def test_a_signed_out_tablet_is_told_so(self, client, checklist):  # noqa: F811
        for url in (
            reverse("checklists:tablet_jobs"),
            reverse("checklists:take_along", args=[checklist.job_id]),
        ):
            assert client.get(url).status_code == 401

    def test_it_hides_the_job_from_a_stranger(self, client_of, charlie, checklist):  # noqa: F811
        client = client_of(charlie)
        assert client.get(reverse("checklists:take_along", args=[checklist.job_id])).status_code == 404
        assert client.get(reverse("checklists:tablet_jobs")).json()["jobs"] == []
