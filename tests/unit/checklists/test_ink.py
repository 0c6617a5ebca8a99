"""A signature at a step: stored in one form only, shown in words, drawn of nothing but lines."""

from __future__ import annotations

import base64
from uuid import uuid4

import pytest

from checklists.models import StepEvent
from checklists.record.events import RecordRefused
from checklists.record.read import work_of
from checklists.rules.ink import ink_problem, ink_svg, ink_uri, ink_words
from checklists.sheet.printing import with_sources
from checklists.sheet.words import recorded_rows
from tests.roles import step_of

CUSTODY = "custody"
ANN = {"name": "Ann Reed", "ink": "M10 20L30 40"}


def test_words_and_drawing():
    assert ink_words(ANN) == "signed by Ann Reed"
    assert ink_words({"name": "Ann Reed", "ink": ""}) == "signed by Ann Reed, typed name"
    assert 'd="M10 20L30 40"' in ink_svg(ANN["ink"])
    assert ink_uri("") == ""
    assert ink_svg(base64.b64decode(ink_uri(ANN["ink"]).split(",")[1]).decode()) == ""


@pytest.mark.parametrize("ink", ['M0 0L1 1" onload="x', "M0 0L1 1<script>", "M0 0", "L1 1", "M1001 0L1 1"])
def test_a_drawing_holds_nothing_but_lines(ink):
    assert ink_problem({"name": "Ann", "ink": ink})
    if "1001" not in ink:
        assert ink_svg(ink) == ""


@pytest.fixture
def signed(checklist):
    """Return the custody step, asking for a signature."""
    step = step_of(checklist, CUSTODY)
    step.fields = [{"name": "signed", "kind": "signature", "label": "Signed", "signer": "customer"}]
    step.save()
    return step


@pytest.mark.django_db
def test_a_signature_is_recorded_and_printed(checklist, signed, record):
    one = uuid4()
    record(checklist, CUSTODY, "signed", ANN, id=one)
    again = record(checklist, CUSTODY, "signed", ANN, id=one)
    assert (again.new, again.known) == ((), (one,))
    assert StepEvent.objects.get().value == ANN
    install = work_of(checklist).install
    assert install.mark(install.step(CUSTODY)).is_done
    (row,) = recorded_rows(install, {CUSTODY}, "us")
    assert (row["value"], row["svg"]) == ("signed by Ann Reed", ink_svg(ANN["ink"]))
    content = {"arrival": [row], "built": [], "photos": [], "seals": None, "settings": []}
    shown = with_sources(content | {"one_line_svg": "", "roof_plan_svg": ""}, str)
    assert shown["arrival"][0]["src"] == ink_uri(ANN["ink"])


@pytest.mark.django_db
@pytest.mark.parametrize("value", [True, "Ann Reed", {"name": "Ann Reed"}, {"name": "", "ink": "M1 1L2 2"}])
def test_anything_else_is_no_signature(checklist, signed, record, value):
    with pytest.raises(RecordRefused):
        record(checklist, CUSTODY, "signed", value)
    assert not StepEvent.objects.exists()


@pytest.mark.django_db
def test_the_office_signs_by_typed_name(checklist, signed, bob, client_of):
    """On the step's page the typed name is the signature; what the tablet drew is shown there."""
    client = client_of(bob)
    page = client.get(f"/steps/{signed.pk}/").content.decode()
    assert "Printed name" in page
    form = {"submission": str(uuid4()), "signed": " Ann Reed "}
    client.post(f"/steps/{signed.pk}/record/", form)
    assert StepEvent.objects.get().value == {"name": "Ann Reed", "ink": ""}
    assert "signed by Ann Reed, typed name" in client.get(f"/steps/{signed.pk}/").content.decode()


@pytest.mark.django_db
def test_the_office_sees_what_was_drawn(checklist, signed, record, bob, client_of):
    record(checklist, CUSTODY, "signed", ANN)
    page = client_of(bob).get(f"/steps/{signed.pk}/").content.decode()
    assert ink_uri(ANN["ink"]) in page
