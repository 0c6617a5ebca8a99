"""Texts of steps and sentences of the rules, as they are shown: in Spanish, and in the shop's own words."""

from __future__ import annotations

import pytest
from django.utils import translation

from checklists.models import ShopText
from checklists.plan.templates import newest_version
from checklists.texts.edit import TextRefused, shop_text_write
from checklists.texts.says import says, says_of_job
from checklists.texts.sources import safety_texts
from jobs.models import LogEntry
from tests.js import needs_node, run_js
from tests.unit.services.calls import NOW

GLASSES = (
    "Safety glasses on. Know what is behind the hole; 120 V off and proven de-energized. "
    "Hit something? Stop and tell the lead."
)
SENTENCES = [
    "Crimp die: missing",
    "Every lug pulled: counts only from a lead technician or the owner",
    "Hottest joint above the air: outside the band.",
    "Lowest reading: 2 photos missing",
    "G4 Lugs has not passed",
    "nor have I6, I7",
    "Foot 3: holes sealed under: missing",
    "Fuse on every positive: C2 battery to bus: this hold has not passed",
    "Ken Test has not read the safety lines of D",
    "Something a person wrote: with a colon",
    "Does not apply: none aboard",
    "",
]


@pytest.mark.django_db
class TestSays:
    def test_english_is_as_it_is_written(self, shop):
        assert [says(shop)(text) for text in (GLASSES, *SENTENCES)] == [GLASSES, *SENTENCES]

    def test_a_safety_line_is_said_in_spanish(self, shop):
        with translation.override("es"):
            assert says(shop)(GLASSES).startswith("Lentes de seguridad puestos.")

    def test_a_sentence_of_the_rules_is_said_part_by_part(self, shop):
        assert says(shop, "es")("Every lug pulled: missing").endswith(": falta")

    def test_what_a_person_typed_stays(self, shop):
        """“May” is a name here, and a month to the framework's own catalog."""
        assert says(shop, "es")("May") == "May"
        assert says(shop, "es")("May has not read the safety lines of D") == (
            "May no ha leído las líneas de seguridad de D"
        )

    @needs_node
    def test_the_tablet_says_the_same(self, shop):
        told = says_of_job(shop, newest_version())["es"]
        code = """
            import { saidAs } from "./says.js";
            import es from "./catalog/es.js";
            answer(data.sentences.map(saidAs(data.told, es.sentences)));
        """
        found = run_js(code, {"told": told, "sentences": SENTENCES})
        assert found == [says(shop, "es")(text) for text in SENTENCES]
        assert found[SENTENCES.index("Foot 3: holes sealed under: missing")].startswith("Pata 3: ")


@pytest.mark.django_db
class TestShopText:
    def write(self, shop, who, text, source=GLASSES, language="en-us"):
        return shop_text_write(shop=shop, language=language, source=source, text=text, actor=who, at=NOW)

    def test_a_shop_says_it_in_its_own_words(self, shop, alice):
        self.write(shop, alice, "  Glasses on.  \n Always. ")
        assert says(shop)(GLASSES) == "Glasses on. Always."
        assert says_of_job(shop, newest_version())["en-us"] == {GLASSES: "Glasses on. Always."}
        assert says(shop, "es")(GLASSES).startswith("Lentes")
        assert "Glasses on. Always." in LogEntry.objects.get(verb="step text changed").detail

    @pytest.mark.parametrize("back", ["", GLASSES, f" {GLASSES} "])
    def test_it_goes_back_to_ours(self, shop, alice, back):
        self.write(shop, alice, "Glasses on.")
        self.write(shop, alice, back)
        assert not ShopText.objects.exists()
        assert LogEntry.objects.filter(verb="step text put back").count() == 1

    def test_a_quantity_may_not_be_lost(self, shop, alice):
        line = next(text for text in safety_texts(newest_version()) if "‹" in text)
        with pytest.raises(TextRefused, match="Keep these parts"):
            self.write(shop, alice, "Fall protection on.", source=line)

    @pytest.mark.parametrize(("source", "language"), [("No such text", "en-us"), (GLASSES, "xx"), ("", "es")])
    def test_it_refuses_what_is_no_text_of_ours(self, shop, alice, source, language):
        with pytest.raises(TextRefused):
            self.write(shop, alice, "Words", source=source, language=language)

    def test_it_refuses_what_is_too_long(self, shop, alice):
        with pytest.raises(TextRefused, match="600"):
            self.write(shop, alice, "a" * 601)
